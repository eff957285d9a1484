"""How a melody was played as a whole: how loosely, how late, and with what swing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from phrasing.reading import grids, rhythm
from phrasing.reading.grids import Beats
from phrasing.tempo import Bools, Floats, Ints

NOISES = (0.0, 0.001, 0.002, 0.004, 0.007, 0.010, 0.014, 0.019, 0.026, 0.035, 0.048)
"""Seconds of timing noise (standard deviation) that are tried; 0 is a file that is exact."""
ROUGHLY = (0.004, 0.010, 0.019, 0.035)
EXACT_NOISE = 0.5
"""Ticks of noise in an exact file, besides the file's own rounding."""
LATEST = 0.05
"""Seconds by which a whole take may lie late or early."""
LATE = np.linspace(-LATEST, LATEST, 7)
EVEN = 0.5
SWUNG = np.arange(0.56, 0.785, 0.03)
"""Where the second eighth of a pair may lie in its beat: ratios 1.3 to 3.5."""
OFF_BEATS = (0.54, 0.79)
"""Bounds of where it is looked for: a ratio under 1.2 is even, one over 3.8 is no swing."""
NARROW, CLUSTERS = 0.005, 3
"""How wide a cluster of off-beats is in an exact file, and how many clusters are tried."""
DOTTED = 0.75
"""Second notes here are written as what they are: dotted eighth and sixteenth."""
SWING_COST = 6.0
LATE_COST = 6.0
"""Nats that it takes to believe in swing, in a late take."""
ENOUGH = 240
"""Notes that show how a melody is played."""


@dataclass(frozen=True)
class Take:
    """``noise`` and ``late`` in seconds; ``swing``: where the second eighth lies in its beat,
    0.5 for even eighths; ``evidence`` in nats."""

    noise: float
    late: float
    swing: float
    evidence: float = 0.0


@dataclass(frozen=True, eq=False)
class Played:
    """The notes as they were played: ``onset`` (ticks), ``speed`` (ticks a second at each),
    ``resolution`` (ticks between two positions that the file can tell apart)."""

    onset: Floats
    beats: Beats
    speed: Floats
    resolution: float

    def noise(self, seconds: float) -> Floats:
        """Timing noise in ticks, for each note."""
        rounding = np.hypot(EXACT_NOISE, self.resolution / np.sqrt(12))
        ticks: Floats = np.hypot(seconds * self.speed, rounding)
        return ticks

    def placed(self, take: Take) -> rhythm.Placed:
        """The notes on all grids, if the take was so late and swung so."""
        on_time = np.maximum.accumulate(self.onset - take.late * self.speed)
        return rhythm.place(on_time, self.beats, take.swing)

    def only(self, these: Bools | slice) -> Played:
        """Some of the notes."""
        return replace(self, onset=self.onset[these], speed=self.speed[these])


def how_played(played: Played) -> Take:
    """The likeliest noise, lateness and swing together."""
    start = played.only(slice(ENOUGH))
    take = even = _searched(start, [EVEN])
    swings = [*_clusters(start), *(SWUNG if even.noise else ())]
    if swings:
        swung = _searched(start, swings)
        take = swung if _is_swing(start, swung, even) else even
    return _learnt(played, take) if take.noise else take


def _is_swing(played: Played, take: Take, even: Take) -> bool:
    """Whether swing explains the take better than even or dotted eighths, at a ratio of
    swing, and pairs prevail over the middle notes of triplets."""
    dotted = _best(played, take.late, DOTTED, NOISES)
    if _worth(take) <= max(_worth(even), _worth(dotted) + SWING_COST):
        return False
    placed = played.placed(take)
    best = rhythm.costs(placed, played.noise(take.noise)).argmin(axis=1)
    since = placed.chosen(best)[0] - placed.beats.start[placed.beat]
    third = np.abs(since - placed.beats.full[placed.beat] / 3) < 1
    within = OFF_BEATS[0] < take.swing < OFF_BEATS[1]
    return within and int(_swung(placed, best).sum()) > int(third.sum())


