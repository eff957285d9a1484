"""The melody as it is written, before anybody plays it.

Every position and length is in ticks, ``meters.TICKS`` (960) to the quarter note; pitches are
sounding MIDI numbers (60 is middle C). Columns are numpy arrays with one entry a note, in
order of onset, and are not to be written to.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from phrasing.score.doubts import Doubt
from phrasing.score.meters import Bar, Bools, Floats, Ints, Meter, TempoMap

NO_MARKS: Mapping[int, str] = MappingProxyType({})


@dataclass(frozen=True)
class Key:
    """A key signature: ``fifths`` from -7 (flats) to 7 (sharps).

    ``written``: the signature that the author's own part has, which may be of more signs than
    one would choose for it; None where nothing is known of a part.
    """

    onset: int
    fifths: int
    minor: bool = False
    written: int | None = None


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
    ``warnings``: whole sentences, each naming its bar where it has one; ``doubts``: what the
    file leaves open. ``is_free``: it was played without a click, and its beats were followed.
    ``no_tempo``: which of the warnings says that no tempo is given, in figures or in words.
    """

    format: str = ""
    part: str = ""
    moved_median: float | None = None
    moved_worst: float | None = None
    moved_worst_bar: int | None = None
    swing_found: float | None = None
    warnings: tuple[str, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    is_free: bool = False
    no_tempo: str = ""


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
