"""Which grid each beat of a melody is played on: the likeliest reading of all beats together.

A reading is judged by how far each note lies from its place (Gaussian timing noise with a few
stray notes) and by how usual its rhythm is: first by ``grids``, then more and more by the
rhythms of the piece itself. The last word is a path through all beats (Viterbi).

Positions are ticks of score time; noise is in ticks too, one value a note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from phrasing.score.meters import TICKS, Bar, Bools, Floats, Ints

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
EIGHTHS = 1
"""The slot of the three eighths of a dotted quarter."""
EVEN = 0.5
"""Where the second of two even eighths lies in its beat."""
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
        beat = bar.meter.pulse
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


STRAY, STRAY_NOISE = 0.02, 5.0
"""Share of notes that are played away from their place for reasons of their own, and how much
wider their noise is."""
PRIOR_BEATS = 8.0
"""How many beats of the piece weigh as much as what is usual everywhere."""
ROUNDS = 2
OTHER_GRID = 1.5
"""Nats that a change into or out of triplets costs."""
DOTTED_COST = 4.0
"""Nats more that a dotted eighth and a sixteenth cost where eighths are swung."""
IMPOSSIBLE = 1e6


@dataclass(frozen=True, eq=False)
class OnGrids:
    """Every note on every grid.

    ``beats`` are those that have notes, ``beat`` (notes) the one that a note is looked at
    with, ``first`` the first note of each. ``point`` and ``off`` (notes, slots): the place
    taken and how far the note lies from it (ticks). ``prior`` (nats), ``pattern`` and
    ``possible``: (beats, slots).
    """

    beats: Beats
    beat: Ints
    first: Ints
    point: Floats
    off: Floats
    prior: Floats
    pattern: Ints
    possible: Bools

    def chosen(self, slots: Ints) -> tuple[Floats, Floats]:
        """Place of each note and how far it lies from it, with these slots of the beats."""
        row = np.arange(len(self.beat)), slots[self.beat]
        return self.point[row], self.off[row]


def place(onset: Floats, beats: Beats, swing: ArrayLike = EVEN) -> OnGrids:
    """The nearest point of each grid for each note.

    ``onset``: ticks, lateness taken away. ``swing``: where the second eighth of a pair is
    played, as a part of the beat, for all beats or each; its place stays the middle.
    """
    which = np.maximum(np.searchsorted(beats.start, onset, "right") - 1, 0)
    used, beat = np.unique(which, return_inverse=True)
    mine = Beats(*(column[used] for column in vars(beats).values()))
    since = (onset - mine.start[beat])[:, None]
    spacing = mine.full[:, None] / parts()[mine.kind]
    limit = np.ceil(mine.length[:, None] / spacing - 1e-9)[beat]
    spacing = spacing[beat]
    index = np.clip(np.rint(since / spacing), 0, limit)
    point = np.minimum(index * spacing, mine.length[beat][:, None])
    off = since - point
    late = np.broadcast_to(swing, beats.start.shape)[used]
    if (late == EVEN).all():
        return _judged(mine, beat, index.astype(np.int64), point, off)
    _swing_pairs(since[:, 0], mine, beat, index, point, off, late[beat])
    placed = _judged(mine, beat, index.astype(np.int64), point, off)
    placed.prior[:, SIXTEENTHS] += DOTTED_COST * (_is_dotted(placed) & (late != EVEN))
    return placed


def _swing_pairs(
    since: Floats,
    mine: Beats,
    beat: Ints,
    index: Floats,
    point: Floats,
    off: Floats,
    at: Floats,
) -> None:
    """Put the late second eighth into the slot of pairs, in swung quarter beats."""
    swung = (mine.kind == SIMPLE)[beat] & (at != EVEN)
    full = mine.full[beat]
    part = since / full
    taken = (part > at / 2).astype(np.int64) + (part > (at + 1) / 2)
    played = np.choose(taken, [np.zeros_like(at), at, np.ones_like(at)])
    index[swung, PAIRS] = taken[swung]
    point[swung, PAIRS] = (taken * full / 2)[swung]
    off[swung, PAIRS] = (since - played * full)[swung]


def _is_dotted(placed: OnGrids) -> Bools:
    """For each beat, whether its only sixteenth is the last."""
    places = placed.pattern[:, SIXTEENTHS] & 0b1111
    dotted: Bools = (places == 0b1000) | (places == 0b1001)
    return dotted


def _judged(mine: Beats, beat: Ints, index: Ints, point: Floats, off: Floats) -> OnGrids:
    """With the prior cost of each rhythm, its pattern, and whether it is one at all. A note
    that comes early to the next beat has no part in the rhythm of its own."""
    first = np.searchsorted(beat, np.arange(len(mine.start)))
    slots = np.arange(SLOTS)
    divisor = np.gcd.reduceat(index, first)
    collides = (np.diff(index, axis=0) <= 0) & (np.diff(beat) == 0)[:, None]
    clash = np.add.reduceat(np.pad(collides, ((1, 0), (0, 0))), first, dtype=np.int64) > 0
    divided = parts()[mine.kind]
    possible = ((np.gcd(divided, divisor) == 1) & ~clash) | (slots == RAGGED_SLOT)
    silent, note = grid_costs()
    early = point >= mine.length[beat][:, None]
    added = np.where(early, 0.0, note[mine.kind[beat][:, None], slots, index])
    prior = silent[mine.kind] + np.add.reduceat(added, first)
    bits = np.where(early, 0, np.left_shift(1, np.minimum(index, 40)))
    pattern = np.add.reduceat(bits, first) + (slots << 50) + (mine.kind << 56)[:, None]
    at = mine.start[beat][:, None] + point
    return OnGrids(mine, beat, first, at, off, prior, pattern, possible)


def misfit(off: Floats, noise: ArrayLike) -> Floats:
    """Minus log likelihood, in nats, of notes so far ``off``; ``noise`` in the same unit."""
    scaled = (off / np.asarray(noise)) ** 2
    near = np.log(1 - STRAY) - 0.5 * scaled
    stray = np.log(STRAY / STRAY_NOISE) - 0.5 / STRAY_NOISE**2 * scaled
    cost: Floats = np.log(noise) - np.logaddexp(near, stray)
    return cost


def costs(placed: OnGrids, noise: Floats, prior: Floats | None = None) -> Floats:
    """Nats (beats, slots) that each grid of each beat costs; ``prior`` in place of its own."""
    fit = np.add.reduceat(misfit(placed.off, noise[:, None]), placed.first)
    return np.where(
        placed.possible, fit + (placed.prior if prior is None else prior), IMPOSSIBLE
    )


def evidence(cost: Floats) -> float:
    """How well these costs account for the melody: log of the chance that it sounds so."""
    return float(by_beat(cost).sum())


def by_beat(cost: Floats) -> Floats:
    """The same for each beat."""
    return _log_sum(-cost)


def _log_sum(values: Floats) -> Floats:
    top = values.max(axis=1)
    total: Floats = top + np.log(np.exp(values - top[:, None]).sum(axis=1))
    return total


@dataclass(frozen=True, eq=False)
class Learnt:
    """Costs once the piece's own rhythms are known, in nats.

    ``cost`` (beats, slots) of each grid of each beat; ``rhythms``: what it costs to name the
    rhythms of the piece.
    """

    cost: Floats
    rhythms: float

    @property
    def evidence(self) -> float:
        """How well all this accounts for the melody: log of the chance that it sounds so."""
        return evidence(self.cost) - self.rhythms


def learnt(placed: OnGrids, noise: Floats) -> Learnt:
    """What the beats cost when each learns from all others, never from itself, and nothing
    from ragged ones."""
    patterns, which = np.unique(placed.pattern, return_inverse=True)
    which = which.reshape(placed.pattern.shape)
    usual = np.exp(-placed.prior)
    cost = costs(placed, noise)
    counts = np.zeros(len(patterns))
    for _ in range(ROUNDS):
        chance = np.exp(-cost - _log_sum(-cost)[:, None])
        counts = np.bincount(which.ravel(), chance.ravel(), len(patterns)).astype(np.float64)
        prior = _prior(counts[which] - chance, usual, placed)
        cost = costs(placed, noise, prior)
    named = np.zeros(len(patterns))
    named[which[:, :RAGGED_SLOT]] = placed.prior[:, :RAGGED_SLOT]
    rhythms = float(np.dot(np.minimum(counts, 1.0), named))
    return Learnt(cost, rhythms)


def _prior(seen: Floats, usual: Floats, placed: OnGrids) -> Floats:
    """Nats that patterns cost that were ``seen`` so often among the other beats."""
    share = (seen + PRIOR_BEATS * usual) / (len(seen) - 1 + PRIOR_BEATS)
    prior: Floats = -np.log(np.maximum(share, 1e-300))
    prior[:, RAGGED_SLOT] = -np.log(np.maximum(usual[:, RAGGED_SLOT], 1e-300))
    return prior


def best_path(placed: OnGrids, learnt: Learnt) -> Ints:
    """For each beat the slot of its grid on the likeliest path through all beats."""
    last = np.append(placed.first[1:], len(placed.beat)) - 1
    meets = placed.point[last][:-1, :, None] >= placed.point[placed.first][1:, None, :]
    threes = np.arange(SLOTS) == TRIPLETS
    steps = OTHER_GRID * (threes[:, None] != threes) + IMPOSSIBLE * meets
    best, come_from = learnt.cost[0], []
    for step, here in zip(steps, learnt.cost[1:], strict=True):
        through = best[:, None] + step
        come_from.append(through.argmin(axis=0))
        best = through.min(axis=0) + here
    path = [int(best.argmin())]
    for choice in reversed(come_from):
        path.append(int(choice[path[-1]]))
    return np.array(path[::-1], dtype=np.int64)
