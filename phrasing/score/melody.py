"""Score time: the melody as it is written, before anybody plays it.

Every position and length is in ticks, ``tempo.TICKS`` (960) to the quarter note; pitches are
sounding MIDI numbers (60 is middle C). Columns are numpy arrays with one entry a note, in
order of onset, and are not to be written to.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from itertools import accumulate
from types import MappingProxyType
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


__all__ = [
    "TICKS",
    "Bar",
    "ChordSymbol",
    "Grace",
    "Key",
    "Manner",
    "Melody",
    "Meter",
    "Note",
    "Reading",
    "Section",
    "TempoMap",
    "bars_of_meters",
]

NO_MARKS: Mapping[int, str] = MappingProxyType({})


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
        return (TICKS,) * max(beats * one // TICKS, 1)
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


@dataclass(frozen=True)
class Key:
    """A key signature: ``fifths`` from -7 (flats) to 7 (sharps)."""

    onset: int
    fifths: int
    minor: bool = False


@dataclass(frozen=True)
class ChordSymbol:
    """A chord symbol as printed, at concert pitch, such as ``Dm7`` or ``B♭13``."""

    onset: int
    text: str


@dataclass(frozen=True)
class Manner:
    """How the author wants the music played from ``onset`` on.

    ``words``: the author's, where they name a style (see ``style``); ``swing``: the ratio that
    is asked for, None where nothing is said, 1.0 for straight; ``sixteenths``: it is the
    sixteenths that swing, not the eighths.
    """

    onset: int
    words: str = ""
    swing: float | None = None
    sixteenths: bool = False


@dataclass(frozen=True)
class Section:
    """A rehearsal letter or section name and where it starts."""

    onset: int
    name: str


@dataclass(frozen=True)
class Grace:
    """Grace notes before a note: ``note`` is its index, ``pitches`` in playing order."""

    note: int
    pitches: tuple[int, ...]


@dataclass(frozen=True, order=True)
class OwnLine:
    """A line that the teacher drew, over the notes ``first`` to ``last`` (indices, both in it).

    ``kind``: "slur", "softer" (a decrescendo), or "end" (a phrase ends with the note).
    """

    kind: str
    first: int
    last: int


@dataclass(frozen=True)
class Reading:
    """What the reader did to get the melody, for the teacher to check.

    ``format`` in words ("MIDI file, format 1"); ``part`` names the track or part taken.
    ``moved_*``: how far quantizing moved the onsets, in milliseconds at the piece's tempo
    (median and worst, and the bar of the worst); all None where nothing had to be moved.
    ``swing_found``: the long-short ratio the file was already played with, if it was.
    ``warnings``: whole sentences, each naming its bar where it has one.
    """

    format: str = ""
    part: str = ""
    moved_median: float | None = None
    moved_worst: float | None = None
    moved_worst_bar: int | None = None
    swing_found: float | None = None
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Note:
    """One note, for those who read a melody note by note."""

    onset: int
    length: int
    pitch: int


def _column(values: ArrayLike) -> Ints:
    column = np.array(values, dtype=np.int64).reshape(-1)
    column.flags.writeable = False
    return column


@dataclass(frozen=True, eq=False)
class Melody:
    """A flat melody: one note at a time, ties merged.

    ``onset``, ``length`` (ticks) and ``pitch`` (sounding MIDI number) have one entry a note.
    ``bars`` cover the piece without gaps. ``slurs`` are (first, last) note indices the author
    joined, ``wedges`` those that get softer; ``phrase_ends`` are indices of notes after which
    the author ends a phrase (breath or phrase mark); ``lines`` those of all these that the
    teacher drew. ``marks`` are the author's own: note index to the mark's name.
    ``swing`` is the ratio the author asks for, None where nothing is said, 1.0 for straight.
    ``style_words``: words of the author's that name a style (see ``style``), as written.
    ``sixteenths``: it is the sixteenths that swing. These hold from the start; ``manners``
    are what holds from later places on, where the author changes them.
    ``ids`` names each note in the score it came from (empty where it has no names); a note
    played twice because of a repeat has its name twice. A chart has bars and chords and no
    notes.
    """

    onset: Ints
    length: Ints
    pitch: Ints
    bars: tuple[Bar, ...]
    tempos: TempoMap = field(default_factory=TempoMap)
    keys: tuple[Key, ...] = ()
    chords: tuple[ChordSymbol, ...] = ()
    sections: tuple[Section, ...] = ()
    slurs: tuple[tuple[int, int], ...] = ()
    wedges: tuple[tuple[int, int], ...] = ()
    phrase_ends: tuple[int, ...] = ()
    lines: tuple[OwnLine, ...] = ()
    graces: tuple[Grace, ...] = ()
    marks: Mapping[int, str] = field(default_factory=lambda: NO_MARKS)
    inflections: Mapping[int, str] = field(default_factory=lambda: NO_MARKS)
    title: str = ""
    instrument: str | None = None
    program: int | None = None
    swing: float | None = None
    style_words: str = ""
    sixteenths: bool = False
    manners: tuple[Manner, ...] = ()
    ids: tuple[str, ...] = ()
    reading: Reading = field(default_factory=Reading)

    def __post_init__(self) -> None:
        for name in ("onset", "length", "pitch"):
            object.__setattr__(self, name, _column(getattr(self, name)))
        if not len(self.onset) == len(self.length) == len(self.pitch):
            raise ValueError("onset, length and pitch have one entry a note")
        if len(self) and (np.diff(self.onset).min(initial=1) <= 0 or self.length.min() <= 0):
            raise ValueError("onsets ascend, one note at a time, and lengths are above 0")

    def __len__(self) -> int:
        return len(self.onset)

    @property
    def notes(self) -> Iterator[Note]:
        """The notes one by one, in order."""
        for onset, length, pitch in zip(
            self.onset.tolist(), self.length.tolist(), self.pitch.tolist(), strict=True
        ):
            yield Note(onset, length, pitch)

    @property
    def meter(self) -> Meter:
        """The meter of bar 1."""
        return next((bar.meter for bar in self.bars if bar.number > 0), self.bars[0].meter)

    @property
    def pickup(self) -> int:
        """Ticks before bar 1."""
        return next((bar.onset for bar in self.bars if bar.number > 0), 0)

    @property
    def all_manners(self) -> tuple[Manner, ...]:
        """What the author asks for from each place on, the start included."""
        return (Manner(0, self.style_words, self.swing, self.sixteenths), *self.manners)

    def in_one_manner(self) -> Melody:
        """The same melody without the author's changes of style and swing on the way."""
        return replace(self, manners=())

    @property
    def end(self) -> int:
        """The tick at which the last bar ends, or the last note if it lasts longer."""
        last = self.bars[-1].onset + self.bars[-1].length if self.bars else 0
        return max(last, int((self.onset + self.length).max(initial=0)))

    @cached_property
    def bar_index(self) -> Ints:
        """For each note, the index of its bar in ``bars``."""
        return self.bar_index_at(self.onset)

    def bar_index_at(self, ticks: ArrayLike) -> Ints:
        """For each tick, the index of its bar in ``bars``."""
        starts = np.fromiter((bar.onset for bar in self.bars), np.int64, len(self.bars))
        return np.maximum(np.searchsorted(starts, np.asarray(ticks), "right") - 1, 0)

    @cached_property
    def in_bar(self) -> Ints:
        """For each note, ticks from the start of its meter's bar (a pickup counts back)."""
        starts = np.array([bar.onset - bar.offset for bar in self.bars], dtype=np.int64)
        return self.onset - starts[self.bar_index]

    @cached_property
    def meters(self) -> tuple[tuple[Meter, ...], Ints]:
        """The meters of the piece, each once, and for each bar the index of its own."""
        found: dict[Meter, int] = {}
        kinds, last, kind = [], None, 0
        for bar in self.bars:
            if bar.meter is not last:
                last, kind = bar.meter, found.setdefault(bar.meter, len(found))
            kinds.append(kind)
        return tuple(found), np.array(kinds, dtype=np.int64)

    @cached_property
    def _places(self) -> tuple[Ints, Ints, Ints]:
        """For each note, its beat from 0, ticks into it and its length."""
        meters, kind_of_bar = self.meters
        kind = kind_of_bar[self.bar_index]
        places = [np.zeros(len(self), dtype=np.int64) for _ in range(3)]
        for index, meter in enumerate(meters):
            its_own = kind == index
            for column, values in zip(places, meter.place(self.in_bar[its_own]), strict=True):
                column[its_own] = values
        return places[0], places[1], places[2]

    @property
    def beat_number(self) -> Ints:
        """For each note, the beat of its bar in which it starts, from 0."""
        return self._places[0]

    @property
    def into_beat(self) -> Ints:
        """For each note, ticks from the start of its beat."""
        return self._places[1]

    @property
    def beat_length(self) -> Ints:
        """For each note, ticks in its beat."""
        return self._places[2]

    @cached_property
    def has_no_off_beats(self) -> Bools:
        """For each note, whether its meter has no off-beats (6/8, 9/8, 12/8, 5/8, 7/8)."""
        meters, kind = self.meters
        even = np.array([meter.has_no_off_beats for meter in meters], dtype=bool)
        return even[kind[self.bar_index]]

    @cached_property
    def bar_number(self) -> Ints:
        """For each note, the printed number of its bar: from 1, 0 for a pickup."""
        numbers = np.array([bar.number for bar in self.bars], dtype=np.int64)
        return numbers[self.bar_index]

    @cached_property
    def beat(self) -> Floats:
        """For each note, its beat from 1: 2.5 is the "and" of two."""
        return self.beat_number + self.into_beat / self.beat_length + 1.0

    def with_tempo(self, tempo: float) -> Melody:
        """The same melody with its first tempo set (quarter notes a minute)."""
        return replace(self, tempos=self.tempos.scaled_to(tempo))

    def transposed(self, semitones: int) -> Melody:
        """The notes moved by semitones. Keys and chord symbols are not: see ``transposing``."""
        graces = tuple(
            Grace(g.note, tuple(p + semitones for p in g.pitches)) for g in self.graces
        )
        return replace(self, pitch=self.pitch + semitones, graces=graces)


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
