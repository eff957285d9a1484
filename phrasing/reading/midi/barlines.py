"""Where the bar lines of a melody are: its meter and its pickup, from the notes alone.

Every meter and pickup that can be is a set of bar lines; what speaks for it are long and loud
notes on the downbeat, notes held over no bar line, a chord to each bar, bars that come again
and forms of four and eight bars. ``WEIGHTS`` say how much each counts: fitted (conditional
logit) to about 950 folk and fiddle tunes of music21's collections, other ones than those the
tests read; the accent's weight is a design parameter, since written tunes have none. What
tells 2/4 from 4/4 is fitted to takes of 278 other ones.

Positions are ticks of score time from the first note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from phrasing.score.meters import TICKS, Bools, Floats, Ints, Meter

EIGHTH = TICKS // 2
SIMPLE_METERS = (Meter(4, 4), Meter(3, 4), Meter(2, 4))
COMPOUND_METERS = (Meter(6, 8), Meter(9, 8), Meter(12, 8), Meter(3, 8))
TRIADS = np.array(
    [[(pitch - root) % 12 in (0, third, 7) for pitch in range(12)]
     for third in (3, 4) for root in range(12)]
)  # fmt: skip
"""The pitch classes of each minor and major triad."""
LONG = 1.9
"""A note this much longer than the median is a long one."""
OCTAVES = 3.0
"""Notes longer or shorter than a quarter by more octaves than this count as if by these."""


WEIGHTS = {
    "a note on each downbeat": 3.3,
    "long on the downbeat": 10.1,
    "long in mid-bar": 4.6,
    "long on a beat": 2.4,
    "loud on the downbeat": 4.0,
    "loud on a beat": 2.0,
    "risen to on the downbeat": 4.3,
    "struck again on the downbeat": -3.6,
    "held over the bar line": -2.2,
    "held over a beat": -0.3,
    "long in each fourth bar": 1.4,
    "long from the start": 0.8,
    "ends on a beat": 0.8,
    "ends in mid-bar": 0.5,
    "a triad to a bar": 3.6,
    "a triad to a beat": 4.1,
    "the last chord on downbeats": 0.9,
    "no pickup": 0.1,
    "a pickup of over half a bar": -3.6,
    "a rhythm of two bars": 1.8,
    "a rhythm of four bars": 0.6,
    "the notes of the bar before": 0.8,
    "the notes of two bars before": 3.9,
    "the notes of four bars before": 4.9,
    "the notes of eight bars before": 4.3,
    "fours": 0.4,
    "eights": 0.6,
    "4/4": 0.5,
    "3/4": -0.2,
    "2/4": -1.8,
    "sixteenths in 2/4": 3.9,
    "6/8": 2.6,
    "9/8": -0.1,
    "12/8": -1.7,
    "3/8": -0.9,
}


@dataclass(frozen=True, eq=False)
class Sung:
    """The notes: ``onset`` (ticks from the first note), ``length``, ``pitch``, ``velocity``."""

    onset: Ints
    length: Ints
    pitch: Ints
    velocity: Floats

    @cached_property
    def room(self) -> Floats:
        """Quarter notes from each note to the next, or to its end."""
        last = self.onset[-1] + max(int(self.length[-1]), TICKS)
        return np.diff(self.onset, append=last) / TICKS

    @cached_property
    def longness(self) -> Floats:
        """How long each note is: octaves above the mean, 0 on average."""
        octaves = np.clip(np.log2(np.maximum(self.room, 1e-3)), -OCTAVES, OCTAVES)
        return np.asarray(octaves - octaves.mean(), dtype=np.float64)

    @cached_property
    def is_long(self) -> Bools:
        """Which notes are about twice as long as most."""
        return np.asarray(self.room >= LONG * np.median(self.room))

    @cached_property
    def rises(self) -> Floats:
        """1 for notes reached from below, less the mean."""
        return _about_mean(np.diff(self.pitch, prepend=self.pitch[0]) > 0)

    @cached_property
    def repeats(self) -> Floats:
        """1 for notes of the pitch before, less the mean."""
        return _about_mean(np.diff(self.pitch, prepend=-1) == 0)

    @cached_property
    def loudness(self) -> Floats:
        """How loud each note is: standard deviations above the mean."""
        spread = float(self.velocity.std())
        loud: Floats = (self.velocity - self.velocity.mean()) / (spread or 1.0)
        return loud


def _about_mean(these: Bools) -> Floats:
    values: Floats = these.astype(np.float64) - float(these.mean())
    return values


@dataclass(frozen=True, eq=False)
class BarLines:
    """Bar lines of one ``meter`` for these notes, ``pickup`` ticks after the first of them."""

    meter: Meter
    pickup: int
    notes: Sung

    @cached_property
    def at(self) -> Ints:
        """Ticks of each note from the first bar line."""
        return self.notes.onset - self.pickup

    @cached_property
    def bar(self) -> Ints:
        """The bar of each note, from 0; the pickup is -1."""
        return self.at // self.meter.bar_length

    @cached_property
    def in_bar(self) -> Ints:
        """Ticks of each note into its bar."""
        return self.at % self.meter.bar_length

    @property
    def bars(self) -> int:
        """How many bars there are after the pickup."""
        return max(int(self.bar[-1]) + 1, 1)

    @cached_property
    def down(self) -> Bools:
        """Which notes are on the downbeat."""
        return np.asarray(self.in_bar == 0)

    @cached_property
    def half(self) -> Bools:
        """Which are in the middle of the bar; on the second beat where there is no middle."""
        beats = self.meter.bar_length // self.meter.pulse
        middle = self.meter.bar_length // 2 if beats in (2, 4) else self.meter.pulse
        return np.asarray(self.in_bar == middle % self.meter.bar_length)

    @cached_property
    def beat(self) -> Bools:
        """Which are on a beat."""
        return np.asarray(self.in_bar % self.meter.pulse == 0)

    def held_over(self, every: int, begun: Bools) -> Ints:
        """How many notes not ``begun`` there are held over a line that stands ``every`` so
        many ticks."""
        end = self.at + np.rint(self.notes.room * TICKS).astype(np.int64)
        over = (end - 1) // every > self.at // every
        return np.asarray((over & ~begun).sum())

    def triads(self, every: int) -> float:
        """How much of the time one triad for so many ticks accounts for."""
        span = np.maximum(self.at // every, -1) + 1
        heard = np.zeros((int(span[-1]) + 1, 12))
        np.add.at(heard, (span, self.notes.pitch % 12), self.notes.room)
        return float((heard @ TRIADS.T).max(axis=1).sum() / heard.sum())

    @cached_property
    def _contents(self) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
        """Places and pitches of the notes of each bar."""
        edges = np.searchsorted(self.bar, np.arange(self.bars + 1)).tolist()
        return [
            (tuple(self.in_bar[i:j].tolist()), tuple(self.notes.pitch[i:j].tolist()))
            for i, j in pairwise(edges)
        ]

    def alike(self, apart: int, pitches: bool = True) -> float:
        """Share of bars with the notes (or rhythm) of the one so many bars before."""
        bars = self._contents if pitches else [(rhythm, ()) for rhythm, _ in self._contents]
        pairs = list(zip(bars[apart:], bars, strict=False))
        return sum(a == b for a, b in pairs) / len(pairs) if pairs else 0.0

    def _on_average(self, column: Floats, these: Bools) -> float:
        """The sum of a column over these notes, for each note of the melody."""
        return float(column[these].sum()) / len(column)

    @property
    def evidence(self) -> dict[str, float]:
        """What speaks for these bar lines, by the names in ``WEIGHTS``."""
        notes, full, pulse = self.notes, self.meter.bar_length, self.meter.pulse
        mean = self._on_average
        fourth = notes.is_long & (self.bar % 4 == 3) & (self.down | self.half)
        return {
            "a note on each downbeat": float(self.down.sum()) / self.bars,
            "long on the downbeat": mean(notes.longness, self.down),
            "long in mid-bar": mean(notes.longness, self.half),
            "long on a beat": mean(notes.longness, self.beat),
            "loud on the downbeat": mean(notes.loudness, self.down),
            "loud on a beat": mean(notes.loudness, self.beat),
            "risen to on the downbeat": mean(notes.rises, self.down),
            "struck again on the downbeat": mean(notes.repeats, self.down),
            "held over the bar line": float(self.held_over(full, self.down)) / self.bars,
            "held over a beat": float(self.held_over(pulse, self.beat))
            * pulse
            / full
            / self.bars,
            "long in each fourth bar": float(fourth.sum()) / max(int(notes.is_long.sum()), 1),
            "long from the start": float(notes.longness[0]) if not self.pickup else 0.0,
            "ends on a beat": float(self.beat[-1]),
            "ends in mid-bar": float(self.half[-1] and not self.down[-1]),
            "a triad to a bar": self.triads(full),
            "a triad to a beat": self.triads(pulse),
            "the last chord on downbeats": self._tonic(self.down),
            "no pickup": float(self.pickup == 0),
            "a pickup of over half a bar": float(self.pickup > full / 2),
            "a rhythm of two bars": self.alike(2, pitches=False),
            "a rhythm of four bars": self.alike(4, pitches=False),
            "the notes of the bar before": self.alike(1),
            "the notes of two bars before": self.alike(2),
            "the notes of four bars before": self.alike(4),
            "the notes of eight bars before": self.alike(8),
            "fours": float(self.bars % 4 == 0),
            "eights": float(self.bars % 8 == 0),
            "sixteenths in 2/4": self._sixteenths if self.meter == Meter(2, 4) else 0.0,
            str(self.meter): 1.0,
        }

    @property
    def _sixteenths(self) -> float:
        """The share of notes off the eighths."""
        return float((self.at % EIGHTH != 0).mean())

    def _tonic(self, these: Bools) -> float:
        """How much more often these notes than others are in the triad of the last one."""
        above = (self.notes.pitch - self.notes.pitch[-1]) % 12
        inside = np.isin(above, (0, 3, 4, 7))
        return float(inside[these].mean() - inside.mean()) if these.any() else 0.0

    @property
    def worth(self) -> float:
        """Log of how likely they are, up to a constant."""
        return sum(WEIGHTS.get(name, 0.0) * value for name, value in self.evidence.items())


def possible(notes: Sung, meters: Sequence[Meter], first: int, step: int) -> list[BarLines]:
    """All bar lines of these meters whose first comes less than a bar after the first note.

    ``first``: ticks from the first note to the first place where a bar line may stand;
    ``step``: ticks from one such place to the next.
    """
    return [
        BarLines(meter, pickup, notes)
        for meter in meters
        for pickup in range(first, meter.bar_length, step)
    ]


SURE = 1.1
"""How much more likely a pickup must be (nats) where a file counts from its first note. With
1.1, three pickups in four are found in folk tunes, and one tune in twenty without gets one."""
OFF_BEAT, MANY = 8.0, 0.1
"""Nats more for a pickup that turns off-beats into beats, and the share of sixteenths from
which on an eighth is a beat's natural half."""
CLOSE = 1.5
"""Nats within which another reading is worth a word."""
FEWEST = 6
"""Bars that are too few to tell."""


def pickup_in(notes: Sung, meter: Meter) -> int:
    """Ticks of the pickup that the notes show in a file of this meter; 0 where none is sure."""
    ways = possible(notes, [meter], 0, EIGHTH)
    best = max(ways, key=_plainly)
    if best.bars < FEWEST or _plainly(best) < ways[0].worth + SURE:
        return 0
    return best.pickup


def _plainly(way: BarLines) -> float:
    return way.worth - OFF_BEAT * _crosses_beats(way)


def _crosses_beats(way: BarLines) -> bool:
    """Whether its beats are the file's off-beats, in a melody without sixteenths: lines full
    of syncopation look so."""
    sixteenths = (way.notes.onset % EIGHTH != 0).mean() > MANY
    return way.pickup % way.meter.pulse != 0 and way.meter.pulse == TICKS and not sixteenths


def likeliest(notes: Sung, meters: Sequence[Meter], first: int) -> list[BarLines]:
    """Bar lines of these meters, the likeliest first, those that come close behind it too."""
    ways = possible(notes, meters, first, meters[0].pulse)
    ways.sort(key=lambda way: -way.worth)
    return [way for way in ways if way.worth > ways[0].worth - CLOSE]
