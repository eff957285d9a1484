"""Chord charts: a plain text file of bars, as a teacher writes one by hand.

A chart looks like this::

    title: Rain on the Rehearsal Room
    tempo: 140
    key: Bb
    # a line that begins with a number sign is for the reader only

    A:
    |: Dm7 G7 | Cmaj7 | % | 1. Em7 A7 :| 2. C6 |
    B:
    | Fm7 / / B♭7 | N.C. | Cmaj7 | |

Settings: ``title``, ``tempo`` (quarter notes a minute), ``meter`` (such as 3/4), ``key``
(such as Bb or F#m) and ``swing`` (a ratio such as 2, or straight). Tempo, meter and key may
change between lines of bars. Any other word with a colon names a section. Chords share their
bar evenly on its beats, the earlier ones longer where they do not divide; with slashes every
chord and every slash is a beat. ``%`` plays the bar before again, an empty bar goes on with
its chord, ``|: … :|`` is repeated (``:| x3``: played three times), and ``1.`` or ``1,2.``
opens an ending.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from phrasing.chords import parse_chord
from phrasing.errors import PhrasingError
from phrasing.melody import Bar, ChordSymbol, Key, Melody, Reading, Section
from phrasing.reading.chartbars import Cell, cells_of, placed
from phrasing.reading.chartsettings import Settings, is_setting, with_setting
from phrasing.reading.repeats import BarSigns, TooLongError, played_order
from phrasing.reading.text import bytes_of
from phrasing.tempo import TempoMap

NAMED = re.compile(r"([^|:]+):\s*(.*)")
LONGEST = 1_000_000
"""Bytes: a chart of text is far shorter."""


@dataclass(frozen=True)
class _Written:
    """A bar as written: what it says, what holds there, and the chords on its ticks."""

    signs: BarSigns
    settings: Settings
    chords: tuple[tuple[int, str], ...]
    section: str | None


@dataclass
class _Reader:
    """Where the reader is in the file."""

    path: Path
    settings: Settings = field(default_factory=Settings)
    section: str | None = None
    ending: tuple[int, ...] = ()
    bars: list[_Written] = field(default_factory=list)
    line: int = 0

    def fails(self, sentence: str, in_bar: bool = False) -> PhrasingError:
        place = f"line {self.line}, bar {len(self.bars) + 1}" if in_bar else f"line {self.line}"
        return PhrasingError(f"{self.path}: {place}: {sentence}")


def read_chart(path: Path) -> Melody:
    """The bars, chords, sections, keys and tempos of a chord chart, repeats played out.

    The melody has no notes. Chord symbols are as written, with real flats and sharps. Raises
    ``PhrasingError`` naming the line, the bar and the symbol that cannot be read.
    """
    reader = _Reader(path)
    for number, text in enumerate(_text(path).splitlines(), start=1):
        reader.line = number
        _read_line(reader, text.strip())
    if reader.section is not None:
        raise reader.fails(f"the section “{reader.section}” has no bars; write some below it.")
    if not reader.bars:
        raise PhrasingError(f"{path}: has no bars; write them such as | Dm7 G7 | Cmaj7 |.")
    return _melody(reader)


def _text(path: Path) -> str:
    """The file's text, in whatever encoding an editor saved it."""
    raw = bytes_of(path)
    wide = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
    if len(raw) > LONGEST or (b"\0" in raw and not wide):
        raise PhrasingError(f"{path}: is not a chord chart; a chart is a short text file.")
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252"):
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    return raw.decode("utf-16" if wide else "latin-1", "replace")


def _read_line(reader: _Reader, text: str) -> None:
    if not text or text.startswith("#"):
        return
    named = NAMED.fullmatch(text)
    if named is not None and is_setting(named[1]):
        _set(reader, named[1], named[2])
    elif named is not None and (not named[2] or named[2].startswith("|")):
        reader.section, reader.ending = named[1].strip(), ()
        _read_bars(reader, named[2])
    elif text.startswith("|"):
        _read_bars(reader, text)
    elif named is not None:
        _set(reader, named[1], named[2])
    else:
        raise reader.fails(
            f"“{text}” is neither bars, such as | Dm7 | G7 |, nor a setting, such as "
            "tempo: 140; a remark begins with #."
        )


