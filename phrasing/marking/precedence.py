"""From a melody to its marking: which of the rules that apply to a note prevails.

The order of ``RULES`` decides, then the phrase as a whole (``balance``); the author's marks win
over both.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.feel import Detached
from phrasing.marking import lines
from phrasing.marking.balance import Verdict, balanced, growing, held_by_share, wedges
from phrasing.marking.columns import Columns
from phrasing.marking.marking import AUTHOR, NO_RULE, Cause, Marking
from phrasing.marking.ownlines import with_authors
from phrasing.marking.ownsounds import OwnSound, own_column
from phrasing.marking.phrases import phrase_lasts, phrase_starts
from phrasing.marking.readings import NONE, of_choice, second_reading
from phrasing.marking.rules import RULES
from phrasing.score.marks import CODE, MARK_NAMES, STRONG, UNMARKED, code_of
from phrasing.score.melody import Melody
from phrasing.score.meters import Bools, Ints
from phrasing.style import Style, by_section, chosen

RULE_NAMES: tuple[str, ...] = tuple(
    [rule.name for rule in RULES] + [rule.name for rule in lines.LINE_RULES]
)
"""Every rule that can be left out, the strongest first."""


def mark(
    melody: Melody,
    *,
    style: Style | None = None,
    leave_out: Collection[str] = (),
    author: Mapping[int, str | None] | None = None,
    shown: Mapping[int, str | None] | None = None,
    second: bool | str = False,
    detached: Detached | None = None,
    own: Mapping[int, OwnSound] = MappingProxyType({}),
) -> Marking:
    """Mark a melody by the rules, and by what its author wants.

    ``style``: what it starts in (otherwise as ``style.chosen`` finds); where its author asks
    for another on the way, that one holds from there. ``leave_out``: names of rules
    (``RULE_NAMES``) that are to do nothing. ``author``: marks by note index, as read from an
    edited marks table; None is a note that wants no mark. They win over ``melody.marks``, the
    marks in the score, and both over every rule. ``shown``: marks by note index that are to be
    as a table shows them; they are the author's only where the rules say otherwise.
    ``second``: the second reading where schooled players differ (see ``readings``), everywhere
    or, by its name, of one choice. ``detached``: which quarters on the beat are (all of them,
    unless by share). ``own``: what the teacher wants of the sound of single notes.

    Raises ``PhrasingError`` for an unknown rule, mark or note.

    Example::

        marking = mark(melody, leave_out=["dip"], author={12: "ghost"})

    >>> from phrasing.score.marks import MARK_NAMES
    >>> marking = mark(melody("C5:2 D5:2 E5:4"), author={1: "ghost"})
    >>> [MARK_NAMES[code] for code in marking.mark if code >= 0]
    ['marcato', 'ghost']
    """
    first = style or chosen(melody).style
    wishes = _Wishes(
        checked_rules(leave_out),
        _checked_marks(author or {}, melody, "The marks table"),
        _checked_marks(shown or {}, melody, "The marks table"),
        second,
        detached,
        own,
    )
    marking = _marked(melody, first, wishes)
    sections = by_section(melody, first)
    for other in dict.fromkeys(each for _, each in sections if each is not first):
        marking = marking.over(
            _marked(melody, other, wishes), _in_style(melody, sections, other)
        )
    return marking


@dataclass(frozen=True)
class _Wishes:
    """What is asked of the marking, checked: see ``mark``."""

    left_out: tuple[str, ...]
    edited: dict[int, int]
    shown: dict[int, int]
    second: bool | str
    detached: Detached | None
    own: Mapping[int, OwnSound]


def _in_style(melody: Melody, sections: Sequence[tuple[int, Style]], style: Style) -> Bools:
    """The notes that start where this style holds."""
    starts = np.array([onset for onset, _ in sections], dtype=np.int64)
    holds = np.array([each is style for _, each in sections])
    return holds[np.searchsorted(starts, melody.onset, "right") - 1]


def _marked(melody: Melody, style: Style, wishes: _Wishes) -> Marking:
    """The melody marked as if it were in one style throughout."""
    left_out, second, detached = wishes.left_out, wishes.second, wishes.detached
    scored = _checked_marks(melody.marks, melody, "The score")
    c = Columns(melody, style)
    line = lines.found(c, left_out)
    by_rules, applied = _by_rules(c, left_out)
    verdict = balanced(c, by_rules, line["descending-run"])
    ruled = verdict.mark
    if scored:
        verdict = balanced(c, _written_over(by_rules, scored), line["descending-run"])
    if detached and detached.by_share:
        verdict = held_by_share(c, verdict, detached)
    reading, other = second_reading(c, verdict.mark, verdict.rule)
    if second:
        asked = reading if second is True else of_choice(reading, second)
        verdict = _other(verdict, asked, other)
    verdict = _written_over(verdict, _differing(verdict, wishes.shown) | wishes.edited)
    authors = verdict.rule == AUTHOR
    return Marking(
        mark=verdict.mark,
        rule=verdict.rule,
        by_rules=np.where(authors, ruled, verdict.mark),
        applied=applied,
        cause=np.where(authors, Cause.RULE, verdict.cause),
        model=verdict.model,
        reading=np.where(authors, NONE, reading),
        other=np.where(authors, verdict.mark, other),
        joined=lines.joined(c, verdict.mark, "line-flow" not in left_out),
        flow=line["line-flow"],
        repeated=line["repeated-note"],
        tongued=line["tongued-gap"],
        own_level=own_column(wishes.own, "level", len(c)),
        own_gate=own_column(wishes.own, "gate", len(c)),
        swell_rows=with_authors(wedges(line["descending-run"], verdict.mark), melody),
        link_rows=_links(c, verdict.mark, left_out),
        phrase_rows=_phrases(c, line["phrase-arch"], line["pickup"]),
        growing_rows=growing(c, verdict.mark),
        left_out=left_out,
        style=c.style,
    )


def checked_rules(names: Collection[str]) -> tuple[str, ...]:
    """The rules of these names in order of strength; ``PhrasingError`` if one is unknown.

    >>> checked_rules(["leap-up", "dip"])
    ('dip', 'leap-up')
    """
    for name in names:
        if name not in RULE_NAMES:
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
    return {i: code_of(name) for i, name in marks.items()}


def _by_rules(c: Columns, left_out: Collection[str]) -> tuple[Verdict, Ints]:
    """What the strongest rule says of each note, and a bit for each rule that applies."""
    mark = np.full(len(c), UNMARKED, dtype=np.int64)
    rule = np.full(len(c), NO_RULE, dtype=np.int64)
    applied = np.zeros(len(c), dtype=np.int64)
    for bit in reversed(range(len(RULES))):
        if RULES[bit].name in left_out:
            continue
        given = c.find(RULES[bit].marks)
        applies = given != UNMARKED
        applied |= applies.astype(np.int64) << bit
        rule[applies], mark[applies] = bit, given[applies]
    cause = np.full(len(c), Cause.RULE, dtype=np.int64)
    return Verdict(mark, rule, cause, np.arange(len(c))), applied


def _differing(verdict: Verdict, shown: Mapping[int, int]) -> dict[int, int]:
    """Those of the marks shown that the rules say otherwise."""
    return {i: code for i, code in shown.items() if verdict.mark[i] != code}


def _written_over(verdict: Verdict, author: Mapping[int, int]) -> Verdict:
    mark, rule = verdict.mark.copy(), verdict.rule.copy()
    where = np.fromiter(author.keys(), np.int64, len(author))
    mark[where] = np.fromiter(author.values(), np.int64, len(author))
    rule[where] = AUTHOR
    return Verdict(mark, rule, verdict.cause, verdict.model)


def _other(verdict: Verdict, reading: Ints, other: Ints) -> Verdict:
    """The second reading of what schooled players do in two ways."""
    differs = reading != NONE
    cause = np.where(differs, Cause.OTHER, verdict.cause)
    return Verdict(np.where(differs, other, verdict.mark), verdict.rule, cause, verdict.model)


def _links(c: Columns, mark: Ints, left_out: Collection[str]) -> Ints:
    """Rows of (preparation, arrival), where both are strong as it turned out."""
    rows = lines.parted_links(c)
    if "syncopated-pair" not in left_out:
        rows = np.concatenate([rows, lines.syncopated_links(c)])
    rows = rows[np.isin(mark[rows], STRONG).all(axis=1)]
    return rows[np.lexsort(rows.T[::-1])]


def _phrases(c: Columns, peak: Ints, pickup: Ints) -> Ints:
    """Rows of (first, last, peak, pickup)."""
    return np.stack([c.find(phrase_starts), c.find(phrase_lasts), peak, pickup], axis=1)
