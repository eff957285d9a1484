"""The measures of a part: what stands in them, in its place, and how long it lasts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lxml import etree


ZERO = Fraction(0)
SIMPLEST = 24
"""Parts of a quarter that a rounded step back or on is taken to mean."""

NOTE_VALUES = {
    "maxima": Fraction(32),
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    **{name: Fraction(4, int(name[:-2])) for name in ("16th", "64th", "128th", "256th")},
    "32nd": Fraction(1, 8),
    "512th": Fraction(1, 128),
    "1024th": Fraction(1, 256),
}
"""Quarter notes in each of MusicXML's note types."""

_PLACED_BY_OFFSET = ("direction", "harmony", "sound")


@dataclass(frozen=True)
class Placed:
    """A child of a measure, the place where it stands, and how long it lasts."""

    element: etree._Element
    at: Fraction
    length: Fraction = ZERO


@dataclass(frozen=True)
class PartBar:
    """One measure of one part; ``divisions``: those in force at its start.

    What stands in it is put in its place when it is first asked for.
    """

    element: etree._Element
    divisions: Fraction

    @property
    def placed(self) -> tuple[Placed, ...]:
        """Its children in their places, in document order."""
        return self._content[0]

    @property
    def reached(self) -> Fraction:
        """How far they reach, in quarter notes."""
        return self._content[1]

    @cached_property
    def _content(self) -> tuple[tuple[Placed, ...], Fraction]:
        return _placed(self.element, self.divisions)

    def has(self, *tags: str) -> bool:
        """Whether it has a child of one of these tags."""
        return next(self.element.iterchildren(*tags), None) is not None

    def all(self, *tags: str) -> Iterator[Placed]:
        """The children of these tags, in document order."""
        found = self.placed if self.has(*tags) else ()
        return (placed for placed in found if placed.element.tag in tags)


def part_bars(part: etree._Element) -> list[PartBar]:
    """The measures of a part, each with the divisions it begins with.

    >>> from lxml import etree
    >>> len(part_bars(etree.fromstring("<part><measure/><measure/></part>")))
    2
    """
    bars = []
    divisions = Fraction(1)
    for measure in part.iterchildren("measure"):
        bars.append(PartBar(measure, divisions))
        for attributes in measure.iterchildren("attributes"):
            divisions = number(attributes.findtext("divisions")) or divisions
    return bars


@lru_cache(maxsize=4096)
def number(text: str | None, default: Fraction = ZERO) -> Fraction:
    """A MusicXML number as it is written, exactly; ``default`` where it is none.

    >>> number("1.5"), number("x")
    (Fraction(3, 2), Fraction(0, 1))
    """
    found = re.fullmatch(r"\s*([+-]?\d{1,9}(\.\d{0,9})?)\s*", text or "")
    return Fraction(found[1]) if found else default


def value_length(kind: str | None, dots: int) -> Fraction | None:
    """Quarter notes in a note value with dots; None for a value that MusicXML lacks.

    >>> value_length("quarter", 1)
    Fraction(3, 2)
    """
    length = NOTE_VALUES.get((kind or "").strip())
    return None if length is None else length * (2 - Fraction(1, 2 ** min(dots, 4)))


def _placed(
    measure: etree._Element, divisions: Fraction
) -> tuple[tuple[Placed, ...], Fraction]:
    placed: list[Placed] = []
    at = reached = chord_at = ZERO
    rounded = False
    for child in measure.iterchildren("*"):
        length = ZERO
        if child.tag == "attributes":
            divisions = number(child.findtext("divisions")) or divisions
        elif child.tag == "note":
            length, is_rounded = _note_length(child, divisions)
            rounded |= is_rounded
        elif child.tag in ("backup", "forward"):
            length = max(ZERO, number(child.findtext("duration")) / divisions)
            length = _exact(length, divisions) if rounded else length
        if child.tag == "note" and child.find("chord") is not None:
            placed.append(Placed(child, chord_at, length))
            reached = max(reached, chord_at + length)
            continue
        shift = number(child.findtext("offset")) if child.tag in _PLACED_BY_OFFSET else ZERO
        placed.append(Placed(child, max(ZERO, at + shift / divisions), length))
        if child.tag == "note":
            chord_at = at
        at = max(ZERO, at - length) if child.tag == "backup" else at + length
        reached = max(reached, at)
    return tuple(placed), reached


def _note_length(note: etree._Element, divisions: Fraction) -> tuple[Fraction, bool]:
    """What a note lasts, and whether its duration is a rounded one.

    It lasts as its printed value says where it has no duration, and where no whole number of
    divisions could give that value exactly.
    """
    if note.find("grace") is not None:
        return ZERO, False
    duration = note.findtext("duration")
    if duration is None:
        return _printed_length(note) or ZERO, False
    lasts = max(ZERO, number(duration) / divisions)
    parts = lasts.denominator
    is_plain = parts & (parts - 1) == 0 and note.find("time-modification") is None
    if is_plain or not lasts:
        return lasts, False
    printed = _printed_length(note)
    rounded = printed is not None and 0 < abs(printed - lasts) < 1 / divisions
    return (printed, True) if printed is not None and rounded else (lasts, False)


def _printed_length(note: etree._Element) -> Fraction | None:
    """What its value, dots and tuplet say; None where it has no value that is known."""
    value = value_length(note.findtext("type"), len(note.findall("dot")))
    modification = note.find("time-modification")
    if value is None or modification is None:
        return value
    actual = number(modification.findtext("actual-notes")) or Fraction(1)
    return abs(value * (number(modification.findtext("normal-notes")) or actual) / actual)


def _exact(length: Fraction, divisions: Fraction) -> Fraction:
    """The simplest length that a rounded one may stand for, such as a third for 85 / 256."""
    simple = length.limit_denominator(SIMPLEST)
    return simple if abs(simple - length) < 1 / divisions else length
