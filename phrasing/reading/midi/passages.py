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
from phrasing.score.meters import Bools, Floats, Ints

NOISES = (0.007, 0.010, 0.014, 0.019, 0.026, 0.035)
"""Seconds of timing noise that are tried."""
SWUNG = (0.58, 0.61, 0.64, 0.67, 0.70)
"""Where the second eighth of a swung pair may lie in its beat."""
FINER = 0.01
"""Steps in which it is looked for then."""
CHANGE = 4.5
"""Nats that a change of feel costs."""
NEEDED = 3.0
"""Nats by which passages must explain the notes better than one feel throughout."""
NEARLY = 4.5
"""Nats by which another place where the feel changes may be less likely, and a bar line that
stands there is believed."""
WANDERING = 10.0
"""Nats by which the notes must be likelier as played than without their wandering."""
FEELS, SWUNG_FEEL = 3, 1
"""Even pairs, swung ones, and dotted eighths with sixteenths, which are no swing."""
FEWEST = 24
"""Notes that are too few for two passages."""


@dataclass(frozen=True, eq=False)
class _Way:
    """Feels along the beats: which (``feel``), what each would ``cost`` (beats, feels) there,
    and what all cost together (``total``, nats)."""

    take: Take
    feel: Ints
    cost: Floats
    total: float

    @property
    def is_swung(self) -> Bools:
        """Which beats."""
        return np.asarray(self.feel == SWUNG_FEEL)

    @property
    def changes(self) -> bool:
        """Whether there is a change between even and swung."""
        return bool(self.is_swung.any() and not self.is_swung.all())


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
    if gain < NEEDED or not best.changes:
        return steady, take
    passages = tuple(_passages(feels.played, best))
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
    even, dotted = (_by_noise(played, late, at) for at in (EVEN, DOTTED))
    swung = [(at, _by_noise(played, late, at)) for at in SWUNG]
    costs = (even, dotted, *(cost for _, cost in swung))
    alone = min(float(cost.sum(axis=1).min()) for cost in costs)
    best = _best(late, even, dotted, swung)
    around = (best.take.swing + by * FINER for by in (-1, 1))
    finer = [(at, _by_noise(played, late, at)) for at in around]
    better = _best(late, even, dotted, finer)
    return _Feels(played, alone, min(best, better, key=lambda way: way.total))


def _by_noise(played: Played, late: float, swing: float) -> Floats:
    """What each beat costs with this feel, for each of ``NOISES``."""
    placed = played.placed(Take(ROUGH, late, swing))
    tried = (rhythm.costs(placed, played.noise(noise)) for noise in NOISES)
    return np.stack([-rhythm.by_beat(cost) for cost in tried])


def _best(late: float, even: Floats, dotted: Floats, swung: list[tuple[float, Floats]]) -> _Way:
    """The way that costs least, of all swings and noises."""
    ways = (
        _way(Take(noise, late, at), np.stack([even[i], costs[i], dotted[i]], axis=1))
        for at, costs in swung
        for i, noise in enumerate(NOISES)
    )
    return min(ways, key=lambda way: way.total)


def _way(take: Take, cost: Floats) -> _Way:
    change = CHANGE * (1 - np.eye(FEELS))
    best, came = cost[0], []
    for here in cost[1:]:
        through = best[:, None] + change
        came.append(through.argmin(axis=0))
        best = through.min(axis=0) + here
    path = [int(best.argmin())]
    for choice in reversed(came):
        path.append(int(choice[path[-1]]))
    return _Way(take, np.array(path[::-1]), cost, float(best.min()))


def _passages(played: Played, way: _Way) -> Iterator[Passage]:
    """The passages one after the other."""
    starts = played.placed(way.take).beats.start
    swung = way.is_swung
    for_swing = np.minimum(way.cost[:, 0], way.cost[:, 2]) - way.cost[:, SWUNG_FEEL]
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
