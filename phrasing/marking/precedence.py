"""From a melody to its marking: which of the rules that apply to a note prevails.

The order of ``RULES`` decides; the author's marks win over every rule.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.marking import rules
from phrasing.marking.columns import EIGHTH, Columns, after
from phrasing.marking.marking import AUTHOR, NO_RULE, Marking
from phrasing.marking.rules import RULES
from phrasing.score.marks import CODE, MARK_NAMES, UNMARKED
from phrasing.score.melody import Bools, Ints, Melody
from phrasing.style import Style, chosen

RULE_NAMES: tuple[str, ...] = tuple(
    [rule.name for rule in RULES] + [rule.name for rule in rules.LINE_RULES]
)
"""Every rule that can be left out, the strongest first."""
WEIGHTS = (CODE["stress"], CODE["tenuto"])
HELD = (CODE["accent"], CODE["marcato"])
DETACHED = (CODE["marcato"], CODE["staccato"], CODE["clipped"])


def mark(
    melody: Melody,
    *,
    style: Style | None = None,
    leave_out: Collection[str] = (),
    author: Mapping[int, str | None] | None = None,
) -> Marking:
    """Mark a melody by the rules, and by what its author wants.

    ``style``: what it is played in (otherwise as ``style.chosen`` finds). ``leave_out``: names
    of rules (``RULE_NAMES``) that are to do nothing. ``author``: marks by note index, as read
    from an edited marks table; None is a note that wants no mark. They win over
    ``melody.marks``, the marks in the score, and both over every rule.

    Raises ``PhrasingError`` for an unknown rule, mark or note.

    Example::

        marking = mark(melody, leave_out=["dip"], author={12: "ghost"})
    """
    left_out = checked_rules(leave_out)
    edited = _checked_marks(author or {}, melody, "The marks table")
    scored = _checked_marks(melody.marks, melody, "The score")
    c = Columns(melody)
    line = rules.found(c, left_out)
    applied = _applied(c, left_out)
    verdict = _verdict(c, applied, {})
    mark, rule = _verdict(c, applied, scored) if scored else verdict
    mark, rule = _written_over(mark, rule, edited)
    return Marking(
        mark=mark,
        rule=rule,
        by_rules=np.where(rule == AUTHOR, verdict[0], mark),
        applied=applied,
        joined=_joined(c, mark, line["line-flow"]),
        flow=line["line-flow"],
        repeated=line["repeated-note"],
        swell_rows=line["descending-run"],
        link_rows=_links(c, mark, left_out),
        phrase_rows=_phrases(c, line["phrase-arch"], line["pickup"]),
        left_out=left_out,
        style=style or chosen(melody).style,
    )


def checked_rules(names: Collection[str]) -> tuple[str, ...]:
    """The rules of these names in order of strength; ``PhrasingError`` if one is unknown."""
    for name in names:
        if name not in RULE_NAMES:
            import difflib

            near = difflib.get_close_matches(name, RULE_NAMES, 1)
            guess = f" Did you mean “{near[0]}”?" if near else ""
            raise PhrasingError(
                f"There is no rule “{name}”.{guess} The rules are {', '.join(RULE_NAMES)}."
            )
    return tuple(name for name in RULE_NAMES if name in names)


def _checked_marks(
    marks: Mapping[int, str | None], melody: Melody, source: str
) -> dict[int, int]:
    """The author's marks as codes by note index."""
    for index, name in marks.items():
        if not 0 <= index < len(melody):
            raise PhrasingError(
                f"{source}: there is no note {index + 1}; the melody has {len(melody)} notes."
            )
        if name is not None and name not in CODE:
            known = ", ".join(MARK_NAMES)
            raise PhrasingError(
                f"{source}, note {index + 1}: there is no mark “{name}”; the marks are {known}."
            )
    return {i: UNMARKED if name is None else CODE[name] for i, name in marks.items()}


