"""From played time to written time: what a reader would write for what was played.

``quantize`` is pure: arrays in, arrays out, positions in ticks of score time (960 to the
quarter). It estimates how loosely the melody was played, whether all of it lies late or
early, and whether its eighths are swung, then finds the likeliest grid for every beat, over
the whole melody at once, and the lengths a reader would write.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from phrasing.reading.midi import rhythm
from phrasing.reading.midi.passages import in_passages
from phrasing.reading.midi.rhythm import (
    EVEN,
    PAIRS,
    RAGGED_SLOT,
    SIMPLE,
    WHOLE,
    Beats,
    beats_of,
)
from phrasing.reading.midi.takes import Passage, Played, Take, grace_notes, steady_take
from phrasing.score.meters import TICKS, Bar, Bools, Floats, Ints, TempoMap

EIGHTH, SIXTEENTH = TICKS // 2, TICKS // 4
LATTICES = (TICKS // 16, TICKS // 12, TICKS // 10)
"""Where notes of an exact file end: 64ths, sextuplets in two, quintuplets in two."""
REST_STEPS = (EIGHTH, TICKS // 3)
"""Where rests begin in a file whose lengths are meant as they stand."""
UNALIKE = 0.2
"""How much gates differ that no program has made."""
SURELY = 0.9
"""Share of an exact file's notes that must end there if its lengths are to be believed."""
SHORTENED = (0.5, 0.9)
"""A note played short for its own sake keeps this much of its length."""
OFTEN = 0.2
"""How often notes are."""
GATE_SPREAD = (0.10, 0.30)
"""Bounds of how much a player's gates spread, as a factor (standard deviation of its log)."""
REST = 2.0
OFF_BEAT_REST = 1.0
"""Nats that it takes to believe in a rest, and more for one that starts off the beat."""


@dataclass(frozen=True, eq=False)
class Ends:
    """Notes by their written ``onset``, the ``room`` to the next onset (endless for the last),
    and how long they sounded."""

    onset: Floats
    room: Floats
    sounding: Floats


def written_lengths(onset: Ints, sounding: Floats, exact: bool, resolution: float) -> Ints:
    """The written length of each note, in ticks.

    ``onset``: written, ascending. ``sounding``: ticks that each note was held. ``exact``:
    whether the onsets are those of a notation program, to the tick of the file
    (``resolution`` ticks).
    """
    room = np.append(np.diff(onset), np.inf).astype(np.float64)
    ends = Ends(onset.astype(np.float64), room, np.maximum(sounding, 1.0))
    lengths = _played(ends)
    if exact:
        literal = _literal(ends, resolution)
        lengths = np.where(np.isnan(literal), lengths, literal)
    return np.maximum(np.rint(np.minimum(lengths, room)), 1).astype(np.int64)


def _literal(ends: Ends, resolution: float) -> Floats:
    """The lengths that an exact file states, not a number where it states none.

    Some programs shorten every note, by a factor or by a fixed time: that is undone.
    """
    tolerance = 0.5 * resolution + 1.0
    ways = [(1.0, 0.0)] if _on_eighths(ends, tolerance) else _shortenings(ends)
    best = max(
        (_stated(ends, gate, gap, tolerance) for gate, gap in ways),
        key=lambda lengths: _belief(ends, lengths, tolerance),
    )
    if np.isnan(best).mean() > 1 - SURELY:
        return np.full_like(best, np.nan)
    on_eighth = ends.onset % EIGHTH == 0
    staccato = on_eighth & (ends.room == EIGHTH) & (np.abs(best - SIXTEENTH) <= tolerance)
    return np.where(staccato | (ends.room - best <= tolerance), ends.room, best)


def _on_eighths(ends: Ends, tolerance: float) -> bool:
    """Whether every note ends on an eighth or a triplet's, some sooner than others: what is
    there then is meant, since no program shortens notes so."""
    stop = ends.onset + ends.sounding
    off = np.min([np.abs(stop - np.rint(stop / step) * step) for step in REST_STEPS], axis=0)
    known = np.isfinite(ends.room)
    gates = (ends.sounding / ends.room)[known]
    return bool((off <= tolerance).all() and len(gates) and np.ptp(gates) > UNALIKE)


def _shortenings(ends: Ends) -> list[tuple[float, float]]:
    """Gates and gaps (ticks) by which a program may have shortened every note."""
    known = np.isfinite(ends.room)
    if not known.any():
        return [(1.0, 0.0)]
    gates = np.rint(ends.sounding[known] / ends.room[known] * 200) / 200
    gaps = np.rint(ends.room[known] - ends.sounding[known])
    return [(1.0, 0.0), (max(_commonest(gates), 0.005), 0.0), (1.0, _commonest(gaps))]


