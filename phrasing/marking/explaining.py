"""Why each note has its mark, in sentences to say to a student.

Each holds for exactly that note: what the strongest rule says, what else is true of the note,
what the phrase as a whole made of it, and what it prepares.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from phrasing.marking.columns import Columns
from phrasing.marking.marking import AUTHOR, Cause, Marking
from phrasing.marking.ownsounds import own_words
from phrasing.marking.readings import READINGS
from phrasing.marking.rules import RULES, Rule, Where, enclosing
from phrasing.score.marks import CODE, MARKS, UNMARKED, WEIGHTS, Mark
from phrasing.score.melody import Melody
from phrasing.score.meters import Bools, Ints
from phrasing.score.words import (
    bar_name,
    beat_name,
    interval,
    length_name,
    name_at,
    number,
    on_place,
    where,
)
from phrasing.style import Style

__all__ = ["reasons", "swell_reasons", "trade_offs", "where", "why"]


def why(melody: Melody, marking: Marking, i: int) -> str | None:
    """Why note ``i`` has its mark; None where no rule applies and the author is silent.

    "ghosted, because the rising line drops a fourth here and goes on up". Says what else is
    true of the note, and what a strong note prepares. A note that a rule would mark but that
    the phrase as a whole leaves plain gets its sentence too, and so does a note the author
    marked, with what is usual. What the teacher wants of its sound is said last.

    >>> from phrasing.marking.precedence import mark
    >>> tune = melody("C5:2 D5:2")
    >>> why(tune, mark(tune), 0)
    'marcato, because a quarter on the beat is usually played short with a firm start'
    """
    wanted = own_words(float(marking.own_level[i]), float(marking.own_gate[i]))
    of_sound = f"{wanted}, set by hand" if wanted else None
    return "; ".join(filter(None, [_of_mark(melody, marking, i), of_sound])) or None


def _of_mark(melody: Melody, marking: Marking, i: int) -> str | None:
    """Why it has its mark, or has none; None where there is nothing to say."""
    if int(marking.rule[i]) == AUTHOR:
        return _of_author(melody, marking, i) + _links(melody, marking, i)
    cause = Cause(int(marking.cause[i]))
    if cause == Cause.OTHER:
        return _of_second_reading(marking, i)
    if int(marking.mark[i]) == UNMARKED:
        return _left_plain(melody, marking, i, cause)
    if cause == Cause.ALIKE:
        return f"{_mark_of(marking, i).made}, {_alike(melody, marking, i)}"
    sentence = _by_rules(melody, marking, i) + _also(marking, i)
    return sentence + _links(melody, marking, i) + _growing(marking, i)


def reasons(melody: Melody, marking: Marking) -> tuple[str | None, ...]:
    """``why`` for every note.

    >>> from phrasing.marking.precedence import mark
    >>> tune = melody("r:1 C5:2 r:1")
    >>> reasons(tune, mark(tune))
    ('accented, because a quarter off the beat is usually accented and sustained',)
    """
    return tuple(why(melody, marking, i) for i in range(len(melody)))


def swell_reasons(melody: Melody, marking: Marking) -> tuple[str, ...]:
    """A sentence for each swell: where it is, and why.

    >>> from phrasing.marking.precedence import mark
    >>> tune = melody("C6:1 B5:1 A5:1 G5:1 F5:1 E5:1 D5:1 r:1")
    >>> swell_reasons(tune, mark(tune))[0][:33]
    'bar 1, beat 1 to and of 3: get so'
    """
    return tuple(_swell_reason(melody, s.first, s.last) for s in marking.swells)


def _swell_reason(melody: Melody, first: int, last: int) -> str:
    bars = [bar_name(melody.bars[int(melody.bar_index[i])]) for i in (first, last)]
    start, end = beat_name(melody, first), beat_name(melody, last)
    until = end if bars[0] == bars[1] else f"{bars[1]}, {end}"
    if (first, last) in melody.wedges:
        return f"{bars[0]}, {start} to {until}: get softer here, as the author asks"
    falls = interval(int(melody.pitch[first] - melody.pitch[last]))
    return (
        f"{bars[0]}, {start} to {until}: get softer down this run, {number(last - first + 1)} "
        f"notes that fall {falls}"
    )


def trade_offs(melody: Melody, marking: Marking) -> tuple[str, ...]:
    """A sentence for each way in which schooled players differ: where, and what it gains.

    >>> from phrasing.marking.precedence import mark
    >>> tune = melody("C5:1 D5:2 E5:2 r:3")
    >>> [said.partition(":")[0] for said in trade_offs(tune, mark(tune))]
    ['both held (bar 1, and of 1, D5)']
    """
    said = []
    for index, reading in enumerate(READINGS):
        notes = np.flatnonzero((marking.reading == index) & (marking.other != UNMARKED))
        if len(notes):
            places = _listed([where(melody, i) for i in notes.tolist()])
            said.append(f"{reading.name} ({places}): {reading.trade_off}")
    return tuple(said)


# What the rules say


@lru_cache(maxsize=4)
def _columns(melody: Melody, style: Style) -> Columns:
    """The columns of the melody that is being explained."""
    return Columns(melody, style)


def _holds(condition: Where, melody: Melody, style: Style) -> Bools:
    """Where a condition of the rules holds."""
    return _columns(melody, style).find(condition)


def _mark_of(marking: Marking, i: int) -> Mark:
    return MARKS[int(marking.mark[i])]


def _rules_of(marking: Marking, i: int) -> list[Rule]:
    """The rules that apply to note ``i``, the strongest first."""
    applied = int(marking.applied[i])
    return [rule for bit, rule in enumerate(RULES) if applied >> bit & 1]


def _by_rules(melody: Melody, marking: Marking, i: int) -> str:
    """What the strongest rule makes of the note, and its reason."""
    rule = _rules_of(marking, i)[0]
    mark = MARKS[int(_given(rule, melody, marking.style_at(i))[i])]
    return f"{mark.made}, because {_reason(melody, marking, i, rule, mark)}"


@lru_cache(maxsize=32)
def _given_by(name: str, melody: Melody, style: Style) -> Ints:
    rule = next(rule for rule in RULES if rule.name == name)
    return rule.marks(_columns(melody, style))


def _given(rule: Rule, melody: Melody, style: Style) -> Ints:
    """The mark (its code) that a rule gives to each note."""
    return _given_by(rule.name, melody, style)


def _reason(melody: Melody, marking: Marking, i: int, rule: Rule, mark: Mark) -> str:
    sentence = rule.reason
    for case in rule.cases:
        if _holds(case.where, melody, marking.style_at(i))[i]:
            sentence = case.reason
    c = _columns(melody, marking.style_at(i))
    count = int(c.find(enclosing)[i])
    blanks = {
        "value": length_name(int(melody.length[i])),
        "manner": mark.manner,
        "interval_in": interval(int(c.interval_in[i])),
        "interval_out": interval(int(c.interval_out[i])),
        "silence": "nothing" if i == len(melody) - 1 else "a rest",
        "approach": _listed([name_at(melody, k) for k in range(i - count + 1, i + 1)]),
        "target": name_at(melody, i + 1) if i + 1 < len(melody) else "",
        "arrival": _strong_note(melody, marking, i + 1, i),
    }
    return sentence.format(**blanks)


def _listed(names: list[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _strong_note(melody: Melody, marking: Marking, i: int, seen_from: int) -> str:
    """The note by its mark and place: "accent on the and of 3"."""
    if i >= len(melody):
        return ""
    noun = "note" if int(marking.mark[i]) == UNMARKED else _mark_of(marking, i).noun
    return f"{noun} {on_place(melody, i, seen_from)}"


def _also(marking: Marking, i: int) -> str:
    """What else is true of the note: "; also the top of the phrase"."""
    others = [rule.also for rule in _rules_of(marking, i)[1:] if rule.also]
    return f"; also {_listed(others)}" if others else ""


def _links(melody: Melody, marking: Marking, i: int) -> str:
    prepares = marking.link_rows[marking.link_rows[:, 0] == i, 1].tolist()
    prepared = marking.link_rows[marking.link_rows[:, 1] == i, 0].tolist()
    clauses = [f"; it prepares the {_strong_note(melody, marking, k, i)}" for k in prepares]
    clauses += [f"; the {_strong_note(melody, marking, k, i)} prepares it" for k in prepared]
    return "".join(clauses)


def _growing(marking: Marking, i: int) -> str:
    last = marking.growing_rows[marking.growing_rows[:, 0] == i, 1].tolist()
    if not last:
        return ""
    return f"; each of these {number(last[0] - i + 1)} is a little stronger than the one before"


# What the author and the phrase as a whole say


def _of_author(melody: Melody, marking: Marking, i: int) -> str:
    mark, ruled = int(marking.mark[i]), int(marking.by_rules[i])
    made = "plain" if mark == UNMARKED else MARKS[mark].made
    scored = melody.marks.get(i)
    written = scored is not None and CODE.get(scored) == mark
    whose = "as the score has it" if written else "marked by hand"
    if ruled == mark:
        usual = "usual here too"
    elif ruled == UNMARKED:
        usual = "it would usually have no mark"
    else:
        usual = f"the usual mark would be {MARKS[ruled].name}"
    return f"{made}, {whose}; {usual}"


def _of_second_reading(marking: Marking, i: int) -> str:
    mark = int(marking.mark[i])
    made = "plain" if mark == UNMARKED else MARKS[mark].made
    reading = READINGS[int(marking.reading[i])]
    return f"{made}, as in the second reading ({reading.name}): {reading.trade_off}"


def _alike(melody: Melody, marking: Marking, i: int) -> str:
    model = int(marking.model[i])
    return f"like the same place of this figure {on_place(melody, model, i)}"


def _left_plain(melody: Melody, marking: Marking, i: int, cause: Cause) -> str | None:
    """Why a note that a rule would mark stays plain."""
    rules = _rules_of(marking, i)
    if not rules:
        return None
    mark = MARKS[int(_given(rules[0], melody, marking.style_at(i))[i])]
    alone = f"{mark.made}, because {_reason(melody, marking, i, rules[0], mark)}"
    return f"plain {_cause(melody, marking, i, cause)}; alone it would be {alone}"


def _cause(melody: Melody, marking: Marking, i: int, cause: Cause) -> str:
    model = int(marking.model[i])
    if cause == Cause.ALIKE:
        return _alike(melody, marking, i)
    if cause == Cause.APPROACH:
        return f"as {name_at(melody, model)} has the weight of this approach"
    if cause == Cause.HELD:
        return "and held, as recorded soloists hold many a quarter here"
    if cause == Cause.SOFTER:
        return "as the line gets softer here"
    if cause == Cause.BESIDE and int(marking.mark[model]) in WEIGHTS:
        beside = f"{_mark_of(marking, model).made} {name_at(melody, model)}"
        return f"beside the {beside}, as only one of two neighbours stands out"
    return "as enough notes around it stand out"