def _set(reader: _Reader, name: str, value: str) -> None:
    try:
        reader.settings = with_setting(reader.settings, name, value)
    except ValueError as error:
        raise reader.fails(str(error)) from error


def _read_bars(reader: _Reader, text: str) -> None:
    try:
        for cell in cells_of(text):
            reader.bars.append(_written(reader, cell))
            reader.section = None
    except (ValueError, PhrasingError) as error:
        sentence = str(error)
        raise reader.fails(sentence[0].lower() + sentence[1:], in_bar=True) from error


def _written(reader: _Reader, cell: Cell) -> _Written:
    if cell.forward:
        reader.ending = ()
    reader.ending = cell.ending or reader.ending
    signs = BarSigns(
        forward=cell.forward,
        backward=cell.backward,
        times=cell.times,
        ending=reader.ending,
        opens_ending=bool(cell.ending),
        full=True,
    )
    if cell.backward:
        reader.ending = ()
    return _Written(signs, reader.settings, _chords(reader, cell), reader.section)


def _chords(reader: _Reader, cell: Cell) -> tuple[tuple[int, str], ...]:
    meter = reader.settings.meter
    if cell.symbols == ("%",):
        if not reader.bars:
            raise ValueError("“%” plays the bar before again, and there is none.")
        before = reader.bars[-1].chords
        return tuple((at, name) for at, name in before if at < meter.bar_length)
    chords = [(at, parse_chord(name).written) for at, name in placed(cell.symbols, meter)]
    return tuple(chords)


def _melody(reader: _Reader) -> Melody:
    try:
        order = played_order([bar.signs for bar in reader.bars])
    except TooLongError:
        raise PhrasingError(
            f"{reader.path}: its repeats ask for more bars than anyone plays; check the x…"
        ) from None
    bars = tuple(_bars(reader.bars, order))
    played = [reader.bars[index] for index in order]
    nothing = np.zeros(0, np.int64)
    return Melody(
        onset=nothing,
        length=nothing,
        pitch=nothing,
        bars=bars,
        tempos=_tempos(bars, played),
        keys=tuple(_keys(bars, played)),
        chords=tuple(
            ChordSymbol(bar.onset + at, name)
            for bar, written in zip(bars, played, strict=True)
            for at, name in written.chords
        ),
        sections=tuple(
            Section(bar.onset, written.section)
            for bar, written in zip(bars, played, strict=True)
            if written.section is not None
        ),
        title=reader.settings.title,
        swing=reader.settings.swing,
        reading=_reading(reader, len(bars)),
    )


def _bars(written: list[_Written], order: list[int]) -> Iterator[Bar]:
    onset, passings = 0, Counter[int]()
    for index in order:
        meter = written[index].settings.meter
        passings[index] += 1
        yield Bar(onset, meter.bar_length, index + 1, meter, passing=passings[index])
        onset += meter.bar_length


def _tempos(bars: tuple[Bar, ...], played: list[_Written]) -> TempoMap:
    tempos: dict[int, float] = {}
    for bar, written in zip(bars, played, strict=True):
        if not tempos or written.settings.tempo != next(reversed(tempos.values())):
            tempos[bar.onset] = written.settings.tempo
    return TempoMap(tuple(tempos), tuple(tempos.values()))


def _keys(bars: tuple[Bar, ...], played: list[_Written]) -> Iterator[Key]:
    now = None
    for bar, written in zip(bars, played, strict=True):
        key = written.settings.key
        if key is not None and key != now:
            yield replace(key, onset=bar.onset)
        now = key


def _reading(reader: _Reader, played: int) -> Reading:
    bars = len(reader.bars)
    count = f"{bars} bar{'s' if bars > 1 else ''}"
    format = f"chord chart, {count}" + (f", {played} with repeats" if played != bars else "")
    settings, warnings = reader.bars[0].settings, []
    if not settings.has_tempo:
        warnings.append(
            f"The chart does not give the tempo of bar 1; {settings.tempo:g} is taken."
        )
    opened = [index for index, bar in enumerate(reader.bars, 1) if bar.signs.forward]
    for index, following in pairwise([*opened, bars + 1]):
        if not any(bar.signs.backward for bar in reader.bars[index - 1 : following - 1]):
            warnings.append(
                f"The repeat that begins in bar {index} has no end (:|); it is played once."
            )
    return Reading(format=format, warnings=tuple(warnings))
