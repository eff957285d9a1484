"""What was decided for each note, and why: the type that marking makes."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from phrasing.score.melody import Bools, Ints
from phrasing.style import SWING, Style

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


def _no_rows(width: int) -> Ints:
    return np.empty((0, width), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Marking:
    """One mark or none for each note; columns have one entry a note.

    ``mark``: code in ``marks.MARK_NAMES``, -1 for none. ``rule``: index in
    ``marking.rules.RULES`` of the rule that gave it, ``NO_RULE`` or ``AUTHOR``. ``by_rules``:
    the mark that the rules give, the same as ``mark`` but where the author spoke.
    ``applied``: a bit for each rule that applied to the note, whether or not its mark
    prevailed (bit i stands for ``RULES[i]``). ``joined``: slurred into the note after.
    ``flow``: an off-beat of an eighth-note line. ``repeated``: comes again at once on the
    same pitch, in the line.

    ``swell_rows`` (first, last), ``link_rows`` (preparation, arrival) and ``phrase_rows``
    (first, last, peak or -1, pickup) have one row of note indices for each ``Swell``,
    ``Link`` and ``Phrase``: the same facts as columns.
    """

    mark: Ints
    rule: Ints
    by_rules: Ints
    applied: Ints
    joined: Bools
    flow: Bools
    repeated: Bools
    swell_rows: Ints = field(default_factory=lambda: _no_rows(2))
    link_rows: Ints = field(default_factory=lambda: _no_rows(2))
    phrase_rows: Ints = field(default_factory=lambda: _no_rows(4))
    left_out: tuple[str, ...] = ()
    style: Style = SWING

    def __len__(self) -> int:
        return len(self.mark)

    @cached_property
    def swells(self) -> tuple[Swell, ...]:
        """The wedges, in order."""
        return tuple(Swell("decrescendo", *row) for row in self.swell_rows.tolist())

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """The links from preparations to arrivals, in order."""
        return tuple(Link(*row) for row in self.link_rows.tolist())

    @cached_property
    def phrases(self) -> tuple[Phrase, ...]:
        """The phrases, in order; together they hold every note."""
        return tuple(
            Phrase(first, last, peak if peak >= 0 else None, pickup)
            for first, last, peak, pickup in self.phrase_rows.tolist()
        )