def _worth(take: Take) -> float:
    return take.evidence - LATE_COST * (take.late != 0) - SWING_COST * (take.swing != EVEN)


def _searched(played: Played, swings: Sequence[float]) -> Take:
    """The best take on time with one of these swings; if it is not exact, late ones too."""
    take = max((_best(played, 0.0, at, NOISES) for at in swings), key=_worth)
    if take.noise == 0:
        return take
    take = max((_best(played, late, take.swing, ROUGHLY) for late in LATE), key=_worth)
    for _ in range(2):
        placed = played.placed(take)
        take = _shifted(played, take, placed, rhythm.costs(placed, played.noise(take.noise)))
        take = _best(played, take.late, take.swing, NOISES)
    return take


def _best(played: Played, late: float, swing: float, noises: tuple[float, ...]) -> Take:
    take = Take(0.0, late, swing)
    placed = played.placed(take)
    tried = [
        replace(take, noise=s, evidence=rhythm.evidence(rhythm.costs(placed, played.noise(s))))
        for s in noises
    ]
    return max(tried, key=lambda take: take.evidence)


def _clusters(played: Played) -> list[float]:
    """Where second notes of a beat lie most often, between a half and the end of it."""
    starts = played.beats.start
    beat = np.maximum(np.searchsorted(starts, played.onset, "right") - 1, 0)
    phase = (played.onset - starts[beat]) / played.beats.full[beat]
    simple = played.beats.kind[beat] == grids.SIMPLE
    late = phase[simple & (phase > OFF_BEATS[0]) & (phase < OFF_BEATS[1])]
    bins, counts = np.unique(np.rint(late / NARROW), return_counts=True)
    modes = bins[np.argsort(-counts, kind="stable")[:CLUSTERS]] * NARROW
    return [float(np.median(late[np.abs(late - mode) <= NARROW])) for mode in modes]


def _shifted(played: Played, take: Take, placed: rhythm.Placed, cost: Floats) -> Take:
    """With lateness and swing moved to where the notes are."""
    best = cost.argmin(axis=1)
    (_, off), swung = placed.chosen(best), _swung(placed, best)
    late, swing = take.late, take.swing
    if (~swung).any():
        late += float(np.median((off / played.speed)[~swung]))
    if swing != EVEN and swung.any():
        off = off - (late - take.late) * played.speed
        swing += float(np.median((off / placed.beats.full[placed.beat])[swung]))
    return replace(take, late=float(np.clip(late, -LATEST, LATEST)), swing=swing)


def _swung(placed: rhythm.Placed, slots: Ints) -> Bools:
    """The notes that are the second eighth of a quarter, with these slots of the beats."""
    beats, beat = placed.beats, placed.beat
    middle = placed.chosen(slots)[0] - beats.start[beat] == beats.full[beat] / 2
    pairs = (slots == grids.PAIRS) & (beats.kind == grids.SIMPLE)
    swung: Bools = pairs[beat] & middle
    return swung


def _learnt(played: Played, take: Take) -> Take:
    """What fits best once the piece's own rhythms are known: on time after all, perhaps."""
    take = _best_learnt(played, take)
    placed = played.placed(take)
    cost = rhythm.learnt(placed, played.noise(take.noise)).cost
    moved = _best_learnt(played, _shifted(played, take, placed, cost))
    on_time = _best_learnt(played, replace(take, late=0.0))
    return max((take, moved, on_time), key=_worth)


def _near(noise: float) -> Sequence[float]:
    """The noises tried that are nearest to one of them, and itself; 0 only next to 0."""
    at = NOISES.index(noise)
    return NOISES[max(at - 1, min(at, 1)) : at + 2]


def _best_learnt(played: Played, take: Take) -> Take:
    """The take with the noise that fits best once the piece's own rhythms are known."""
    placed = played.placed(take)
    tried = [
        replace(take, noise=s, evidence=rhythm.learnt(placed, played.noise(s)).evidence)
        for s in _near(take.noise)
    ]
    return max(tried, key=lambda t: t.evidence)