def _applied(c: Columns, left_out: Collection[str]) -> Ints:
    """For each note, a bit for each rule that applies."""
    applied = np.zeros(len(c), dtype=np.int64)
    for bit, rule in enumerate(RULES):
        if rule.name not in left_out:
            applied |= rule.applies(c).astype(np.int64) << bit
    return applied


def _verdict(c: Columns, applied: Ints, author: Mapping[int, int]) -> tuple[Ints, Ints]:
    """The mark and the rule that prevail at each note, among its neighbours' too."""
    mark, rule = _strongest(c, applied)
    mark, rule = _written_over(mark, rule, author)
    weighs = np.isin(mark, WEIGHTS) & (c.length <= EIGHTH)
    yields = weighs & ~_kept_weights(c, weighs, rule)
    return np.where(yields, UNMARKED, mark), np.where(yields, NO_RULE, rule)


def _strongest(c: Columns, applied: Ints) -> tuple[Ints, Ints]:
    mark = np.full(len(c), UNMARKED, dtype=np.int64)
    rule = np.full(len(c), NO_RULE, dtype=np.int64)
    for bit in reversed(range(len(RULES))):
        applies = (applied & (1 << bit)) != 0
        rule[applies] = bit
        mark[applies] = CODE[RULES[bit].mark]
        variant = RULES[bit].variant
        if variant:
            mark[applies & variant.where(c)] = CODE[variant.mark]
    return mark, rule


def _written_over(mark: Ints, rule: Ints, author: Mapping[int, int]) -> tuple[Ints, Ints]:
    mark, rule = mark.copy(), rule.copy()
    where = np.fromiter(author.keys(), np.int64, len(author))
    mark[where] = np.fromiter(author.values(), np.int64, len(author))
    rule[where] = AUTHOR
    return mark, rule


def _kept_weights(c: Columns, weighs: Bools, rule: Ints) -> Bools:
    """Of short notes that have stress or tenuto, those that keep it beside each other.

    The stronger rule keeps its mark, of two equal ones the higher note; the author's marks
    all stay. Notes are neighbours over a rest too. The best of a chain is settled first, so
    that it silences its neighbours only. The trade says this of eighths; it holds for
    shorter notes all the more.
    """
    order = np.where(rule == AUTHOR, 0, (rule + 1) * 128 - c.pitch)
    keeps = weighs.copy()
    while True:
        pairs = np.flatnonzero(keeps & after(keeps))
        pairs = pairs[(order[pairs] != 0) | (order[pairs + 1] != 0)]
        if not len(pairs):
            return keeps
        second = order[pairs + 1] < order[pairs]
        better, weaker = pairs + second, pairs + ~second
        unbeaten = ~np.isin(better, weaker)
        keeps[weaker[unbeaten]] = False


def _joined(c: Columns, mark: Ints, flow: Bools) -> Bools:
    """What is slurred into the next note: as the author wrote, elsewhere as the line flows.

    Nothing is slurred from a short mark, nor into a note that wants a hard tongue.
    """
    tongued = after(np.isin(mark, HELD), 0)
    flowing = flow & rules.slurred_on(c) & ~tongued
    joined = np.where(c.near_author_slur, c.author_slurred, flowing)
    return joined & ~np.isin(mark, DETACHED)


def _links(c: Columns, mark: Ints, left_out: Collection[str]) -> Ints:
    """Rows of (preparation, arrival), where both are strong as it turned out."""
    rows = rules.parted_links(c)
    if "syncopated-pair" not in left_out:
        rows = np.concatenate([rows, rules.syncopated_links(c)])
    rows = rows[np.isin(mark[rows], HELD).all(axis=1)]
    return rows[np.lexsort(rows.T[::-1])]


def _phrases(c: Columns, peak: Ints, pickup: Ints) -> Ints:
    """Rows of (first, last, peak, pickup)."""
    last = c.phrase_starts + c.phrase_sizes - 1
    return np.stack([c.phrase_starts, last, peak, pickup], axis=1)
