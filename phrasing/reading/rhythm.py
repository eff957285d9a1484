"""Which grid each beat of a melody is played on: the likeliest reading of all beats together.

A reading is judged by how far each note lies from its place (Gaussian timing noise with a few
stray notes) and by how usual its rhythm is: first by ``grids``, then more and more by the
rhythms of the piece itself. The last word is a path through all beats (Viterbi).

Positions are ticks of score time; noise is in ticks too, one value a note.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from phrasing.reading import grids
from phrasing.reading.grids import Beats
from phrasing.tempo import Bools, Floats, Ints

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
class Placed:
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


def place(onset: Floats, beats: Beats, swing: float = 0.5) -> Placed:
    """The nearest point of each grid for each note.

    ``onset``: ticks, lateness taken away. ``swing``: where the second eighth of a pair is
    played, as a part of the beat; its place stays the middle.
    """
    which = np.maximum(np.searchsorted(beats.start, onset, "right") - 1, 0)
    used, beat = np.unique(which, return_inverse=True)
    mine = Beats(*(column[used] for column in vars(beats).values()))
    since = (onset - mine.start[beat])[:, None]
    spacing = mine.full[:, None] / grids.parts()[mine.kind]
    limit = np.ceil(mine.length[:, None] / spacing - 1e-9)[beat]
    spacing = spacing[beat]
    index = np.clip(np.rint(since / spacing), 0, limit)
    point = np.minimum(index * spacing, mine.length[beat][:, None])
    off = since - point
    if swing == 0.5:
        return _judged(mine, beat, index.astype(np.int64), point, off)
    _swing_pairs(since[:, 0], mine, beat, index, point, off, swing)
    placed = _judged(mine, beat, index.astype(np.int64), point, off)
    placed.prior[:, grids.SIXTEENTHS] += DOTTED_COST * _is_dotted(placed)
    return placed


def _swing_pairs(
    since: Floats, mine: Beats, beat: Ints, index: Floats, point: Floats, off: Floats, at: float
) -> None:
    """Put the late second eighth into the slot of pairs, in quarter beats."""
    simple = (mine.kind == grids.SIMPLE)[beat]
    full = mine.full[beat]
    played = np.array([0.0, at, 1.0])
    taken = np.searchsorted((played[1:] + played[:-1]) / 2, since / full)
    index[simple, grids.PAIRS] = taken[simple]
    point[simple, grids.PAIRS] = (taken * full / 2)[simple]
    off[simple, grids.PAIRS] = (since - played[taken] * full)[simple]


def _is_dotted(placed: Placed) -> Bools:
    """For each beat, whether its only sixteenth is the last."""
    places = placed.pattern[:, grids.SIXTEENTHS] & 0b1111
    dotted: Bools = (places == 0b1000) | (places == 0b1001)
    return dotted


def _judged(mine: Beats, beat: Ints, index: Ints, point: Floats, off: Floats) -> Placed:
    """With the prior cost of each rhythm, its pattern, and whether it is one at all. A note
    that comes early to the next beat has no part in the rhythm of its own."""
    first = np.searchsorted(beat, np.arange(len(mine.start)))
    slots = np.arange(grids.SLOTS)
    divisor = np.gcd.reduceat(index, first)
    collides = (np.diff(index, axis=0) <= 0) & (np.diff(beat) == 0)[:, None]
    clash = np.add.reduceat(np.pad(collides, ((1, 0), (0, 0))), first, dtype=np.int64) > 0
    parts = grids.parts()[mine.kind]
    possible = ((np.gcd(parts, divisor) == 1) & ~clash) | (slots == grids.RAGGED_SLOT)
    silent, note = grids.grid_costs()
    early = point >= mine.length[beat][:, None]
    added = np.where(early, 0.0, note[mine.kind[beat][:, None], slots, index])
    prior = silent[mine.kind] + np.add.reduceat(added, first)
    bits = np.where(early, 0, np.left_shift(1, np.minimum(index, 40)))
    pattern = np.add.reduceat(bits, first) + (slots << 50) + (mine.kind << 56)[:, None]
    at = mine.start[beat][:, None] + point
    return Placed(mine, beat, first, at, off, prior, pattern, possible)


def misfit(off: Floats, noise: Floats) -> Floats:
    """Minus log likelihood of each note at each grid, in nats; ``noise``: ticks a note."""
    scaled = (off / noise[:, None]) ** 2
    near = np.log(1 - STRAY) - 0.5 * scaled
    stray = np.log(STRAY / STRAY_NOISE) - 0.5 / STRAY_NOISE**2 * scaled
    cost: Floats = np.log(noise)[:, None] - np.logaddexp(near, stray)
    return cost


def costs(placed: Placed, noise: Floats, prior: Floats | None = None) -> Floats:
    """Nats (beats, slots) that each grid of each beat costs; ``prior`` in place of its own."""
    fit = np.add.reduceat(misfit(placed.off, noise), placed.first)
    return np.where(
        placed.possible, fit + (placed.prior if prior is None else prior), IMPOSSIBLE
    )


def evidence(cost: Floats) -> float:
    """How well these costs account for the melody: log of the chance that it sounds so."""
    return float(_log_sum(-cost).sum())


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


def learnt(placed: Placed, noise: Floats) -> Learnt:
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
    named[which[:, : grids.RAGGED_SLOT]] = placed.prior[:, : grids.RAGGED_SLOT]
    rhythms = float(np.dot(np.minimum(counts, 1.0), named))
    return Learnt(cost, rhythms)


def _prior(seen: Floats, usual: Floats, placed: Placed) -> Floats:
    """Nats that patterns cost that were ``seen`` so often among the other beats."""
    share = (seen + PRIOR_BEATS * usual) / (len(seen) - 1 + PRIOR_BEATS)
    prior: Floats = -np.log(np.maximum(share, 1e-300))
    prior[:, grids.RAGGED_SLOT] = -np.log(np.maximum(usual[:, grids.RAGGED_SLOT], 1e-300))
    return prior


def best_path(placed: Placed, learnt: Learnt) -> Ints:
    """For each beat the slot of its grid on the likeliest path through all beats."""
    last = np.append(placed.first[1:], len(placed.beat)) - 1
    meets = placed.point[last][:-1, :, None] >= placed.point[placed.first][1:, None, :]
    threes = np.arange(grids.SLOTS) == grids.TRIPLETS
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
