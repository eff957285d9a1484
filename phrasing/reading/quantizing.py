"""From played time to written time: what a reader would write for what was played.

``quantize`` is pure: arrays in, arrays out, positions in ticks of score time (960 to the
quarter). It estimates how loosely the melody was played, whether all of it lies late or
early, and whether its eighths are swung, then finds the likeliest grid for every beat, over
the whole melody at once, and the lengths a reader would write.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from phrasing.melody import Bar
from phrasing.reading import rhythm
from phrasing.reading.grids import PAIRS, SIMPLE, WHOLE, Beats, beats_of
from phrasing.reading.lengths import written_lengths
from phrasing.reading.takes import EVEN, Played, how_played, steadied
from phrasing.tempo import TICKS, Bools, Floats, Ints, TempoMap


@dataclass(frozen=True, eq=False)
class Quantized:
    """One entry a note: ``onset`` and ``length`` (ticks, whole), and ``kept``: False for
    notes that had no place of their own, played so close before another that they are graces.
    ``off``: how far each was played from its place (ticks). ``noise``: the timing noise found,
    ``late``: how late the whole take was (both in seconds). ``swing``: the long-short ratio
    found, None for even eighths."""

    onset: Ints
    length: Ints
    kept: Bools
    off: Floats
    noise: float
    late: float
    swing: float | None


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
    """
    speed = np.asarray(tempos.at(onset), dtype=np.float64) * TICKS / 60
    beats = beats_of(bars)
    played = Played(onset, beats, speed, resolution)
    take = how_played(played)
    played, take = steadied(played, take, np.asarray(tempos.seconds(onset)))
    placed = played.placed(take.late, take.swing)
    cost, met = rhythm.learnt_costs(placed, played.noise(take.noise))
    chosen = rhythm.best_path(placed, cost, met)
    rows, slots = np.arange(len(onset)), chosen[placed.beat]
    written = np.rint(placed.point[rows, slots]).astype(np.int64)
    kept = np.append(np.diff(written) > 0, True)
    on_time = played.onset - take.late * speed
    span = np.stack([on_time, on_time + release - onset])
    if take.swing != EVEN:
        span = _straightened(span, beats, _swung_beats(beats, placed, chosen), take.swing)
    sounding = (span[1] - span[0])[kept]
    length = np.ones_like(written)
    length[kept] = written_lengths(written[kept], sounding, take.noise == 0, resolution)
    ratio = None if take.swing == EVEN else take.swing / (1 - take.swing)
    off = placed.off[rows, slots]
    return Quantized(written, length, kept, off, take.noise, take.late, ratio)


def _swung_beats(beats: Beats, placed: rhythm.Placed, chosen: Ints) -> Bools:
    """Which of all beats are swung: quarters that are not divided otherwise."""
    swung: Bools = beats.kind == SIMPLE
    otherwise = ~np.isin(chosen, (WHOLE, PAIRS))
    swung[np.searchsorted(beats.start, placed.beats.start[otherwise])] = False
    return swung


def _straightened(at: Floats, beats: Beats, swung: Bools, swing: float) -> Floats:
    """Positions with the late second eighths of swung beats moved to the middle."""
    beat = np.maximum(np.searchsorted(beats.start, at, "right") - 1, 0)
    phase = (at - beats.start[beat]) / beats.full[beat]
    first, second = phase * EVEN / swing, 1 - (1 - phase) * EVEN / (1 - swing)
    straight = beats.start[beat] + beats.full[beat] * np.where(phase < swing, first, second)
    return np.where(swung[beat] & (phase < 1), straight, at)
