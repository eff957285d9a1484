"""From a file and the teacher's request to what is played and printed.

A ``Lesson`` is a melody with its marks and everything that was decided about it; the rooms to
the right (rendering, publishing) make files of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.feel import Feel
from phrasing.feelfile import STRAIGHT, adjusted, load_feel, swing_from_text
from phrasing.lesson.request import Request
from phrasing.marking.marking import Marking
from phrasing.performing.dynamics import Shape
from phrasing.performing.performance import Performance, perform, shape_of, timing
from phrasing.performing.swing import tempo_range
from phrasing.score.instruments import CONCERT, DEFAULT, Instrument, instrument_named
from phrasing.score.melody import ChordSymbol, Grace, Key, Manner, Melody, OwnLine
from phrasing.score.meters import Bar, Floats, Ints, TempoMap, checked_tempo
from phrasing.score.transposing import STAY, Move
from phrasing.style import (
    AUTO,
    STYLE,
    SWING,
    Choice,
    Style,
    changes_sentence,
    chosen,
    usual_tempo,
)

if TYPE_CHECKING:
    from phrasing.marking.ownsounds import OwnSound
    from phrasing.marking.table import MarksTable

Standing = TypeVar("Standing", Key, ChordSymbol, Manner)


def bars_from_text(text: str, melody: Melody) -> tuple[int, int]:
    """Indices in ``melody.bars`` of the first and last bar of ``"1-4"`` or ``"3"``.

    Numbers are the printed ones, at their first passing; 0 is the pickup. Raises
    ``PhrasingError`` for what is not a range of bars of this piece.
    """
    match = re.fullmatch(r"\s*(\d+)\s*(?:[-–]\s*(\d+)\s*)?", text)
    if not match:
        raise PhrasingError(f"Bars “{text}”: write one bar such as 3, or a range such as 1-4.")
    first, last = int(match[1]), int(match[2] or match[1])
    index: dict[int, int] = {}
    for i, bar in enumerate(melody.bars):
        index.setdefault(bar.number, i)
    for number in (first, last):
        if number not in index:
            raise PhrasingError(
                f"Bars “{text}”: there is no bar {number}; the piece has bars "
                f"{min(index)} to {max(index)}."
            )
    if index[last] < index[first]:
        raise PhrasingError(f"Bars “{text}”: the first bar comes after the last.")
    return index[first], index[last]


def excerpt(melody: Melody, marking: Marking, first: int, last: int) -> tuple[Melody, Marking]:
    """Bars ``first`` to ``last`` (indices in ``melody.bars``) with their marks.

    The excerpt begins at tick 0 and keeps its printed bar numbers. A note held past the last
    bar is cut at its end. Raises ``PhrasingError`` where no note of a melody starts in them.
    """
    start = melody.bars[first].onset
    end = melody.bars[last].onset + melody.bars[last].length
    kept = np.flatnonzero((melody.onset >= start) & (melody.onset < end))
    if len(kept) == 0 and len(melody):
        names = f"{melody.bars[first].number} to {melody.bars[last].number}"
        raise PhrasingError(f"Bars {names}: no note starts there; choose other bars.")
    return _melody(melody, kept, start, end), marking.part(*_ends(kept))


def _melody(melody: Melody, kept: Ints, start: int, end: int) -> Melody:
    low, high = _ends(kept)
    lengths = np.minimum(melody.length[kept], end - melody.onset[kept])
    inside = [bar for bar in melody.bars if start <= bar.onset < end]
    return replace(
        melody,
        onset=melody.onset[kept] - start,
        length=lengths,
        pitch=melody.pitch[kept],
        bars=tuple(_moved(bar, start) for bar in inside),
        tempos=_tempos(melody.tempos, start, end),
        keys=_standing(melody.keys, start, end),
        chords=_standing(melody.chords, start, end),
        sections=tuple(
            replace(s, onset=s.onset - start) for s in melody.sections if start <= s.onset < end
        ),
        slurs=tuple((a - low, b - low) for a, b in melody.slurs if low <= a and b <= high),
        wedges=tuple((a - low, b - low) for a, b in melody.wedges if low <= a and b <= high),
        lines=tuple(
            replace(each, first=each.first - low, last=each.last - low)
            for each in melody.lines
            if low <= each.first and each.last <= high
        ),
        manners=_standing(melody.manners, start, end),
        phrase_ends=tuple(i - low for i in melody.phrase_ends if low <= i <= high),
        graces=tuple(
            Grace(g.note - low, g.pitches) for g in melody.graces if low <= g.note <= high
        ),
        marks={i - low: mark for i, mark in melody.marks.items() if low <= i <= high},
        inflections={i - low: n for i, n in melody.inflections.items() if low <= i <= high},
        ids=melody.ids[low : high + 1],
    )


def _ends(kept: Ints) -> tuple[int, int]:
    """The first and the last note kept; in a chart, which has none, an empty range."""
    return (int(kept[0]), int(kept[-1])) if len(kept) else (0, -1)


def _moved(bar: Bar, start: int) -> Bar:
    return replace(bar, onset=bar.onset - start)


def _standing(items: tuple[Standing, ...], start: int, end: int) -> tuple[Standing, ...]:
    """Those that hold in the excerpt: the one in force at its start comes first."""
    before = [item for item in items if item.onset <= start][-1:]
    inside = [item for item in items if start < item.onset < end]
    return tuple(replace(item, onset=max(0, item.onset - start)) for item in before + inside)


def _tempos(tempos: TempoMap, start: int, end: int) -> TempoMap:
    later = [
        (onset - start, tempo)
        for onset, tempo in zip(tempos.onsets, tempos.tempos, strict=True)
        if start < onset < end
    ]
    pairs = [(0, float(tempos.at(start))), *later]
    return TempoMap(tuple(onset for onset, _ in pairs), tuple(tempo for _, tempo in pairs))


@dataclass(frozen=True, eq=False)
class Lesson:
    """A melody, its marks, and how it is to be played.

    ``reasons`` has a sentence for each marked note, None for the others;
    ``written_reasons`` the same with the notes named as the instrument's player reads them.
    ``warnings`` are whole sentences for the teacher to read. ``style_sentence``: its
    style, and why; ``feel_name``: the name of its feel or of the feel's file. ``cut_shape``:
    where only some bars are kept (``is_cut``), the level, gate and brightness that their notes
    have in the whole. ``slurs``: whether those that are played are printed. ``move``: how far
    it was moved from the file's pitch, of which so many whole octaves (``octave``) for the
    melody alone; ``is_given_away``: its instrument was asked for.
    """

    source: Path
    melody: Melody
    marking: Marking
    feel: Feel
    instrument: Instrument
    reasons: tuple[str | None, ...]
    warnings: tuple[str, ...] = ()
    written_reasons: tuple[str | None, ...] = ()
    style_sentence: str = ""
    feel_name: str = "taught"
    cut_shape: Shape | None = None
    slurs: bool = False
    move: Move = STAY
    octave: int = 0
    is_given_away: bool = False
    is_cut: bool = False

    @property
    def style(self) -> Style:
        """The style that it is played in."""
        return self.marking.style

    @cached_property
    def shape(self) -> Shape:
        """Level, gate and brightness of each note as shaped."""
        if self.cut_shape is not None:
            return self.cut_shape
        return shape_of(self.melody, self.marking, self.feel, timing(self.melody, self.feel))

    @cached_property
    def read(self) -> Melody:
        """The melody as its player reads it, after which the notes are named."""
        from phrasing.score.transposing import as_written

        return as_written(self.melody, self.instrument)

    @property
    def table(
        self,
    ) -> tuple[Melody, Marking, Floats, Floats, tuple[str | None, ...], Melody]:
        """What the marks table is made of: see ``marking.table.marks_csv``."""
        level, gate = self.shape.level, self.shape.gate
        return self.melody, self.marking, level, gate, self.written_reasons, self.read

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


def open_lesson(path: Path, request: Request) -> Lesson:
    """Read a melody and mark it as wished; raises ``PhrasingError`` for what cannot be done.

    >>> from phrasing.performing.performance import perform
    >>> from phrasing.sound.midi import write_midi
    >>> write_midi(perform(melody("C5:2 D5:2"), None), folder / "tune.mid")
    >>> open_lesson(folder / "tune.mid", Request(tempo=160)).tempo
    160.0
    """
    lesson = open_piece(path, request)
    if len(lesson.melody) == 0:
        raise PhrasingError(f"{path}: has chords but no melody; “phrasing backing” plays it.")
    return lesson


def open_piece(path: Path, request: Request) -> Lesson:
    """The same for a melody or a chord chart, whose lesson has no notes.

    >>> place = folder / "song.chart"
    >>> _ = place.write_text("| Dm7 | G7 | C6 | C6 |")
    >>> len(open_piece(place, Request()).melody.chords)
    4
    """
    return lesson_on(read_as_asked(path, request), path, request)


def read_as_asked(path: Path, request: Request) -> Melody:
    """The melody in a file, of the part and with the bar lines that are asked for.

    >>> place = folder / "song.chart"
    >>> _ = place.write_text("| Dm7 | G7 | C6 | C6 |")
    >>> len(read_as_asked(place, Request()).bars)
    4
    """
    from phrasing.reading import read

    return read(
        path,
        part=request.track,
        pickup=request.pickup,
        meter=request.meter,
        tempo=request.tempo,
        as_written=request.as_written,
    )


def lesson_on(
    melody: Melody,
    source: Path,
    request: Request,
    *,
    author: Mapping[int, str | None] | None = None,
    lines: Iterable[OwnLine] = (),
    own: Mapping[int, OwnSound] = MappingProxyType({}),
    feel: Mapping[str, Any] | None = None,
) -> Lesson:
    """A lesson on a melody that was read already, so that a new wish need not read it again.

    ``author``: the teacher's marks by note, in place of the request's marks table, and
    ``lines``, the lines the teacher drew, and ``own``, what the teacher wants of single notes.
    ``feel``: entries laid out as in a feel's file, put in after the request's own. Raises
    ``PhrasingError`` for what cannot be done.

    >>> tune = melody("C5:2 D5:2")
    >>> lesson_on(tune, Path("tune.mid"), Request(tempo=160)).tempo
    160.0
    """
    from phrasing.marking.explaining import reasons
    from phrasing.marking.ownlines import drawn_in
    from phrasing.marking.precedence import mark
    from phrasing.marking.table import read_marks_table
    from phrasing.score.transposing import as_written, fit, move_asked, moved

    melody = _at_tempo(melody, request, source)
    if request.swing is not None and swing_from_text(request.swing) is None:
        melody = replace(melody, swing=None)
    instrument = _instrument(melody, request)
    try:
        move = move_asked(melody, request.transpose, request.octave or 0)
        melody = moved(melody, move)
        on_paper = as_written(melody, instrument)
    except PhrasingError as error:
        raise PhrasingError(f"{source}: {error}") from None
    shown: Mapping[int, str | None] = {}
    if author is None and request.marks:
        table = read_marks_table(request.marks, melody)
        author, shown, lines, own = table.changed, table.marks, table.lines, table.own
        request = _made_with(melody, request, table)
    if request.swing is not None or request.style not in (None, AUTO):
        melody, on_paper = melody.in_one_manner(), on_paper.in_one_manner()
    if request.style and request.style.strip().lower() not in (AUTO, *STYLE):
        melody = replace(melody, style_words=request.style)
    melody, on_paper = drawn_in(melody, lines), drawn_in(on_paper, lines)
    choice = style_of(melody, request)
    felt = feel_of(request, choice.style, feel or {})
    marking = mark(
        melody,
        style=choice.style,
        leave_out=request.leave_out,
        author=author,
        shown=shown,
        second=request.second_reading,
        detached=felt.detached,
        own=own,
    )
    told = reasons(melody, marking)
    written = reasons(on_paper, marking)
    told_too = [_no_instrument(melody, request), fit(melody, instrument).message]
    warnings = (*melody.reading.warnings, *filter(None, told_too))
    lesson = Lesson(
        source,
        melody,
        marking,
        felt,
        instrument,
        told,
        warnings,
        written,
        " ".join(filter(None, [choice.sentence, changes_sentence(melody, choice.style)])),
        feel_name=request.feel.name if request.feel else "taught",
        slurs=instrument.wind if request.slurs is None else request.slurs,
        move=move,
        octave=request.octave or 0,
        is_given_away=bool(request.instrument),
    )
    return _only(lesson, request.only)


def _made_with(melody: Melody, request: Request, table: MarksTable) -> Request:
    """The request with the style and without the rules that a marks table was made with."""
    request = replace(request, leave_out=(*request.leave_out, *table.left_out))
    if request.style is not None or table.style in (None, style_of(melody, request).style.name):
        return request
    return replace(request, style=table.style)


def style_of(melody: Melody, request: Request) -> Choice:
    """The style that the request asks for, straight eighths among them, or else the melody's.

    Raises ``PhrasingError`` for an unknown style, and for even eighths that are to swing.
    """
    asked = swing_from_text(request.swing) if request.swing else None
    straight = asked is not None and asked.by_tempo == STRAIGHT
    named = request.style if request.style not in (None, AUTO) else None
    choice = chosen(melody, named or ("even" if straight else None))
    if named and asked and not straight and choice.style.is_even:
        raise PhrasingError(
            f"Even eighths do not swing: leave out --swing {request.swing} or --style {named}."
        )
    return choice if named or not asked or straight else _swung(choice)


def _swung(choice: Choice) -> Choice:
    """What is played where a ratio is asked for: even eighths give way to swing."""
    if not choice.style.is_even:
        return choice
    return Choice(SWING, f"A swing ratio is asked for: {SWING.title}; {SWING.way}.")


def feel_of(
    request: Request, style: Style = SWING, entries: Mapping[str, Any] = MappingProxyType({})
) -> Feel:
    """The feel that the request asks for: the style's, then the file's, strength and swing.

    ``entries``: more of the feel, laid out as in a file.

    >>> feel_of(Request(strength=0.5)).strength
    0.5
    """
    styled = style.played()
    feel = load_feel(request.feel, styled) if request.feel else styled
    feel = adjusted(feel, entries) if entries else feel
    if request.strength is not None:
        feel = replace(feel, strength=request.strength)
    if not 0.0 <= feel.strength <= 1.0:
        raise PhrasingError(f"Strength {feel.strength:g}: choose from 0 (plain) to 1 (full).")
    if request.swing is not None:
        asked = swing_from_text(request.swing)
        table = asked.by_tempo if asked else styled.swing.by_tempo
        feel = replace(feel, swing=replace(feel.swing, by_tempo=table))
    return feel


def _at_tempo(melody: Melody, request: Request, path: Path) -> Melody:
    """At the tempo asked for, or else, where the file gives none anywhere, at the usual one
    of the style asked for."""
    missing, said = melody.reading.no_tempo, ""
    asked = request.tempo
    is_open = asked is None and missing and len(melody.tempos.tempos) == 1
    if is_open and (asked := usual_tempo(request.style or "")):
        said = f"{missing.partition(';')[0]}; {asked:g} is usual for “{request.style}”."
    if asked is not None:
        melody = melody.with_tempo(checked_tempo(asked))
        told = (said if each == missing else each for each in melody.reading.warnings)
        reading = replace(melody.reading, warnings=tuple(filter(None, told)))
        melody = replace(melody, reading=reading)
    for tempo in tempo_range(melody.tempos):
        try:
            checked_tempo(tempo)
        except PhrasingError as error:
            raise PhrasingError(f"{path}: {error}") from None
    return melody


def _instrument(melody: Melody, request: Request) -> Instrument:
    """The instrument asked for, or the file's; a part at concert pitch where it names none."""
    name = request.instrument or melody.instrument
    return instrument_named(name) if name else CONCERT


def _no_instrument(melody: Melody, request: Request) -> str:
    """What is said where nobody names an instrument."""
    if request.instrument or melody.instrument or not len(melody):
        return ""
    return (
        "No instrument is named, so the part stays at concert pitch and sounds as a "
        f"{DEFAULT.name.split()[0].lower()}; name one with --instrument."
    )


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
        is_cut=True,
        warnings=(*lesson.warnings, *_written_out(melody, bars)),
    )


def _written_out(melody: Melody, bars: str) -> tuple[str, ...]:
    """What is said where a repeat of a score is written out."""
    printed = [bar.printed for bar in melody.bars]
    goes_back = any(after != before + 1 for before, after in pairwise(printed))
    if not melody.ids or not goes_back:
        return ()
    return (f"Bars {bars} go over a repeat, which is written out.",)
