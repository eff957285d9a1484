"""Takes of a player who wanders about the click: the wandering is taken out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from phrasing.reading.midi import rhythm
from phrasing.reading.midi.rhythm import EVEN, Beats
from phrasing.score.meters import TICKS, Bools, Floats, Ints

WINDOW = 1.5
"""Seconds over which a player's lateness is alike."""
SURELY = 3.0
"""Standard errors by which neighbours must agree before it counts as wandering."""
FEW = 16
"""Notes that are too few to tell."""


def wandering(late: Floats, at: Floats) -> Floats:
    """How late (seconds) the playing is around each note, 0 throughout if it is steady.

    ``late``: seconds by which each note lies behind its place; ``at``: seconds into the
    piece. A note's own lateness has no part in its answer: the others tell.
    """
    spread = 1.483 * float(np.median(np.abs(late - np.median(late))))
    calm = np.clip(late, -3 * spread, 3 * spread)
    around = _of_neighbours(calm, at)
    if len(late) < FEW or np.ptp(calm) == 0 or np.ptp(around) == 0:
        return np.zeros_like(late)
    alike = float(np.corrcoef(calm, around)[0, 1]) * np.sqrt(len(late))
    slope = float(np.dot(calm, around) / np.dot(around, around))
    return around * min(slope, 1.0) if alike > SURELY else np.zeros_like(late)


def _of_neighbours(late: Floats, at: Floats) -> Floats:
    """The mean of the notes around each, weighted by nearness in time, without itself."""
    before = _fading(late, at)
    after = [column[::-1] for column in _fading(late[::-1], -at[::-1])]
    total, weight = before[0] + after[0], before[1] + after[1]
    mean: Floats = total / np.maximum(weight, 1e-9)
    return mean


def _fading(late: Floats, at: Floats) -> list[Floats]:
    """Sums of all earlier values and of their weights, fading with time."""
    fade = np.exp(-np.diff(at, prepend=at[0]) / WINDOW)
    total, weight = 0.0, 0.0
    totals, weights = np.zeros_like(late), np.zeros_like(late)
    for i in range(1, len(late)):
        total = (total + late[i - 1]) * fade[i]
        weight = (weight + 1.0) * fade[i]
        totals[i], weights[i] = total, weight
    return [totals, weights]


# How a melody was played as a whole: how loosely, how late, and with what swing.

NOISES = (0.0, 0.001, 0.002, 0.004, 0.007, 0.010, 0.014, 0.019, 0.026, 0.035, 0.048)
"""Seconds of timing noise (standard deviation) that are tried; 0 is a file that is exact."""
ROUGHLY = (0.004, 0.010, 0.019, 0.035)
EXACT_NOISE = 0.5
"""Ticks of noise in an exact file, besides the file's own rounding."""
LATEST = 0.05
"""Seconds by which a whole take may lie late or early."""
LATE = np.linspace(-LATEST, LATEST, 7)
SWUNG = np.arange(0.56, 0.785, 0.03)
"""Where the second eighth of a pair may lie in its beat: ratios 1.3 to 3.5."""
OFF_BEATS = (0.54, 0.79)
"""Bounds of where it is looked for: a ratio under 1.2 is even, one over 3.8 is no swing."""
NARROW, CLUSTERS = 0.005, 3
"""How wide a cluster of off-beats is in an exact file, and how many clusters are tried."""
DOTTED, NEARLY_DOTTED = 0.75, 0.73
"""Second notes here are written as what they are: dotted eighth and sixteenth; in a take, from
the second on."""
SWING_COST = 6.0
LATE_COST = 6.0
"""Nats that it takes to believe in swing, in a late take."""
ENOUGH = 240
"""Notes that show how a melody is played."""


