"""What was decided for each note, and why: the type that marking makes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import IntEnum
from functools import cached_property
from typing import Any, Literal

import numpy as np

from phrasing.score.meters import Bools, Floats, Ints
from phrasing.style import SWING, Style

AUTHOR = -2
"""Stands in the ``rule`` column where the mark is the author's own."""
NO_RULE = -1


class Cause(IntEnum):
    """Why a note's mark is not, or not only, what a rule says of the note by itself."""

    RULE = 0
    """The rule alone."""
    ALIKE = 1
    """It is as at the same place of another statement of the figure."""
    APPROACH = 2
    """It belongs to an approach whose last note has the weight."""
    SOFTER = 3
    """It lies in a run that gets softer."""
    BESIDE = 4
    """Its neighbour has the weight."""
    ENOUGH = 5
    """Enough notes of the bar stand out."""
    OTHER = 6
    """The other of two readings is played."""
    HELD = 7
    """Not all recorded players detach it, and here it is held."""


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
    prevailed (bit i stands for ``RULES[i]``). ``cause`` and ``model``: what the phrase as a
    whole made of it (a ``Cause``), and the index of the note that this has to do with.
    ``reading`` and ``other``: where schooled players differ, the index of the choice in
    ``readings.READINGS`` (-1 elsewhere) and the mark that the note has in the second reading.

    ``joined``: slurred into the note after. ``flow``: an off-beat of an eighth-note line.
    ``repeated``: comes again at once on the same pitch, in the line. ``tongued``: touches
    another pitch, so that a tongue leaves a gap. ``own_level`` and ``own_gate``: what the
    teacher wants of the note's sound (see ``ownsounds``), not a number where nothing.

    ``swell_rows`` (first, last), ``link_rows`` (preparation, arrival) and ``phrase_rows``
    (first, last, peak or -1, pickup) have one row of note indices for each ``Swell``,
    ``Link`` and ``Phrase``: the same facts as columns. ``growing_rows`` (first, last):
    repetitions that grow toward what follows. ``other_styles``: styles besides ``style``, each
    with the notes that are played in it.
    """

    mark: Ints
    rule: Ints
    by_rules: Ints
    applied: Ints
    cause: Ints
    model: Ints
    reading: Ints
    other: Ints
    joined: Bools
    flow: Bools
    repeated: Bools
    tongued: Bools
    own_level: Floats
    own_gate: Floats
    swell_rows: Ints = field(default_factory=lambda: _no_rows(2))
    link_rows: Ints = field(default_factory=lambda: _no_rows(2))
    phrase_rows: Ints = field(default_factory=lambda: _no_rows(4))
    growing_rows: Ints = field(default_factory=lambda: _no_rows(2))
    left_out: tuple[str, ...] = ()
    style: Style = SWING
    other_styles: tuple[tuple[Style, Bools], ...] = ()

    def __len__(self) -> int:
        return len(self.mark)

    @property
    def has_second_reading(self) -> bool:
        """Whether schooled players would do something in it in another way."""
        return bool((self.reading >= 0).any())

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

    def style_at(self, i: int) -> Style:
        """The style that note ``i`` is played in."""
        return next((style for style, where in self.other_styles if where[i]), self.style)

    def over(self, other: Marking, where: Bools) -> Marking:
        """This marking, and ``other`` for the notes ``where`` that one's style is played."""

        def rows(name: str) -> Ints:
            ours, theirs = getattr(self, name), getattr(other, name)
            both = np.concatenate([ours[~where[ours[:, 0]]], theirs[where[theirs[:, 0]]]])
            return both[np.lexsort(both.T[::-1])]

        columns: dict[str, Any] = {
            name: np.where(where, getattr(other, name), getattr(self, name)) for name in COLUMNS
        }
        together: dict[str, Any] = {
            name: rows(name) for name in ("swell_rows", "link_rows", "growing_rows")
        }
        others = (*self.other_styles, (other.style, where))
        return replace(self, **columns, **together, other_styles=others)

    def part(self, low: int, high: int) -> Marking:
        """The marking of the notes ``low`` to ``high`` (indices, both inside).

        Swells and repetitions that go over its ends are cut there, links are left out.
        """
        kept = slice(low, high + 1)
        links = self.link_rows
        columns = {name: getattr(self, name)[kept] for name in COLUMNS}
        columns["model"] = np.clip(columns["model"] - low, 0, max(high - low, 0))
        return replace(
            self,
            **columns,
            swell_rows=_cut(self.swell_rows, low, high),
            growing_rows=_cut(self.growing_rows, low, high),
            other_styles=tuple((style, where[kept]) for style, where in self.other_styles),
            link_rows=links[(links[:, 0] >= low) & (links[:, 1] <= high)] - low,
            phrase_rows=_cut_phrases(self.phrase_rows, low, high),
        )


COLUMNS = (
    "mark", "rule", "by_rules", "applied", "cause", "model", "reading", "other", "joined",
    "flow", "repeated", "tongued", "own_level", "own_gate",
)  # fmt: skip
"""The columns of a marking that have one entry a note."""


def _cut(rows: Ints, low: int, high: int) -> Ints:
    """Rows of (first, last) as far as two notes or more of them are kept."""
    kept = rows[(rows[:, 0] < high) & (rows[:, 1] > low)]
    return np.clip(kept, low, high) - low


def _cut_phrases(rows: Ints, low: int, high: int) -> Ints:
    kept = rows[(rows[:, 0] <= high) & (rows[:, 1] >= low)]
    first, last, peak, pickup = kept.T
    return np.stack(
        [
            np.clip(first, low, high) - low,
            np.clip(last, low, high) - low,
            np.where((peak >= low) & (peak <= high), peak - low, -1),
            np.where(first >= low, pickup, 0),
        ],
        axis=1,
    )
