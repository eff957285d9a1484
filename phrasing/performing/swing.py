"""Swing: the long-short ratio by tempo, and off-beats moved by it.

The ratio r is long : short for a pair of eighths; an off-beat then falls at r / (1 + r) of
its beat (0.5 for even eighths, 0.667 at 2 : 1).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from phrasing.feel import Swing
from phrasing.feelfile import ANY_TEMPO, STRAIGHT
from phrasing.score.melody import Melody
from phrasing.score.meters import Bar, Bools, Floats, Ints, TempoMap
from phrasing.style import STYLE, SWING, Style, by_section

EVEN = 0.5


def melody_ratio(tempo: ArrayLike, swing: Swing, author: float | None = None) -> Floats:
    """The ratio of a melody at each tempo (quarter notes a minute).

    The table ``swing.by_tempo`` decides, then the ``author`` of the score, then
    ``swing.alone_by_tempo`` or the default line, which stays below the ride's.

    >>> melody_ratio([100, 200, 300], Swing()).tolist()
    [2.0, 1.5, 1.0]
    """
    at = np.asarray(tempo, dtype=np.float64)
    if swing.by_tempo:
        tempos, ratios = zip(*swing.by_tempo, strict=True)
        return np.asarray(np.interp(at, tempos, ratios))
    if author is not None:
        return np.full_like(at, author)
    if swing.alone_by_tempo:
        tempos, ratios = zip(*swing.alone_by_tempo, strict=True)
        return np.asarray(np.interp(at, tempos, ratios))
    return np.interp(at, [swing.melody_slow, swing.even_at], [swing.melody_most, 1.0])


def ride_ratio(tempo: ArrayLike, swing: Swing) -> Floats:
    """The ratio of the ride cymbal at each tempo (quarter notes a minute).

    Its off-beat note lasts ``swing.ride_short`` seconds at least, and the ratio is between
    1 and ``swing.ride_most``; ``swing.ride_by_tempo`` overrules that.

    >>> ride_ratio([200, 300], Swing()).round(2).tolist()
    [2.0, 1.0]
    """
    at = np.asarray(tempo, dtype=np.float64)
    if swing.ride_by_tempo:
        tempos, ratios = zip(*swing.ride_by_tempo, strict=True)
        return np.asarray(np.interp(at, tempos, ratios))
    beat = 60.0 / at
    return np.clip((beat - swing.ride_short) / swing.ride_short, 1.0, swing.ride_most)


def off_beat_position(ratio: ArrayLike) -> Floats:
    """Where in its beat an off-beat falls: r / (1 + r).

    >>> off_beat_position([1.0, 2.0]).round(3).tolist()
    [0.5, 0.667]
    """
    r = np.asarray(ratio, dtype=np.float64)
    return np.asarray(r / (1.0 + r))


@dataclass(frozen=True, eq=False)
class SwingMap:
    """Score time to performed time, beat by beat.

    ``starts``: the tick at which each beat starts, the last one's end added; ``off``: where
    in the beat its second eighth falls (0.5: even). Where the sixteenths swing, each half of a
    beat stands for a beat.
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


def swing_map(
    melody: Melody,
    ratio_at: SwingRatio | Sequence[Swinging],
    sixteenths: bool = False,
) -> SwingMap:
    """The swing of a piece, each beat at the ratio of its tempo.

    ``ratio_at``: one ratio throughout, or what swings from each place on. A beat is swung when
    all that starts in it lies on its two eighths: triplets stay even, and so do sixteenths
    unless ``sixteenths`` (MusicXML 4.0 ``<swing>`` likewise moves only notes of the swung
    value). Beats of eighth-note meters and beats cut short by the bar are even.

    >>> beats = swing_map(melody("C5:1 D5:1"), SwingRatio(Swing(by_tempo=((120.0, 2.0),))))
    >>> beats.swung([0, 480]).round().tolist()
    [0.0, 640.0]
    """
    ways = ratio_at if isinstance(ratio_at, Sequence) else [Swinging(0, ratio_at)]
    starts, whole = _beats(melody.bars)
    starts, whole = _halved(starts, whole, ways)
    which = _in_force(ways, starts[:-1])
    off = np.full(len(whole), EVEN)
    for index, way in enumerate(ways):
        own = which == index
        off[own] = off_beat_position(way.at(melody.tempos.at(starts[:-1][own])))
    off[~whole] = EVEN
    if len(melody) and len(off):
        off[_subdivided(melody, starts, sixteenths)] = EVEN
    return SwingMap(starts, off)