@dataclass(frozen=True)
class Passage:
    """A passage that is played in one feel: ``swing`` as in ``Take``.

    It likeliest begins with the beat at ``begin``, but hardly with the one at ``after`` and
    with the one at ``latest`` at the latest (ticks). ``odds``: how much more (nats) speaks for
    this feel than for the other.
    """

    after: float
    begin: float
    latest: float
    swing: float
    odds: float

    def later(self, by: int) -> Passage:
        """The same so many ticks later."""
        after, begin, latest = (at + by for at in (self.after, self.begin, self.latest))
        return replace(self, after=after, begin=begin, latest=latest)


@dataclass(frozen=True)
class Take:
    """``noise`` and ``late`` in seconds; ``swing``: where the second eighth lies in its beat,
    0.5 for even eighths; ``evidence`` in nats. ``odds``: how much more (nats) speaks for swing
    than for even eighths. ``passages``, where the feel changes on the way: some are even, and
    ``swing`` is that of the others."""

    noise: float
    late: float
    swing: float
    evidence: float = 0.0
    odds: float = -np.inf
    passages: tuple[Passage, ...] = ()

    def swings(self, beats: Beats) -> Floats:
        """Where the second eighth lies in each of these beats."""
        if not self.passages:
            return np.full(len(beats.start), self.swing)
        begins = [passage.begin for passage in self.passages]
        which = np.maximum(np.searchsorted(begins, beats.start, "right") - 1, 0)
        swings: Floats = np.array([passage.swing for passage in self.passages])[which]
        return swings


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

    def placed(self, take: Take) -> rhythm.OnGrids:
        """The notes on all grids, if the take was so late and swung so."""
        on_time = np.maximum.accumulate(self.onset - take.late * self.speed)
        return rhythm.place(on_time, self.beats, take.swings(self.beats))

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
        odds = _odds_of_swing(start, swung, even)
        take = replace(swung if odds > 0 else even, odds=odds)
    return _learnt(played, take) if take.noise else take


def _odds_of_swing(played: Played, take: Take, even: Take) -> float:
    """How much better (nats) swing explains the take than even or dotted eighths; nothing
    speaks for it at a ratio of no swing, or where the middle notes of triplets prevail."""
    dotted = _best(played, take.late, DOTTED, NOISES)
    odds = _worth(take) - max(_worth(even), _worth(dotted) + SWING_COST)
    placed = played.placed(take)
    best = rhythm.costs(placed, played.noise(take.noise)).argmin(axis=1)
    since = placed.chosen(best)[0] - placed.beats.start[placed.beat]
    third = np.abs(since - placed.beats.full[placed.beat] / 3) < 1
    within = OFF_BEATS[0] < take.swing < (NEARLY_DOTTED if take.noise else OFF_BEATS[1])
    prevails = int(_swung(placed, best).sum()) > int(third.sum())
    return odds if within and prevails else -np.inf


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
    simple = played.beats.kind[beat] == rhythm.SIMPLE
    late = phase[simple & (phase > OFF_BEATS[0]) & (phase < OFF_BEATS[1])]
    bins, counts = np.unique(np.rint(late / NARROW), return_counts=True)
    modes = bins[np.argsort(-counts, kind="stable")[:CLUSTERS]] * NARROW
    return [float(np.median(late[np.abs(late - mode) <= NARROW])) for mode in modes]


def _shifted(played: Played, take: Take, placed: rhythm.OnGrids, cost: Floats) -> Take:
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


def _swung(placed: rhythm.OnGrids, slots: Ints) -> Bools:
    """The notes that are the second eighth of a quarter, with these slots of the beats."""
    beats, beat = placed.beats, placed.beat
    middle = placed.chosen(slots)[0] - beats.start[beat] == beats.full[beat] / 2
    pairs = (slots == rhythm.PAIRS) & (beats.kind == rhythm.SIMPLE)
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


# Notes so short before another that a reader would write them small: grace notes.