def _commonest(values: Floats) -> float:
    found, counts = np.unique(values, return_counts=True)
    return float(found[counts.argmax()])


def _stated(ends: Ends, gate: float, gap: float, tolerance: float) -> Floats:
    """Lengths up to the point of a lattice where each note ends, if it ends on one."""
    stop = ends.onset + ends.sounding / gate + gap
    points = np.stack([np.rint(stop / step) * step for step in LATTICES])
    nearest = points[np.abs(points - stop).argmin(axis=0), np.arange(len(stop))]
    fits = (np.abs(nearest - stop) <= tolerance / gate) & (nearest > ends.onset)
    return np.where(fits, nearest - ends.onset, np.nan)


def _belief(ends: Ends, lengths: Floats, tolerance: float) -> float:
    """How many notes end where notes end, and how many of them where the next begins."""
    stated = ~np.isnan(lengths)
    meets = stated & (np.abs(ends.room - lengths) <= tolerance)
    return float(stated.mean() + meets.mean())


def _played(ends: Ends) -> Floats:
    """The likeliest of: up to the next note, or to a place near its end where a rest starts."""
    gate, spread = _usual_gate(ends)
    step = np.where(ends.onset % EIGHTH == 0, EIGHTH, TICKS // 3)
    step = np.where((ends.onset % SIXTEENTH == 0) & (ends.onset % EIGHTH != 0), SIXTEENTH, step)
    meant = ends.onset + ends.sounding / gate
    below = np.floor(meant / step) * step
    choices = np.stack([below, below + step, np.rint(meant / TICKS) * TICKS])
    lengths = choices - ends.onset
    cost = _misfit(ends.sounding / np.maximum(lengths, 1), gate, spread)
    cost += REST + OFF_BEAT_REST * (choices % TICKS != 0)
    cost[(lengths <= 0) | (ends.room - lengths < _least_rest(ends))] = np.inf
    full = _full_cost(ends, gate, spread)
    best = cost.argmin(axis=0)
    rows = np.arange(len(best))
    return np.where(full <= cost[best, rows], ends.room, lengths[best, rows])


def _least_rest(ends: Ends) -> Floats:
    """The shortest rest that is believed after a played note: an eighth, or a triplet's."""
    return np.where(ends.onset % SIXTEENTH == 0, EIGHTH, TICKS // 3).astype(np.float64)


def _full_cost(ends: Ends, gate: float, spread: float) -> Floats:
    """Nats for reading a note up to the next: held as usual, or shortened for its own sake."""
    held = ends.sounding / ends.room
    usual = np.log(1 - OFTEN) - _misfit(held, gate, spread)
    low, high = np.log(SHORTENED)
    inside = (held >= SHORTENED[0]) & (held <= SHORTENED[1])
    short = np.where(inside, np.log(OFTEN / (high - low)), -np.inf)
    cost: Floats = -np.logaddexp(usual, short)
    return cost


def _misfit(held: Floats, gate: float, spread: float) -> Floats:
    """Minus log likelihood that a note is held for this part of its length."""
    off = (np.log(np.maximum(held, 1e-9)) - np.log(gate)) / spread
    cost: Floats = 0.5 * off**2 + np.log(spread * np.sqrt(2 * np.pi))
    return cost


def _usual_gate(ends: Ends) -> tuple[float, float]:
    """The player's usual gate and its spread, from the notes that hardly hide a rest."""
    held = ends.sounding / ends.room
    telling = _telling(ends, held)
    if not telling.any():
        return 0.9, GATE_SPREAD[1]
    logs = np.log(np.clip(held[telling], 0.3, 1.1))
    middle = float(np.median(logs))
    spread = 1.483 * float(np.median(np.abs(logs - middle)))
    return float(np.exp(middle)), float(np.clip(spread, *GATE_SPREAD))


def _telling(ends: Ends, held: Floats) -> Bools:
    short = ends.room <= EIGHTH
    return short if short.sum() >= 8 else (ends.room <= 4 * TICKS) & (held > SHORTENED[0])


@dataclass(frozen=True, eq=False)
class Quantized:
    """What to write.

    ``kept`` (one entry a played note): False for notes that have no place of their own and
    are graces to the next one. All other columns have one entry a note kept: ``onset`` and
    ``length`` (ticks, whole), and ``off``, how far each was played behind its place (ticks;
    in swung pairs, behind the swung place). ``noise``: the timing noise found, ``late``: how
    late the whole take was (both in seconds). ``swing``: the long-short ratio found, None for
    even eighths, ``swing_chance``: how likely it is swung, 0 to 1. ``passages``: where some of
    it is even and some swung, one after the other. ``evidence``: how well the beats account
    for the playing (log of its chance), to compare readings of the same notes over other bars.
    """

    kept: Bools
    onset: Ints
    length: Ints
    off: Floats
    noise: float
    late: float
    swing: float | None
    swing_chance: float
    evidence: float
    passages: tuple[Passage, ...] = ()

    def later(self, by: int) -> Quantized:
        """The same so many ticks later."""
        moved = (passage.later(by if i else 0) for i, passage in enumerate(self.passages))
        return replace(self, onset=self.onset + by, passages=tuple(moved))


def quantize(
    onset: Floats,
    release: Floats,
    bars: Sequence[Bar],
    tempos: TempoMap,
    resolution: float = 1.0,
) -> Quantized:
    """The written onsets and lengths of a line of notes.

    ``onset`` (ascending) and ``release``: ticks, fractional. ``bars`` reach past the last
    onset. ``resolution``: ticks between two positions the file can tell apart.

    Two eighths and a quarter, a little late:

    >>> from phrasing.score.meters import bars_of_meters
    >>> found = quantize(
    ...     np.array([9.0, 492.0, 968.0]), np.array([470.0, 930.0, 1830.0]),
    ...     bars_of_meters({}, 3840), TempoMap(),
    ... )
    >>> found.onset.tolist(), found.length.tolist()
    ([0, 480, 960], [480, 480, 960])
    """
    speed = np.asarray(tempos.at(onset), dtype=np.float64) * TICKS / 60
    raw = Played(onset, beats_of(bars), speed, resolution)
    played, take = in_passages(raw, *steady_take(raw, np.asarray(tempos.seconds(onset))))
    kept = ~grace_notes(played, take)
    written, off, straight = _written(played.only(kept), (release - onset)[kept], take)
    off += (onset - played.onset + take.late * speed)[kept]
    placed = written < _earliest_after(written)
    kept[kept] = placed
    length = written_lengths(written[placed], straight[placed], take.noise == 0, resolution)
    chance = float(1 / (1 + np.exp(-np.clip(take.odds, -50, 50))))
    ratio = None if take.swing == EVEN else float(take.swing / (1 - take.swing))
    return Quantized(
        kept,
        written[placed],
        length,
        off[placed],
        take.noise,
        take.late,
        ratio,
        chance,
        take.evidence,
        take.passages,
    )


def _written(played: Played, sounding: Floats, take: Take) -> tuple[Ints, Floats, Floats]:
    """The written onset of each note, how far it was played from its place, and how long it
    was held, in straightened time. What is exact and fits no grid stays where it is."""
    placed = played.placed(take)
    learnt = rhythm.learnt(placed, played.noise(take.noise))
    chosen = rhythm.best_path(placed, learnt)
    point, off = placed.chosen(chosen)
    begin = played.onset - take.late * played.speed
    if take.noise == 0:
        point = np.where(chosen[placed.beat] == RAGGED_SLOT, begin, point)
    onset = np.maximum(np.rint(point).astype(np.int64), 0)
    if take.swing != EVEN:
        swung = _swung_beats(played.beats, placed, chosen)
        span = np.stack([begin, begin + sounding])
        ends = _straightened(span, played.beats, swung, take.swings(played.beats))
        sounding = np.maximum(ends[1] - ends[0], _share_of_room(begin, sounding, onset))
    return onset, off, sounding


def _share_of_room(begin: Floats, sounding: Floats, onset: Ints) -> Floats:
    """How long each note would be held if it filled its written room as the played one."""
    share = sounding / np.maximum(np.diff(begin, append=np.inf), 1.0)
    return share * np.diff(onset, append=onset[-1])


def _earliest_after(onset: Ints) -> Floats:
    """For each note the earliest onset among all that follow."""
    after = np.append(onset[1:], np.inf)
    earliest: Floats = np.minimum.accumulate(after[::-1])[::-1]
    return earliest


def _swung_beats(beats: Beats, placed: rhythm.OnGrids, chosen: Ints) -> Bools:
    """Which of all beats are swung: quarters that are not divided otherwise."""
    swung: Bools = beats.kind == SIMPLE
    otherwise = ~np.isin(chosen, (WHOLE, PAIRS))
    swung[np.searchsorted(beats.start, placed.beats.start[otherwise])] = False
    return swung


def _straightened(at: Floats, beats: Beats, swung: Bools, swings: Floats) -> Floats:
    """Positions with the late second eighths of swung beats moved to the middle."""
    beat = np.maximum(np.searchsorted(beats.start, at, "right") - 1, 0)
    phase, swing = (at - beats.start[beat]) / beats.full[beat], swings[beat]
    first, second = phase * EVEN / swing, 1 - (1 - phase) * EVEN / (1 - swing)
    straight = beats.start[beat] + beats.full[beat] * np.where(phase < swing, first, second)
    return np.where(swung[beat] & (phase < 1), straight, at)
