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
    carries: Bools
    pattern_met: Ints
    prior_met: Floats

    def chosen(self, slots: Ints) -> tuple[Floats, Floats]:
        """Place of each note and how far it lies from it, with these slots of the beats."""
        row = np.arange(len(self.beat)), slots[self.beat]
        return self.point[row], self.off[row]


def place(onset: Floats, beats: Beats, swing: float = 0.5) -> Placed:
    """The nearest point of each grid for each note.

    ``onset``: ticks, lateness taken away. ``swing``: where the second eighth of a pair is
    played, as a part of the beat; its place stays the middle.
    """
    lead = beats.full * grids.EARLY
    which = np.maximum(np.searchsorted(beats.start - lead, onset, "right") - 1, 0)
    used, beat = np.unique(which, return_inverse=True)
    mine = Beats(*(column[used] for column in vars(beats).values()))
    since = (onset - mine.start[beat])[:, None]
    spacing = mine.full[:, None] / grids.parts()[mine.kind]
    limit = np.ceil(mine.length[:, None] / spacing - 1e-9)[beat]
    spacing = spacing[beat]
    index = np.clip(np.rint(since / spacing), -grids.BELOW, limit)
    point = np.minimum(index * spacing, mine.length[beat][:, None])
    off = since - point
    if swing != 0.5:
        _swing_pairs(since[:, 0], mine, beat, index, point, off, swing)
    return _judged(mine, beat, index.astype(np.int64), point, off)


def _swing_pairs(
    since: Floats, mine: Beats, beat: Ints, index: Floats, point: Floats, off: Floats, at: float
) -> None:
    """Put the late second eighth into the slot of pairs, in quarter beats."""
    simple = (mine.kind == grids.SIMPLE)[beat]
    full = mine.full[beat]
    played = np.array([at - 1, 0.0, at, 1.0])
    edges = (played[1:] + played[:-1]) / 2
    taken = np.searchsorted(edges, since / full)
    index[simple, grids.PAIRS] = (taken - 1)[simple]
    point[simple, grids.PAIRS] = ((taken - 1) * full / 2)[simple]
    off[simple, grids.PAIRS] = (since - played[taken] * full)[simple]


def _judged(mine: Beats, beat: Ints, index: Ints, point: Floats, off: Floats) -> Placed:
    """With the prior cost of each rhythm, its pattern, and whether it is one at all."""
    first = np.searchsorted(beat, np.arange(len(mine.start)))
    slots = np.arange(grids.SLOTS)
    divisor = np.gcd.reduceat(np.abs(index), first)
    collides = (np.diff(index, axis=0) <= 0) & (np.diff(beat) == 0)[:, None]
    clash = np.add.reduceat(np.pad(collides, ((1, 0), (0, 0))), first, dtype=np.int64) > 0
    parts = grids.parts()[mine.kind]
    possible = ((np.gcd(parts, divisor) == 1) & ~clash) | (slots == grids.RAGGED_SLOT)
    silent, note = grids.costs()
    carried = index >= parts[beat]
    added = note[mine.kind[beat][:, None], slots, index + grids.BELOW]
    prior = silent[mine.kind] + np.add.reduceat(np.where(carried, 0.0, added), first)
    bits = np.where(carried, 0, np.left_shift(1, np.minimum(index + grids.BELOW, 40)))
    pattern = np.add.reduceat(bits, first) + (slots << 50) + (mine.kind << 56)[:, None]
    on_beat = (pattern >> grids.BELOW) & 1 == 1
    downbeat = note[mine.kind[:, None], slots, grids.BELOW]
    return Placed(
        mine,
        beat,
        first,
        mine.start[beat][:, None] + point,
        off,
        prior,
        pattern,
        possible,
        carries=np.logical_or.reduceat(carried, first),
        pattern_met=pattern | (1 << grids.BELOW),
        prior_met=np.where(on_beat, IMPOSSIBLE, prior + downbeat),
    )


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

    ``cost`` (beats, slots) of each grid of each beat; ``met``: what it costs more to be met by
    a note that comes early; ``rhythms``: what it costs to name the rhythms of the piece.
    """

    cost: Floats
    met: Floats
    rhythms: float

    @property
    def evidence(self) -> float:
        """How well all this accounts for the melody: log of the chance that it sounds so."""
        return evidence(self.cost) - self.rhythms


def learnt(placed: Placed, noise: Floats) -> Learnt:
    """What the beats cost when each learns from all others, never from itself, and nothing
    from ragged ones."""
    both, which = np.unique(np.stack([placed.pattern, placed.pattern_met]), return_inverse=True)
    which, met = which.reshape(2, *placed.pattern.shape)
    usual, usual_met = np.exp(-placed.prior), np.exp(-placed.prior_met)
    cost = costs(placed, noise)
    for _ in range(ROUNDS):
        chance = np.exp(-cost - _log_sum(-cost)[:, None])
        counts = np.bincount(which.ravel(), chance.ravel(), len(both))
        prior = _prior(counts[which] - chance, usual, placed)
        cost = costs(placed, noise, prior)
    named = np.zeros(len(both))
    named[which[:, : grids.RAGGED_SLOT]] = placed.prior[:, : grids.RAGGED_SLOT]
    rhythms = float(np.dot(np.minimum(counts, 1.0), named))
    return Learnt(cost, _prior(counts[met], usual_met, placed) - prior, rhythms)


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
    ends = placed.beats.start[:-1] + placed.beats.length[:-1]
    near = ends == placed.beats.start[1:]
    early = placed.carries[:-1, :, None] & near[:, None, None]
    steps = (
        OTHER_GRID * (threes[:, None] != threes)
        + IMPOSSIBLE * meets
        + early * learnt.met[1:, None, :]
    )
    best, come_from = learnt.cost[0], []
    for step, here in zip(steps, learnt.cost[1:], strict=True):
        through = best[:, None] + step
        come_from.append(through.argmin(axis=0))
        best = through.min(axis=0) + here
    path = [int(best.argmin())]
    for choice in reversed(come_from):
        path.append(int(choice[path[-1]]))
    return np.array(path[::-1], dtype=np.int64)