def _in_force(ways: Sequence[Swinging], ticks: Ints) -> Ints:
    """Which of the ways holds at each tick; of two from one tick on the later one."""
    which = np.searchsorted([way.onset for way in ways], ticks, "right") - 1
    return np.maximum(which, 0)


def _halved(starts: Ints, whole: Bools, ways: Sequence[Swinging]) -> tuple[Ints, Bools]:
    """The beats, each in two halves where the sixteenths swing."""
    swings = np.array([way.sixteenths for way in ways], dtype=bool)
    halved = whole & swings[_in_force(ways, starts[:-1])]
    middles = (starts[:-1] + starts[1:])[halved] // 2
    after = np.flatnonzero(halved) + 1
    return np.insert(starts, after, middles), np.insert(whole, after, True)


class SwingRatio:
    """A function from tempos to ratios, with all its settings inside."""

    def __init__(self, swing: Swing, *, ride: bool = False, author: float | None = None):
        self.swing, self.ride, self.author = swing, ride, author

    def __call__(self, tempo: ArrayLike) -> Floats:
        """The ratio at each tempo (quarter notes a minute)."""
        if self.ride:
            return ride_ratio(tempo, self.swing)
        return melody_ratio(tempo, self.swing, self.author)


@dataclass(frozen=True, eq=False)
class Swinging:
    """From ``onset`` (ticks) on, the eighths or the ``sixteenths`` swing by this ratio.

    Sixteenths have by tempo the ratio of eighths twice as fast.
    """

    onset: int
    ratio: SwingRatio
    sixteenths: bool = False

    def at(self, tempo: ArrayLike) -> Floats:
        """The ratio at each tempo (quarter notes a minute), 1 at least."""
        tempos = np.asarray(tempo, dtype=np.float64) * (2.0 if self.sixteenths else 1.0)
        return np.maximum(self.ratio(tempos), 1.0)


def swinging(melody: Melody, swing: Swing, *, ride: bool = False) -> tuple[Swinging, ...]:
    """How the piece swings from each place on where the author changes it.

    ``swing``: what holds at the start. What is straight on the way is so for the ride too, and
    in a chart, which has no notes, every ratio is.

    >>> [each.onset for each in swinging(melody("C5:2"), Swing())]
    [0]
    """
    first = _EVEN if swing.by_tempo == STRAIGHT else SWING
    found = []
    for manner, (_, style) in zip(melody.all_manners, by_section(melody, first), strict=True):
        own = swing if style is first else _swing_of(style, swing)
        if ride and manner.swing and not len(melody):
            own = replace(own, ride_by_tempo=((ANY_TEMPO, manner.swing),))
        ratio = SwingRatio(own, ride=ride, author=manner.swing)
        found.append(Swinging(manner.onset, ratio, manner.sixteenths))
    return tuple(found)


def _swing_of(style: Style, swing: Swing) -> Swing:
    """The swing of a style that comes after another one, whose swing is given."""
    own = style.played().swing.by_tempo
    if own:
        return replace(swing, by_tempo=own, ride_by_tempo=own)
    straight = swing.by_tempo == STRAIGHT
    return replace(swing, by_tempo=(), ride_by_tempo=()) if straight else swing


_EVEN = STYLE["even"]


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
    parts = 4 if sixteenths else 2
    return np.unique(beat[parts * inside % np.maximum(np.diff(starts)[beat], 1) != 0])


def tempo_range(tempos: TempoMap) -> tuple[float, float]:
    """The slowest and the fastest tempo of a piece.

    >>> from phrasing.score.meters import TempoMap
    >>> tempo_range(TempoMap((0, 960), (120.0, 90.0)))
    (90.0, 120.0)
    """
    return min(tempos.tempos), max(tempos.tempos)