SHORTEST = 0.080
"""Seconds to the next note under which a note may be a grace note."""
SHORTEST_IN_RUN, LONGEST_RUN = 0.070, 3
"""Seconds to the next for each of a run of grace notes, and how many such a run has at most."""
SMALL = TICKS / 9
"""Ticks to the next note under which it may be: less than a thirty-second."""
BEFORE, AFTER = 1.5, 3.0
"""How many times longer the notes before and after it last."""
FEW, SELDOM = 3, 0.12
"""Where more notes, and a greater share, have such before them, it is no ornament."""
ONE_MORE = 0.2
"""What one more of a run costs, as a part of ``GRACE_COST``."""
GRACE_COST = 4.5
"""Nats that it takes to believe in a grace note. With 4.5, nine in ten of the graces put into
folk tunes 30 to 50 ms before a beat were found, and one note in 2,500 was taken for one."""


def grace_notes(played: Played, take: Take) -> Bools:
    """Which notes read better as grace notes to the next than with a place of their own."""
    small = _small(played, take)
    last = small & ~np.append(small[1:], False)
    if not last.any() or last.sum() > max(FEW, SELDOM * (~small).sum()):
        return np.zeros_like(small)
    every, without = played.placed(take), played.only(~small)
    with_them = _by_beat(every, played, take)
    alone = _by_beat(without.placed(take), without, take)
    beat = np.searchsorted(played.beats.start, every.beats.start)[every.beat[small]]
    around = np.stack([beat, beat + 1])
    gain = (with_them[around] - alone[around]).sum(axis=0)
    crowd = np.bincount(beat, np.where(last[small], 1.0, ONE_MORE))[beat]
    small[small] = gain > GRACE_COST * crowd
    return small


def _small(played: Played, take: Take) -> Bools:
    """Notes shorter than those around them, alone or, in a take, a few in a run."""
    room = np.diff(played.onset, append=np.inf)
    longest = np.where(take.noise > 0, SHORTEST * played.speed, SMALL)
    short = room < np.minimum(longest, TICKS / 5)
    long = np.flatnonzero(~short)
    after = np.searchsorted(long, np.arange(len(room)))
    first, following = np.append(-1, long)[after] + 1, np.append(long, 0)[after]
    before = np.append(np.inf, room)[first]
    stands_out = (room[following] >= AFTER * room) & (before >= BEFORE * room)
    run = following - first
    in_run = (run <= LONGEST_RUN) & (room < SHORTEST_IN_RUN * played.speed) & (take.noise > 0)
    small: Bools = short & stands_out & ((run == 1) | in_run)
    return small


def _by_beat(placed: rhythm.OnGrids, played: Played, take: Take) -> Floats:
    """What the best reading of each beat costs (nats), 0 for beats without notes."""
    learnt = rhythm.learnt(placed, played.noise(take.noise))
    path = rhythm.best_path(placed, learnt)
    everywhere = np.zeros(len(played.beats.start) + 1)
    which = np.searchsorted(played.beats.start, placed.beats.start)
    everywhere[which] = learnt.cost[np.arange(len(path)), path]
    return everywhere


ROUGH = 0.020
"""Seconds of timing noise that are assumed before anything is known."""
ROUNDS = 3


def steady_take(played: Played, at: Floats) -> tuple[Played, Take]:
    """The notes without wandering, and how they were played; ``at``: seconds of each note."""
    take = how_played(played)
    if take.noise == 0:
        return played, take
    steadier = _by_plain_rhythms(played, at)
    return (played, take) if steadier is played else (steadier, how_played(steadier))


def _by_plain_rhythms(played: Played, at: Floats) -> Played:
    """The notes without the wandering that the plainest rhythms show."""
    for _ in range(ROUNDS):
        placed = played.placed(Take(ROUGH, 0.0, EVEN))
        cost = rhythm.costs(placed, played.noise(ROUGH))[:, : rhythm.PLAIN]
        steadier = _without(placed, cost, played, at)
        if steadier is played:
            break
        played = steadier
    return played


def _without(placed: rhythm.OnGrids, cost: Floats, played: Played, at: Floats) -> Played:
    """The notes without the wandering about the best of these places; the same if steady."""
    _, off = placed.chosen(cost.argmin(axis=1))
    away = wandering(off / played.speed, at)
    return replace(played, onset=played.onset - away * played.speed) if away.any() else played
