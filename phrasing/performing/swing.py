"""Swing: the long-short ratio by tempo, and off-beats moved by it.

The ratio r is long : short for a pair of eighths; an off-beat then falls at r / (1 + r) of
its beat (0.5 for even eighths, 0.667 at 2 : 1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from phrasing.feel import Swing
from phrasing.score.melody import TICKS, Bar, Bools, Floats, Ints, Melody, TempoMap

EVEN = 0.5


def melody_ratio(tempo: ArrayLike, swing: Swing, author: float | None = None) -> Floats:
    """The ratio of a melody at each tempo (quarter notes a minute).

    The table ``swing.by_tempo`` decides, then the ``author`` of the score, then the default
    line, which stays below the ride's.
    """
    at = np.asarray(tempo, dtype=np.float64)
    if swing.by_tempo:
        tempos, ratios = zip(*swing.by_tempo, strict=True)
        return np.asarray(np.interp(at, tempos, ratios))
    if author is not None:
        return np.full_like(at, author)
    return np.interp(at, [swing.melody_slow, swing.even_at], [swing.melody_most, 1.0])


def ride_ratio(tempo: ArrayLike, swing: Swing) -> Floats:
    """The ratio of the ride cymbal at each tempo (quarter notes a minute).

    Its off-beat note lasts ``swing.ride_short`` seconds at least, and the ratio is between
    1 and ``swing.ride_most``; ``swing.ride_by_tempo`` overrules that.
    """
    at = np.asarray(tempo, dtype=np.float64)
    if swing.ride_by_tempo:
        tempos, ratios = zip(*swing.ride_by_tempo, strict=True)
        return np.asarray(np.interp(at, tempos, ratios))
    beat = 60.0 / at
    return np.clip((beat - swing.ride_short) / swing.ride_short, 1.0, swing.ride_most)


def off_beat_position(ratio: ArrayLike) -> Floats:
    """Where in its beat an off-beat falls: r / (1 + r)."""
    r = np.asarray(ratio, dtype=np.float64)
    return np.asarray(r / (1.0 + r))


@dataclass(frozen=True, eq=False)
class SwingMap:
    """Score time to performed time, beat by beat.

    ``starts``: the tick at which each beat starts, the last one's end added; ``off``: where
    in the beat its second eighth falls (0.5: even).
    """

    starts: Ints
    off: Floats

    def swung(self, ticks: ArrayLike) -> Floats:
        """These ticks of score time in performed ticks (fractional)."""
        at = np.asarray(ticks, dtype=np.float64)
        if len(self.off) == 0:
            return at
        beat = np.clip(np.searchsorted(self.starts, at, "right") - 1, 0, len(self.off) - 1)
        start, end = self.starts[beat], self.starts[beat + 1]
        inside = (at - start) / (end - start)
        off = self.off[beat]
        early = inside * off / EVEN
        late = off + (inside - EVEN) * (1.0 - off) / EVEN
        moved = np.where(inside < EVEN, early, late)
        outside = (inside < 0.0) | (inside > 1.0)
        return np.where(outside, at, start + moved * (end - start))


def swing_map(melody: Melody, ratio_at: SwingRatio, sixteenths: bool = False) -> SwingMap:
    """The swing of a piece, each beat at the ratio of its tempo.

    A beat is swung when all that starts in it lies on its two eighths: triplets stay even,
    and so do sixteenths unless ``sixteenths`` (MusicXML 4.0 ``<swing>`` likewise moves only
    notes of the swung value). Beats of eighth-note meters and beats cut short by the bar are
    even.
    """
    starts, whole = _beats(melody.bars)
    ratio = np.maximum(ratio_at(melody.tempos.at(starts[:-1])), 1.0)
    off = np.where(whole, off_beat_position(ratio), EVEN)
    if len(melody) and len(off):
        off[_subdivided(melody, starts, sixteenths)] = EVEN
    return SwingMap(starts, off)


class SwingRatio:
    """A function from tempos to ratios, with all its settings inside."""

    def __init__(self, swing: Swing, *, ride: bool = False, author: float | None = None):
        self.swing, self.ride, self.author = swing, ride, author

    def __call__(self, tempo: ArrayLike) -> Floats:
        """The ratio at each tempo (quarter notes a minute)."""
        if self.ride:
            return ride_ratio(tempo, self.swing)
        return melody_ratio(tempo, self.swing, self.author)


def _beats(bars: tuple[Bar, ...]) -> tuple[Ints, Bools]:
    """The starts of all beats (with the end of the last), and which may be swung."""
    starts: list[Ints] = []
    whole: list[Bools] = []
    end = 0
    for bar in bars:
        end = bar.onset + bar.length
        begins, lengths = np.array(list(bar.beats), dtype=np.int64).reshape(-1, 2).T
        starts.append(begins)
        whole.append((begins + lengths <= end) & (not bar.meter.has_no_off_beats))
    if not starts:
        return np.zeros(1, np.int64), np.zeros(0, bool)
    # A bar that begins inside a beat takes that beat up where the bar before left it.
    begins = np.maximum.accumulate(np.append(np.concatenate(starts), end))
    return begins, np.concatenate(whole)


def _subdivided(melody: Melody, starts: Ints, sixteenths: bool) -> Ints:
    """The beats in which something starts between the two eighths."""
    beat = np.clip(np.searchsorted(starts, melody.onset, "right") - 1, 0, len(starts) - 2)
    inside = melody.onset - starts[beat]
    grid = TICKS // 4 if sixteenths else TICKS // 2
    return np.unique(beat[inside % grid != 0])


def tempo_range(tempos: TempoMap) -> tuple[float, float]:
    """The slowest and the fastest tempo of a piece."""
    return min(tempos.tempos), max(tempos.tempos)
