"""Why each note has its mark, in sentences that hold for exactly that note."""

from __future__ import annotations

from functools import lru_cache

from phrasing.marking.columns import Columns
from phrasing.marking.marking import AUTHOR, Marking
from phrasing.marking.precedence import WEIGHTS
from phrasing.marking.rules import RULES, Rule, Where
from phrasing.score.marks import MARK_NAMES, UNMARKED
from phrasing.score.melody import Bools, Melody
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

__all__ = ["reasons", "swell_reasons", "where", "why"]

MADE = {
    "marcato": "marcato",
    "accent": "accented",
    "staccato": "staccato",
    "clipped": "clipped",
    "tenuto": "tenuto",
    "stress": "stressed",
    "ghost": "ghosted",
}
"""What each mark makes of a note."""
NOUN = {
    "marcato": "marcato",
    "accent": "accent",
    "staccato": "short note",
    "clipped": "clipped note",
    "tenuto": "tenuto",
    "stress": "stressed note",
    "ghost": "ghost note",
}


def why(melody: Melody, marking: Marking, i: int) -> str | None:
    """Why note ``i`` has its mark; None where no rule applies and the author is silent.

    "ghosted, because the rising line drops a fourth here and goes on up". Names the weaker
    rules that apply too, and what a strong note prepares. A note that a rule would mark but
    that stays plain beside its neighbours gets its sentence as well, and so does a note the
    author marked, with what the rules would have done.
    """
    author = int(marking.rule[i]) == AUTHOR
    if author:
        return _of_author(melody, marking, i) + _links(melody, marking, i)
    if int(marking.mark[i]) != UNMARKED:
        sentence = _by_rules(melody, marking, i)
        return sentence + _weaker(marking, i) + _links(melody, marking, i)
    return _left_plain(melody, marking, i) if int(marking.applied[i]) else None


def reasons(melody: Melody, marking: Marking) -> tuple[str | None, ...]:
    """``why`` for every note."""
    return tuple(why(melody, marking, i) for i in range(len(melody)))


def swell_reasons(melody: Melody, marking: Marking) -> tuple[str, ...]:
    """A sentence for each swell: where it is, and why."""
    return tuple(_swell_reason(melody, s.first, s.last) for s in marking.swells)


def _swell_reason(melody: Melody, first: int, last: int) -> str:
    bars = [bar_name(melody.bars[int(melody.bar_index[i])]) for i in (first, last)]
    start, end = beat_name(melody, first), beat_name(melody, last)
    until = end if bars[0] == bars[1] else f"{bars[1]}, {end}"
    falls = interval(int(melody.pitch[first] - melody.pitch[last]))
    return (
        f"{bars[0]}, {start} to {until}: decrescendo, because {number(last - first + 1)} notes "
        f"fall {falls} in one direction"
    )


@lru_cache(maxsize=1)
def _columns(melody: Melody) -> Columns:
    """The columns of the melody that is being explained."""
    return Columns(melody)


@lru_cache(maxsize=4)
def _holds(condition: Where, melody: Melody) -> Bools:
    """Where a condition of the rules holds."""
    return condition(_columns(melody))


def _rules_of(marking: Marking, i: int) -> list[Rule]:
    """The rules that apply to note ``i``, the strongest first."""
    applied = int(marking.applied[i])
    return [rule for bit, rule in enumerate(RULES) if applied >> bit & 1]


def _by_rules(melody: Melody, marking: Marking, i: int) -> str:
    """What the rules make of the note, and the strongest one's reason."""
    mark = MARK_NAMES[int(marking.by_rules[i])]
    reason = _reason(melody, marking, i, _rules_of(marking, i)[0], mark)
    return f"{MADE[mark]}, because {reason}"


def _reason(melody: Melody, marking: Marking, i: int, rule: Rule, mark: str) -> str:
    variant = rule.variant
    sentence = variant.reason if variant and variant.mark == mark else rule.reason
    c = _columns(melody)
    blanks = {
        "this": name_at(melody, i),
        "interval_in": interval(int(c.interval_in[i])),
        "interval_out": interval(int(c.interval_out[i])),
        "length": length_name(int(melody.length[i])),
        "silence": "nothing" if i == len(melody) - 1 else "a rest",
        "before": name_at(melody, i - 1) if i else "",
        "after": name_at(melody, i + 1) if i + 1 < len(melody) else "",
        "arrival": _strong_note(melody, marking, i + 1, i),
    }
    return sentence.format(**blanks)


def _strong_note(melody: Melody, marking: Marking, i: int, seen_from: int) -> str:
    """The note by its mark and place: "accent on the and of 3"."""
    if i >= len(melody):
        return ""
    mark = int(marking.mark[i])
    noun = "note" if mark == UNMARKED else NOUN[MARK_NAMES[mark]]
    return f"{noun} {on_place(melody, i, seen_from)}"


def _weaker(marking: Marking, i: int) -> str:
    names = [rule.name for rule in _rules_of(marking, i)[1:]]
    if not names:
        return ""
    verb = "applies" if len(names) == 1 else "apply"
    listed = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    return f"; {listed} {verb} as well"


def _links(melody: Melody, marking: Marking, i: int) -> str:
    prepares = marking.link_rows[marking.link_rows[:, 0] == i, 1].tolist()
    prepared = marking.link_rows[marking.link_rows[:, 1] == i, 0].tolist()
    clauses = [f"; it prepares the {_strong_note(melody, marking, k, i)}" for k in prepares]
    clauses += [f"; the {_strong_note(melody, marking, k, i)} prepares it" for k in prepared]
    return "".join(clauses)


def _of_author(melody: Melody, marking: Marking, i: int) -> str:
    mark, ruled = int(marking.mark[i]), int(marking.by_rules[i])
    made = "unmarked" if mark == UNMARKED else MADE[MARK_NAMES[mark]]
    if ruled == UNMARKED:
        rest = "and the rules agree" if mark == UNMARKED else "the rules would leave it plain"
    elif ruled == mark:
        reason = _by_rules(melody, marking, i).partition("because ")[2]
        rest = f"and the rules agree, because {reason}"
    else:
        rest = f"the rules would have it {_by_rules(melody, marking, i)}"
    return f"{made}, as the author wants; {rest}"


def _left_plain(melody: Melody, marking: Marking, i: int) -> str:
    """Why a note that a rule would mark stays plain."""
    rule = _rules_of(marking, i)[0]
    variant = rule.variant
    takes = variant is not None and bool(_holds(variant.where, melody)[i])
    mark = variant.mark if variant and takes else rule.mark
    alone = f"it would be {MADE[mark]}, because {_reason(melody, marking, i, rule, mark)}"
    beside = next((k for k in (i - 1, i + 1) if _outweighs(marking, k)), None)
    if beside is None:
        return f"plain, as its neighbours were weighed before the author marked them; {alone}"
    stronger = f"{MADE[MARK_NAMES[int(marking.mark[beside])]]} {name_at(melody, beside)}"
    return f"plain beside the {stronger}; alone {alone}"


def _outweighs(marking: Marking, k: int) -> bool:
    """Whether note ``k`` has a mark that its neighbours yield to."""
    return 0 <= k < len(marking) and int(marking.mark[k]) in WEIGHTS
