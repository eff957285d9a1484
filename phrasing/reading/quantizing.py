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
from phrasing.reading.grids import Beats, beats_of
from phrasing.reading.lengths import written_lengths
from phrasing.tempo import TICKS, Floats, Ints, TempoMap

NOISES = (0.0, 0.001, 0.002, 0.004, 0.007, 0.010, 0.014, 0.019, 0.026, 0.035, 0.048)
"""Seconds of timing noise (standard deviation) that are tried; 0 is a file that is exact."""
EXACT_NOISE = 0.5
"""Ticks of noise in an exact file, besides the file's own rounding."""
LATE = np.arange(-0.06, 0.0601, 0.01)
"""Seconds by which a whole take may lie late."""
SWUNG = np.arange(0.56, 0.785, 0.01)
"""Where the second eighth of a pair may lie in its beat: ratios 1.3 to 3.5."""
DOTTED = (0.73, 0.77)
"""Second notes here are written as what they are, dotted eighth and sixteenth."""
SWING_COST = 6.0
LATE_COST = 6.0
"""Nats that it takes to believe in swing, in a late take."""


@dataclass(frozen=True, eq=False)
class Quantized:
    """One entry a note: ``onset`` and ``length`` (ticks, whole), and ``kept``: False for
    notes that had no place of their own, played so close before another that they are graces.
    ``off``: how far each was played from its place (ticks). ``noise``: the timing noise found,
    ``late``: how late the whole take was (both in seconds). ``swing``: the long-short ratio
    found, None for even eighths."""

    onset: Ints
    length: Ints
    kept: np.ndarray
    off: Floats
    noise: float
    late: float
    swing: float | None


@dataclass(frozen=True)
class _Take:
    """How the melody was played, in all."""

    noise: float
    late: float
    swing: float
    evidence: float


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
    beats = beats_of(bars)
    speed = np.asarray(tempos.at(onset), dtype=np.float64) * TICKS / 60
    take = _how_played(onset, beats, speed, resolution)
    placed = rhythm.place(onset - take.late * speed, beats, take.swing)
    noise = _noise(take.noise, speed, resolution)
    slots = rhythm.best_path(placed, rhythm.learnt_costs(placed, noise))
    rows = np.arange(len(onset))
    written = np.rint(placed.place[rows, slots]).astype(np.int64)
    off = placed.off[rows, slots]
    kept = np.append(np.diff(written) > 0, True)
    lengths = np.ones_like(written)
    lengths[kept] = written_lengths(
        written[kept],
        (release - take.late * speed)[kept],
        onset[kept] - take.late * speed[kept],
        bars,
    )
    ratio = take.swing / (1 - take.swing) if take.swing != 0.5 else None
    return Quantized(written, lengths, kept, off, take.noise, take.late, ratio)


def _noise(seconds: float, speed: Floats, resolution: float) -> Floats:
    rounding = np.hypot(EXACT_NOISE, resolution / np.sqrt(12))
    noise: Floats = np.hypot(seconds * speed, rounding)
    return noise


def _how_played(onset: Floats, beats: Beats, speed: Floats, resolution: float) -> _Take:
    """The likeliest noise, lateness and swing together."""
    take = _best_noise(onset, beats, speed, resolution, 0.0, 0.5)
    if take.noise > 0:
        late = [_best_noise(onset, beats, speed, resolution, s, 0.5) for s in LATE if s]
        take = max(take, *late, key=lambda t: t.evidence - LATE_COST * (t.late != 0))
    swung = [_best_noise(onset, beats, speed, resolution, take.late, at) for at in SWUNG]
    best = max(swung, key=lambda t: t.evidence)
    if best.evidence - SWING_COST > take.evidence and not DOTTED[0] < best.swing < DOTTED[1]:
        return best
    return take


def _best_noise(
    onset: Floats, beats: Beats, speed: Floats, resolution: float, late: float, swing: float
) -> _Take:
    placed = rhythm.place(onset - late * speed, beats, swing)
    tried = [
        _Take(s, late, swing, rhythm.evidence(placed, _noise(s, speed, resolution)))
        for s in NOISES
    ]
    return max(tried, key=lambda t: t.evidence)
