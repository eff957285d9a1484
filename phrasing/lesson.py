"""From a file and the teacher's wishes to what is played and printed.

A ``Lesson`` is a melody with its marks and everything that was decided about it; the rooms to
the right (rendering, publishing) make files of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from phrasing.dynamics import Shape
from phrasing.errors import PhrasingError
from phrasing.excerpts import bars_from_text, excerpt
from phrasing.feel import Feel, load_feel
from phrasing.instruments import DEFAULT, Instrument, instrument_named
from phrasing.marking.marking import Marking
from phrasing.melody import Melody
from phrasing.performance import Performance, perform, shape_of, timing
from phrasing.swing import checked_tempo, swing_from_text, tempo_range
from phrasing.tempo import Floats
from phrasing.wishes import Wishes


@dataclass(frozen=True, eq=False)
class Lesson:
    """A melody, its marks, and how it is to be played.

    ``reasons`` has a sentence for each marked note, None for the others;
    ``written_reasons`` the same with the notes named as the instrument's player reads them.
    ``warnings`` are whole sentences for the teacher to read. ``is_as_in_file``: neither cut
    nor transposed. ``cut_shape``: where only some bars are kept, the level, gate and
    brightness that their notes have in the whole.
    """

    source: Path
    melody: Melody
    marking: Marking
    feel: Feel
    instrument: Instrument
    reasons: tuple[str | None, ...]
    warnings: tuple[str, ...] = ()
    is_as_in_file: bool = True
    written_reasons: tuple[str | None, ...] = ()
    cut_shape: Shape | None = None

    @cached_property
    def shape(self) -> Shape:
        """Level, gate and brightness of each note as shaped."""
        if self.cut_shape is not None:
            return self.cut_shape
        return shape_of(self.melody, self.marking, self.feel, timing(self.melody, self.feel))

    @property
    def table(self) -> tuple[Melody, Marking, Floats, Floats, tuple[str | None, ...]]:
        """What the marks table is made of: see ``publishing.tables.marks_csv``."""
        return self.melody, self.marking, self.shape.level, self.shape.gate, self.reasons

    @property
    def tempo(self) -> float:
        """Quarter notes a minute at the start."""
        return self.melody.tempos.tempos[0]

    @cached_property
    def ratio(self) -> float:
        """The swing ratio at the start, long : short."""
        return timing(self.melody, self.feel).ratio

    def plain(self, *, straight: bool = False) -> Performance:
        """The melody unshaped: swung, or with even eighths."""
        return perform(
            self.melody, None, self.feel, instrument=self.instrument, straight=straight
        )

    def shaped(self) -> Performance:
        """The melody as its marks ask."""
        return perform(
            self.melody,
            self.marking,
            self.feel,
            instrument=self.instrument,
            shape=self.cut_shape,
        )


def open_lesson(path: Path, wishes: Wishes) -> Lesson:
    """Read a melody and mark it as wished; raises ``PhrasingError`` for what cannot be done."""
    lesson = open_piece(path, wishes)
    if len(lesson.melody) == 0:
        raise PhrasingError(f"{path}: has chords but no melody; “phrasing backing” plays it.")
    return lesson


def open_piece(path: Path, wishes: Wishes) -> Lesson:
    """The same for a melody or a chord chart, whose lesson has no notes."""
    from phrasing.marking import mark
    from phrasing.marking.explaining import reasons
    from phrasing.marking.table import read_marks_table
    from phrasing.ranges import fit
    from phrasing.reading import read
    from phrasing.transposing import as_written, transposed

    feel = feel_of(wishes)
    melody = read(path, part=wishes.track, pickup=wishes.pickup, as_written=wishes.as_written)
    melody = _at_tempo(melody, wishes, path)
    if wishes.swing is not None and swing_from_text(wishes.swing) is None:
        melody = replace(melody, swing=None)
    melody = transposed(melody, wishes.transpose, wishes.octave)
    instrument = _instrument(melody, wishes)
    author = read_marks_table(wishes.marks, melody) if wishes.marks else None
    marking = mark(melody, leave_out=wishes.leave_out, author=author)
    told = reasons(melody, marking)
    written = reasons(as_written(melody, instrument), marking)
    warnings = (*melody.reading.warnings, *filter(None, [fit(melody, instrument).message]))
    kept = not (wishes.transpose or wishes.octave or wishes.only)
    lesson = Lesson(path, melody, marking, feel, instrument, told, warnings, kept, written)
    return _only(lesson, wishes.only)


def feel_of(wishes: Wishes) -> Feel:
    """The feel that the wishes ask for: the file's, with strength and swing put in."""
    feel = load_feel(wishes.feel) if wishes.feel else Feel()
    if wishes.strength is not None:
        feel = replace(feel, strength=wishes.strength)
    if not 0.0 <= feel.strength <= 1.0:
        raise PhrasingError(f"Strength {feel.strength:g}: choose from 0 (plain) to 1 (full).")
    if wishes.swing is not None:
        asked = swing_from_text(wishes.swing)
        table = asked.by_tempo if asked else ()
        feel = replace(feel, swing=replace(feel.swing, by_tempo=table))
    return feel


def _at_tempo(melody: Melody, wishes: Wishes, path: Path) -> Melody:
    if wishes.tempo is not None:
        melody = melody.with_tempo(checked_tempo(wishes.tempo))
    for tempo in tempo_range(melody.tempos):
        try:
            checked_tempo(tempo)
        except PhrasingError as error:
            raise PhrasingError(f"{path}: {error}") from None
    return melody


def _instrument(melody: Melody, wishes: Wishes) -> Instrument:
    name = wishes.instrument or melody.instrument
    return instrument_named(name) if name else DEFAULT


def _only(lesson: Lesson, bars: str | None) -> Lesson:
    """The lesson cut to the bars asked for, with the marks and reasons of the whole."""
    if bars is None:
        return lesson
    first, last = bars_from_text(bars, lesson.melody)
    start = lesson.melody.bars[first].onset
    low = int(lesson.melody.onset.searchsorted(start))
    melody, marking = excerpt(lesson.melody, lesson.marking, first, last)
    kept = slice(low, low + len(melody))
    return replace(
        lesson,
        melody=melody,
        marking=marking,
        cut_shape=lesson.shape.part(kept),
        reasons=lesson.reasons[kept],
        written_reasons=lesson.written_reasons[kept],
    )
