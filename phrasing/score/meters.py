"""Score time: ticks, tempos, meters with their beats, bars.

Every position and length is in ticks, ``TICKS`` (960) to the quarter note.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phrasing.errors import PhrasingError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SLOWEST, FASTEST = 20.0, 400.0
"""Quarter notes a minute between which the program works."""

TICKS = 960
"""Ticks to the quarter note: divisible by 2, 3, 4, 5, 6, 8, 10, 12, 16, 32 and 64."""

SMF_TEMPO = 120.0
"""Quarter notes a minute where a file says nothing (Standard MIDI Files 1.0)."""


@dataclass(frozen=True)
class TempoMap:
    """Tempo by tick: each tempo holds from its onset to the next one's.

    ``onsets`` (ticks, ascending, the first is 0) and ``tempos`` (quarter notes a minute).
    """

    onsets: tuple[int, ...] = (0,)
    tempos: tuple[float, ...] = (SMF_TEMPO,)

    def __post_init__(self) -> None:
        ascending = all(a < b for a, b in zip(self.onsets, self.onsets[1:], strict=False))
        if not self.onsets or self.onsets[0] != 0 or not ascending:
            raise ValueError("tempo onsets ascend from 0")
        if len(self.onsets) != len(self.tempos) or min(self.tempos) <= 0:
            raise ValueError("every tempo onset has one tempo above 0")

    @cached_property
    def _starts(self) -> Floats:
        """Seconds at which each tempo starts."""
        spans = np.diff(np.asarray(self.onsets)) / TICKS * 60 / np.asarray(self.tempos[:-1])
        return np.concatenate([[0.0], np.cumsum(spans)])

    def seconds(self, ticks: ArrayLike) -> Any:
        """Seconds from tick 0, for one tick or an array of them (before 0: negative)."""
        at = np.asarray(ticks, dtype=np.float64)
        which = np.maximum(np.searchsorted(self.onsets, at, "right") - 1, 0)
        since = at - np.asarray(self.onsets, dtype=np.float64)[which]
        return self._starts[which] + since / TICKS * 60 / np.asarray(self.tempos)[which]

    def ticks(self, seconds: ArrayLike) -> Any:
        """Ticks (fractional) at these seconds: the inverse of ``seconds``."""
        at = np.asarray(seconds, dtype=np.float64)
        which = np.maximum(np.searchsorted(self._starts, at, "right") - 1, 0)
        since = at - self._starts[which]
        onsets = np.asarray(self.onsets, dtype=np.float64)
        return onsets[which] + since * TICKS / 60 * np.asarray(self.tempos)[which]

    def at(self, ticks: ArrayLike) -> Any:
        """Quarter notes a minute in force at these ticks."""
        which = np.searchsorted(self.onsets, np.asarray(ticks), "right") - 1
        return np.asarray(self.tempos, dtype=np.float64)[np.maximum(which, 0)]

    def scaled_to(self, tempo: float) -> TempoMap:
        """The same map with its first tempo set to ``tempo`` and all changes in proportion."""
        factor = tempo / self.tempos[0]
        return TempoMap(self.onsets, tuple(t * factor for t in self.tempos))


@dataclass(frozen=True)
class Meter:
    """A time signature, such as 4/4."""

    beats: int = 4
    unit: int = 4

    @property
    def bar_length(self) -> int:
        """Ticks in a full bar."""
        return self.beats * 4 * TICKS // self.unit

    @property
    def has_no_off_beats(self) -> bool:
        """Whether nothing in it is off-beat: eighth-note meters, compound or not."""
        return self.unit >= 8

    @property
    def beat_lengths(self) -> tuple[int, ...]:
        """Ticks in each beat of a full bar: the one place that says where its beats are.

        Quarters down to a unit of a quarter. Of shorter units a multiple of three has dotted
        beats, up to four of them are beats themselves, 5/8 is 3 + 2, and others are twos with
        a three at the end where they are odd (common practice, no source).

        >>> Meter(4, 4).beat_lengths, Meter(7, 8).beat_lengths, len(Meter(15, 8).beat_lengths)
        ((960, 960, 960, 960), (960, 960, 1440), 5)
        """
        return _beat_lengths(self.beats, self.unit)

    @property
    def beat_starts(self) -> tuple[int, ...]:
        """Ticks from the start of the bar to each beat.

        >>> Meter(5, 8).beat_starts
        (0, 1440)
        """
        return (0, *accumulate(self.beat_lengths[:-1]))

    @property
    def pulse(self) -> int:
        """Ticks in what is counted evenly: the beat, or the unit where beats are unlike.

        >>> Meter(6, 8).pulse, Meter(7, 8).pulse
        (1440, 480)
        """
        first = self.beat_lengths[0]
        alike = all(length == first for length in self.beat_lengths)
        return first if alike else 4 * TICKS // self.unit

    def place(self, ticks: ArrayLike) -> tuple[Ints, Ints, Ints]:
        """For ticks from the start of a bar: the beat from 0, ticks into it, its length.

        In a bar that lasts longer than its meter the count goes on.

        >>> beat, into, length = Meter(7, 8).place([0, 2400])
        >>> beat.tolist(), into.tolist(), length.tolist()
        ([0, 2], [0, 480], [960, 1440])
        """
        bars, inside = np.divmod(np.asarray(ticks, dtype=np.int64), self.bar_length)
        beat = np.searchsorted(np.array(self.beat_starts), inside, "right") - 1
        into = inside - np.array(self.beat_starts)[beat]
        return beat + bars * len(self.beat_starts), into, np.array(self.beat_lengths)[beat]

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


@cache
def _beat_lengths(beats: int, unit: int) -> tuple[int, ...]:
    one = 4 * TICKS // unit
    if unit <= 4:
        return (TICKS,) * (beats * one // TICKS)
    if beats % 3 == 0:
        return (3 * one,) * (beats // 3)
    if beats <= 4:
        return (one,) * beats
    if beats == 5:
        return 3 * one, 2 * one
    return (*(2 * one,) * (beats // 2 - beats % 2), *(3 * one,) * (beats % 2))


@dataclass(frozen=True)
class Bar:
    """One bar as played.

    ``number`` is the printed one (0 for a pickup bar), ``passing`` counts how often it has
    come by then when repeats are played out, and ``offset`` is how far into the meter the bar
    begins (ticks): a pickup of one quarter in 4/4 begins three quarters in. ``printed``: its
    place among the printed bars of the score it was read from (from 0), -1 without any.
    """

    onset: int
    length: int
    number: int
    meter: Meter = field(default_factory=Meter)
    offset: int = 0
    passing: int = 1
    printed: int = field(default=-1, compare=False)

    @property
    def beats(self) -> Iterator[tuple[int, int]]:
        """Onset and full length of each beat that lies in the bar (ticks).

        Where the bar begins inside a beat, that one begins before it; where it ends inside
        one, that one ends after it.

        >>> list(Bar(0, 1440, 0, Meter(4, 4), offset=2400).beats)
        [(-480, 960), (480, 960)]
        """
        onset = self.onset - self.offset
        while onset < self.onset + self.length:
            for length in self.meter.beat_lengths:
                if onset + length > self.onset and onset < self.onset + self.length:
                    yield onset, length
                onset += length


def bars_of_meters(changes: Mapping[int, Meter], end: int, pickup: int = 0) -> tuple[Bar, ...]:
    """Bars from tick 0 to ``end`` (ticks) with meter ``changes`` by tick.

    ``pickup`` ticks come first as bar 0. A change inside a bar shortens that bar; at least
    one full bar follows the pickup.

    >>> [bar.number for bar in bars_of_meters({0: Meter(3, 4)}, 5760, pickup=960)]
    [0, 1, 2]
    """
    meter = changes.get(pickup) or changes.get(0) or Meter()
    bars: list[Bar] = []
    if pickup:
        bars.append(Bar(0, pickup, 0, meter, offset=max(0, meter.bar_length - pickup)))
    later = sorted((tick for tick in changes if tick > 0), reverse=True)
    at, number = pickup, 1
    while at < end or number == 1:
        while later and later[-1] <= at:
            meter = changes[later.pop()]
        until = min([at + meter.bar_length, *later[-1:]])
        bars.append(Bar(at, until - at, number, meter))
        at, number = until, number + 1
    return tuple(bars)


def checked_tempo(tempo: float) -> float:
    """``tempo`` if it lies within 20 to 400 quarter notes a minute, else ``PhrasingError``.

    >>> checked_tempo(120.0)
    120.0
    """
    if not SLOWEST <= tempo <= FASTEST:
        raise PhrasingError(
            f"Tempo {tempo:g} is outside {SLOWEST:g} to {FASTEST:g} quarter notes a minute; "
            "choose another with --tempo."
        )
    return tempo
