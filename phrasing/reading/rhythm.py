"""Which grid each beat of a melody is played on: the likeliest reading of all beats together.

A reading is judged by how far each note lies from its place (Gaussian timing noise with a few
stray notes) and by how usual its rhythm is: first by ``grids``, then more and more by the
rhythms of the piece itself. The last word is a path through all beats (Viterbi).

Positions are ticks of score time; noise is in ticks too, one value a note.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phrasing.reading import grids
from phrasing.reading.grids import Beats
from phrasing.tempo import Bools, Floats, Ints

STRAY = 0.02
"""Share of notes that are played away from their place for reasons of their own."""
STRAY_NOISE = 5.0
"""How much wider their noise is."""
PRIOR_BEATS = 4.0
"""How many beats of the piece weigh as much as what is usual everywhere."""
ROUNDS = 4
SAME_GRID = 1.5
"""Nats that a change into or out of triplets costs."""
IMPOSSIBLE = 1e6


@dataclass(frozen=True, eq=False)
class Placed:
    """Every note on every grid. ``beat``: the beat a note is looked at with, as an index into
    the beats that have notes; ``first``: the first note of each; ``place`` and ``off`` (notes,
    slots): the point taken and how far the note is from it (ticks); ``prior``, ``pattern``
    and ``possible`` (beats, slots)."""

    beats: Beats
    beat: Ints
    first: Ints
    place: Floats
    off: Floats
    prior: Floats
    pattern: Ints
    possible: Bools


def place(onset: Floats, beats: Beats, swing: float = 0.5) -> Placed:
    """The nearest point of each grid for each note.

    ``onset``: ticks, latency taken away. ``swing``: where the second eighth of a pair is
    played, as a part of the beat; its place stays the middle.
    """
    lead = beats.full * grids.EARLY
    which = np.maximum(np.searchsorted(beats.start - lead, onset, "right") - 1, 0)
    used, beat = np.unique(which, return_inverse=True)
    mine = Beats(*(column[used] for column in vars(beats).values()))
    first = np.searchsorted(beat, np.arange(len(used)))
    since = (onset - mine.start[beat])[:, None]
    parts = grids.parts()[mine.kind]
    spacing = (mine.full[:, None] / parts)[beat]
    index = np.rint(since / spacing)
    limit = np.ceil(mine.length[:, None] / (mine.full[:, None] / parts) - 1e-9)[beat]
    index = np.clip(index, -grids.BELOW, limit)
    point = np.minimum(index * spacing, mine.length[beat][:, None])
    off = since - point
    if swing != 0.5:
        _swing_pairs(since[:, 0], mine, beat, index, point, off, swing)
    return _with_patterns(mine, beat, first, index.astype(np.int64), point, off)


def _swing_pairs(
    since: Floats, mine: Beats, beat: Ints, index: Floats, point: Floats, off: Floats, at: float
) -> None:
    """Put the late second eighth into the slot of pairs, in simple beats."""
    simple = (mine.kind == grids.SIMPLE)[beat]
    full = mine.full[beat]
    phase = since / full
    edges = np.array([(at - 1) / 2, at / 2, (1 + at) / 2])
    played = np.array([at - 1, 0.0, at, 1.0])
    taken = np.searchsorted(edges, phase)
    index[simple, grids.PAIRS] = (taken - 1)[simple]
    point[simple, grids.PAIRS] = ((taken - 1) * full / 2)[simple]
    off[simple, grids.PAIRS] = (since - played[taken] * full)[simple]


def _with_patterns(
    mine: Beats, beat: Ints, first: Ints, index: Ints, point: Floats, off: Floats
) -> Placed:
    parts = grids.parts()[mine.kind]
    silent, note = grids.weights()
    slots = np.arange(grids.SLOTS)
    added = note[mine.kind[beat][:, None], slots, index + grids.BELOW]
    prior = silent[mine.kind] + np.add.reduceat(added, first)
    divisor = np.gcd.reduceat(np.abs(index), first)
    ragged = slots == grids.SLOTS - 1
    collides = (np.diff(index, axis=0) <= 0) & (np.diff(beat) == 0)[:, None]
    clash = np.zeros_like(prior, dtype=bool)
    np.logical_or.at(clash, beat[1:], collides)
    possible = (grids.is_plainest(parts, divisor) & ~clash) | ragged
    bits = np.left_shift(1, np.minimum(index + grids.BELOW, 30))
    pattern = np.add.reduceat(bits, first) + (slots << 40) + (mine.kind << 50)[:, None]
    place_ = mine.start[beat][:, None] + point
    return Placed(mine, beat, first, place_, off, prior, pattern, possible)


def misfit(off: Floats, noise: Floats) -> Floats:
    """Minus log likelihood of each note at each grid, in nats; ``noise``: ticks a note."""
    scaled = off / noise[:, None]
    near = np.log(1 - STRAY) - 0.5 * scaled**2
    stray = np.log(STRAY / STRAY_NOISE) - 0.5 * (scaled / STRAY_NOISE) ** 2
    cost: Floats = np.log(noise)[:, None] - np.logaddexp(near, stray)
    return cost


def evidence(placed: Placed, noise: Floats) -> float:
    """Log evidence of the melody with nothing known but what is usual everywhere."""
    return float(_log_sum(-_costs(placed, noise, placed.prior)).sum())


def _costs(placed: Placed, noise: Floats, prior: Floats) -> Floats:
    fit = np.add.reduceat(misfit(placed.off, noise), placed.first)
    return np.where(placed.possible, fit + prior, IMPOSSIBLE)


def _log_sum(values: Floats) -> Floats:
    top = values.max(axis=1)
    total: Floats = top + np.log(np.exp(values - top[:, None]).sum(axis=1))
    return total


def learnt_costs(placed: Placed, noise: Floats) -> Floats:
    """Costs (beats, slots) once the piece's own rhythms are known.

    Each beat learns from all others, never from itself.
    """
    _, which = np.unique(placed.pattern, return_inverse=True)
    which = which.reshape(placed.pattern.shape)
    usual = np.exp(-placed.prior)
    costs = _costs(placed, noise, placed.prior)
    for _ in range(ROUNDS):
        chance = np.exp(-costs - _log_sum(-costs)[:, None])
        seen = np.bincount(which.ravel(), chance.ravel())[which] - chance
        share = (seen + PRIOR_BEATS * usual) / (len(costs) - 1 + PRIOR_BEATS)
        costs = _costs(placed, noise, -np.log(np.maximum(share, 1e-300)))
    return costs


def best_path(placed: Placed, costs: Floats) -> NDArray[np.int64]:
    """For each note the slot of its beat on the likeliest path through all beats."""
    last = np.append(placed.first[1:], len(placed.beat)) - 1
    meets = placed.place[last][:-1, :, None] >= placed.place[placed.first][1:, None, :]
    slots = np.arange(grids.SLOTS)
    threes = np.isin(slots, grids.TRIPLETS)
    change = SAME_GRID * (threes[:, None] != threes[None, :])
    steps = change + IMPOSSIBLE * meets
    best, come_from = costs[0], []
    for beat in range(1, len(costs)):
        through = best[:, None] + steps[beat - 1]
        come_from.append(through.argmin(axis=0))
        best = through.min(axis=0) + costs[beat]
    path = [int(best.argmin())]
    for choice in reversed(come_from):
        path.append(int(choice[path[-1]]))
    return np.array(path[::-1])[placed.beat]
