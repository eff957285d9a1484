"""How beats are divided: the grids a reader expects, and how readily.

A grid divides a beat into equal parts. Its ``share`` is how often beats are divided so, and
the weights say how likely each of its points is to carry a note. Both are design parameters
of this project: common practice of notation (halves before quarters, full triplets before
broken ones), no measured source. They are only where the reading starts: the piece's own
habits then outweigh them (see ``rhythm``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from phrasing.melody import Bar
from phrasing.tempo import Bools, Floats, Ints

SIMPLE, COMPOUND, SHORT = 0, 1, 2
"""Kinds of beat: a quarter, a dotted quarter, an eighth or less."""

SHARES: tuple[tuple[tuple[int, float], ...], ...] = (
    ((1, 0.35), (2, 0.36), (4, 0.18), (3, 0.06), (8, 0.012), (6, 0.012), (5, 0.002),
     (7, 0.0005), (12, 0.001), (16, 0.0008)),
    ((1, 0.30), (3, 0.52), (6, 0.12), (2, 0.02), (4, 0.01), (12, 0.008), (9, 0.002),
     (5, 0.0005), (8, 0.001), (24, 0.0004)),
    ((1, 0.60), (2, 0.28), (4, 0.05), (3, 0.03), (8, 0.005), (6, 0.003), (5, 0.001),
     (7, 0.0003), (12, 0.0005), (16, 0.0005)),
)  # fmt: skip
"""For each kind of beat: (parts, share). Every divisor of a number of parts is there too."""

RAGGED = 48
"""Parts of the grid for beats that fit no other: always possible, never likely."""
RAGGED_SHARE = 1e-6
SLOTS = len(SHARES[0]) + 1
PAIRS = 1
"""The slot of a quarter's two eighths, which may be swung."""
TRIPLETS = 3
BELOW = 1
"""Points before the beat that a note of it may still take."""

EARLY = 1 / 16
"""A note this part of a beat before a beat is looked at together with it."""


@dataclass(frozen=True, eq=False)
class Beats:
    """The beats with notes in them, one entry a beat: where each starts (ticks), how long it
    is to the next beat, how long it would be in full, and its kind."""

    start: Floats
    length: Floats
    full: Floats
    kind: Ints


def beats_of(bars: Sequence[Bar]) -> Beats:
    """All beats of the bars. Where a bar begins inside a beat, that beat starts before it."""
    rows: list[tuple[int, int, int, int]] = []
    for bar in bars:
        beat = bar.meter.beat_length
        skipped = bar.offset % beat
        kind = SIMPLE if beat == 960 else COMPOUND if beat > 960 else SHORT
        until = bar.onset + bar.length
        rows += [
            (start, min(beat, until - start), beat, kind)
            for start in range(bar.onset - skipped, until, beat)
        ]
    start, length, full, kind_column = np.array(rows, dtype=np.float64).T
    return Beats(start, length, full, kind_column.astype(np.int64))


@cache
def parts() -> Ints:
    """Parts of each grid, shape (kinds, slots)."""
    return np.array([[p for p, _ in row] + [RAGGED] for row in SHARES])


@cache
def weights() -> tuple[Floats, Floats]:
    """Costs in nats before anything is known of the piece.

    The first, shape (kinds, slots): of a beat divided so with no note in it. The second,
    shape (kinds, slots, points): what a note adds at each point, points from ``BELOW``
    before the beat to the next beat.
    """
    silent = np.zeros((len(SHARES), SLOTS))
    note = np.zeros((len(SHARES), SLOTS, RAGGED + 1 + BELOW))
    for kind, row in enumerate(SHARES):
        for slot, (count, share) in enumerate([*row, (RAGGED, RAGGED_SHARE)]):
            likely = _likelihoods(count)
            silent[kind, slot] = -np.log(share) - np.log1p(-likely).sum()
            note[kind, slot, : len(likely)] = np.log1p(-likely) - np.log(likely)
    return silent, note


def _likelihoods(count: int) -> Floats:
    """For each point of a grid, how likely it carries a note."""
    likely = np.full(count + 1 + BELOW, 0.5)
    if count == 2:
        likely[BELOW + 1] = 0.8
    elif count == 4:
        likely[BELOW + 2] = 0.75
    elif count == 3:
        likely[BELOW + 1 : BELOW + 3] = 0.75
    elif count == RAGGED:
        likely[:] = 0.05
    likely[BELOW] = 0.9
    likely[:BELOW] = likely[-1] = 0.02
    return likely


def is_plainest(parts_of_beat: Ints, divisor: Ints) -> Bools:
    """Whether notes whose positions have this common divisor need so many parts."""
    plainest: Bools = np.gcd(parts_of_beat, divisor) == 1
    return plainest
