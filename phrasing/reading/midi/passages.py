"""Passages of a take: where its eighths are played even, and where with swing.

Every beat is looked at with even and with swung pairs, and the likeliest way from one feel to
the other through all beats is found by dynamic programming (Viterbi). A player who never
changes is told from one who does by how much better the passages explain the notes.

The numbers are design parameters of this project, set with folk tunes turned into takes
(``tests/takes_bench.py``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from phrasing.reading.midi import rhythm
from phrasing.reading.midi.rhythm import EVEN
from phrasing.reading.midi.takes import DOTTED, ROUGH, Passage, Played, Take
from phrasing.score.meters import Bools, Floats

NOISES = (0.007, 0.010, 0.014, 0.019, 0.026, 0.035)
"""Seconds of timing noise that are tried."""
SWUNG = (0.58, 0.61, 0.64, 0.67)
"""Where the second eighth of a swung pair may lie in its beat."""
FINER = 0.01
"""Steps in which it is looked for then."""
CHANGE = 4.5
"""Nats that a change of feel costs."""
NEEDED = 5.0
"""Nats by which passages must explain the notes better than one feel throughout."""
NEARLY = 4.5
"""Nats by which another place where the feel changes may be less likely, and a bar line that
stands there is believed."""
WANDERING = 10.0
"""Nats by which the notes must be likelier as played than without their wandering."""
DOTTED_BEAT = 1.0
"""Nats that a beat costs as a dotted eighth and a sixteenth, which are no swing."""
SURELY = 4.0
"""Nats that must speak for each passage."""
FEWEST = 24
"""Notes that are too few for two passages."""


@dataclass(frozen=True, eq=False)
class _Way:
    """Which beats are swung (``is_swung``), what each would ``cost`` (beats, feels) even and
    swung, and what all cost together (``total``, nats)."""

    take: Take
    is_swung: Bools
    cost: Floats
    total: float


def in_passages(raw: Played, steady: Played, take: Take) -> tuple[Played, Take]:
    """The notes and the take, with its passages if some are even and some are swung.

    ``raw``: as played; ``steady``, ``take``: without wandering, and how they were played then.
    A swung passage lies late as a whole, which looks like wandering.
    """
    simple = (raw.beats.kind == rhythm.SIMPLE).any()
    if not take.noise or not simple or len(raw.onset) < FEWEST:
        return steady, take
    ways = [(raw, 0.0)] if raw is not steady else []
    tried = [_of_feels(played, late) for played, late in [*ways, (steady, take.late)]]
    one_feel = min(feels.alone for feels in tried)
    feels = min(tried, key=lambda feels: feels.best.total + WANDERING * (feels.played is raw))
    best = feels.best
    gain = one_feel - best.total
    passages = tuple(_passages(feels.played, best))
    unsure = any(passage.odds < SURELY for passage in passages)
    if gain < NEEDED or len(passages) < 2 or unsure:
        return steady, take
    evidence = take.evidence + gain
    return feels.played, replace(best.take, evidence=evidence, odds=gain, passages=passages)


@dataclass(frozen=True, eq=False)
class _Feels:
    """The notes so ``late`` (seconds): what one feel throughout costs at best (``alone``,
    nats), and the ``best`` way through the feels."""

    played: Played
    alone: float
    best: _Way


def _of_feels(played: Played, late: float) -> _Feels:
    dotted = _by_noise(played, late, DOTTED) + DOTTED_BEAT
    even = np.minimum(_by_noise(played, late, EVEN), dotted)
    swung = [(at, _by_noise(played, late, at)) for at in SWUNG]
    costs = (even, *(cost for _, cost in swung))
    alone = min(float(cost.sum(axis=1).min()) for cost in costs)
    best = _best(late, even, swung)
    around = (best.take.swing + by * FINER for by in (-1, 1))
    finer = [(at, _by_noise(played, late, at)) for at in around]
    better = _best(late, even, finer)
    return _Feels(played, alone, min(best, better, key=lambda way: way.total))


def _by_noise(played: Played, late: float, swing: float) -> Floats:
    """What each beat costs with this feel, for each of ``NOISES``."""
    placed = played.placed(Take(ROUGH, late, swing))
    tried = (rhythm.costs(placed, played.noise(noise)) for noise in NOISES)
    return np.stack([-rhythm.by_beat(cost) for cost in tried])


def _best(late: float, even: Floats, swung: list[tuple[float, Floats]]) -> _Way:
    """The way that costs least, of all swings and noises."""
    ways = (
        _way(Take(noise, late, at), np.stack([even[i], costs[i]], axis=1))
        for at, costs in swung
        for i, noise in enumerate(NOISES)
    )
    return min(ways, key=lambda way: way.total)


def _way(take: Take, cost: Floats) -> _Way:
    change = CHANGE * (1 - np.eye(2))
    best, came = cost[0], []
    for here in cost[1:]:
        through = best[:, None] + change
        came.append(through.argmin(axis=0))
        best = through.min(axis=0) + here
    path = [int(best.argmin())]
    for choice in reversed(came):
        path.append(int(choice[path[-1]]))
    return _Way(take, np.array(path[::-1]) == 1, cost, float(best.min()))


def _passages(played: Played, way: _Way) -> Iterator[Passage]:
    """The passages one after the other."""
    starts = played.placed(way.take).beats.start
    swung = way.is_swung
    for_swing = way.cost[:, 0] - way.cost[:, 1]
    edges = [0, *(np.flatnonzero(np.diff(swung)) + 1).tolist(), len(swung)]
    place = 0.0, 0.0, 0.0
    for i, (first, until) in enumerate(pairwise(edges)):
        here = bool(swung[first])
        tells = for_swing if here else -for_swing
        if i:
            early, late = _window(tells[edges[i - 1] : until], first - edges[i - 1])
            edge = edges[i - 1]
            after, begin, latest = starts[[edge + early - 1, first, edge + late]].tolist()
            place = after, begin, latest
        odds = float(tells[first:until].sum())
        yield Passage(*place, way.take.swing if here else EVEN, odds)


def _window(tells: Floats, first: int) -> tuple[int, int]:
    """The beats, the first and the last, with which a feel may begin that likeliest begins
    with ``first``; ``tells``: what speaks for it (nats a beat)."""
    later = np.cumsum(tells)
    loss = later - later[first - 1]
    may = np.flatnonzero(loss[:-1] < NEARLY) + 1
    runs = np.split(may, np.flatnonzero(np.diff(may) > 1) + 1)
    around = next(run for run in runs if first in run)
    return int(around[0]), int(around[-1])
