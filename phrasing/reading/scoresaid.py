"""What stands over the staves of a score: directions and sounds, in whatever part.

A sign counts wherever it stands; where several parts have it, it is found several times.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from phrasing.reading.scorebars import PartBar

if TYPE_CHECKING:
    from lxml import etree

Parts = Sequence[Sequence[PartBar]]


@dataclass(frozen=True)
class Said:
    """Something said at a place of a printed bar (its index; quarter notes from its start)."""

    bar: int
    at: Fraction
    element: etree._Element


def said(parts: Parts, *tags: str) -> Iterator[Said]:
    """All children of measures with these tags, part by part and in order."""
    for part in parts:
        for index, bar in enumerate(part):
            for placed in bar.placed:
                if placed.element.tag in tags:
                    yield Said(index, placed.at, placed.element)


def sounds_of(element: etree._Element) -> Iterator[etree._Element]:
    """The ``<sound>`` of a direction, or one that stands by itself."""
    if element.tag == "sound":
        yield element
    yield from element.iterchildren("sound")


def words_of(direction: etree._Element) -> str:
    """The words of a direction, run together."""
    return " ".join((words.text or "").strip() for words in direction.iter("words")).strip()
