"""What was decided for each note, and why: the type that marking makes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from phrasing.tempo import Bools, Ints

AUTHOR = -2
"""Stands in the ``rule`` column where the mark is the author's own."""
NO_RULE = -1


@dataclass(frozen=True)
class Swell:
    """A wedge over the notes ``first`` to ``last`` (indices, both inside it)."""

    kind: Literal["decrescendo"]
    first: int
    last: int


@dataclass(frozen=True)
class Link:
    """A preparation and its arrival, as note indices."""

    preparation: int
    arrival: int


@dataclass(frozen=True)
class Phrase:
    """Notes ``first`` to ``last`` (indices, both inside) and the index of the highest.

    ``peak`` is None where the phrase has fewer than five notes or its highest note comes
    more than once. ``pickup`` counts the notes before the bar line that lead to its downbeat.
    """

    first: int
    last: int
    peak: int | None
    pickup: int


@dataclass(frozen=True, eq=False)
class Marking:
    """One mark or none for each note; columns have one entry a note.

    ``mark``: code in ``marks.MARK_NAMES``, -1 for none. ``rule``: index in
    ``marking.rules.RULES`` of the rule that gave it, ``NO_RULE`` or ``AUTHOR``. ``applied``:
    a bit for each rule that applied to the note, whether or not its mark prevailed (bit i
    stands for ``RULES[i]``). ``joined``: slurred into the note after. ``flow``: an off-beat
    of an eighth-note line. ``repeated``: comes again at once on the same pitch, in the line.
    """

    mark: Ints
    rule: Ints
    applied: Ints
    joined: Bools
    flow: Bools
    repeated: Bools
    swells: tuple[Swell, ...] = ()
    links: tuple[Link, ...] = ()
    phrases: tuple[Phrase, ...] = ()
    left_out: tuple[str, ...] = ()
