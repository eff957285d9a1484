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
(such as Bb or F#m), ``swing`` (a ratio such as 2, or straight) and ``style`` or ``feel``
(such as ballad or bossa). All but the title may change between lines of bars. Any other word
with a colon names a section. Chords share their bar evenly on its beats, the earlier ones
longer where they do not divide; with slashes every chord and every slash is a beat. ``%`` plays
the bar before again, an empty bar goes on with its chord, ``|: … :|`` is repeated (``:| x3``:
played three times), and ``1.`` or ``1,2.`` opens an ending. ``Segno``, ``Coda``, ``To Coda``,
``Fine``, ``D.C.``, ``D.S.`` (``al Fine``, ``al Coda``) stand in a bar or behind the last one.
The bar lines at both ends of a row may be left out.
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.feelfile import ratio_from_text
from phrasing.limits import TEXT_BYTES
from phrasing.reading.chartrow import Cell, cells_of, placed, signs_in
from phrasing.reading.repeats import BarSigns, TooLongError, played_order
from phrasing.reading.source import bytes_of
from phrasing.score.chords import parse_chord
from phrasing.score.melody import ChordSymbol, Key, Manner, Melody, Reading, Section
from phrasing.score.meters import FASTEST, SLOWEST, SMF_TEMPO, Bar, Meter, TempoMap
from phrasing.style import STYLE, style_in_words, usual_tempo

FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
MAJOR, MINOR = ("", "maj", "major"), ("m", "-", "min", "minor")
UNITS = (1, 2, 4, 8, 16)
MOST_BEATS = 32


@dataclass(frozen=True)
class Settings:
    """What holds at a place in the chart.

    ``tempo``: quarter notes a minute, and whether the chart gave it (``has_tempo``); where it
    did not, words for the feel may name a usual one.
    """

    title: str = ""
    tempo: float = SMF_TEMPO
    has_tempo: bool = False
    meter: Meter = field(default_factory=Meter)
    key: Key | None = None
    swing: float | None = None
    style_words: str = ""


def is_setting(name: str) -> bool:
    """Whether a word before a colon is a setting, not a section."""
    return name.strip().lower() in READERS


def with_setting(settings: Settings, name: str, value: str) -> Settings:
    """The settings with one more. Raises ``ValueError`` with a sentence."""
    word, value = name.strip().lower(), value.strip()
    if word not in READERS:
        near = difflib.get_close_matches(word, READERS, n=1, cutoff=0.0)[0]
        raise ValueError(
            f"there is no setting “{name.strip()}”; the nearest that is known is “{near}”, and "
            "a section's name stands alone with its colon."
        )
    return READERS[word](settings, value)


def _title(settings: Settings, value: str) -> Settings:
    return replace(settings, title=value)


def _tempo(settings: Settings, value: str) -> Settings:
    number = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:bpm)?", value, re.IGNORECASE)
    if number is None or float(number[1]) <= 0:
        raise ValueError(f"the tempo “{value}” is no number; write tempo: 140.")
    if not SLOWEST <= float(number[1]) <= FASTEST:
        raise ValueError(
            f"the tempo “{value}” is outside {SLOWEST:g} to {FASTEST:g} quarter notes a "
            "minute; write tempo: 140."
        )
    return replace(settings, tempo=float(number[1]), has_tempo=True)


def _meter(settings: Settings, value: str) -> Settings:
    numbers = re.fullmatch(r"(\d{1,3})\s*/\s*(\d{1,3})", value)
    beats, unit = (int(numbers[1]), int(numbers[2])) if numbers else (0, 0)
    if not 0 < beats <= MOST_BEATS or unit not in UNITS:
        raise ValueError(f"the meter “{value}” is not known; write meter: 3/4.")
    return replace(settings, meter=Meter(beats, unit))


def _key(settings: Settings, value: str) -> Settings:
    plain = value.replace("♭", "b").replace("♯", "#")
    parts = re.fullmatch(r"([A-G])([b#]?)\s*(m|-|[a-zA-Z]{3,5})?", plain)
    mode = (parts[3] or "").lower() if parts else ""
    if parts is None or mode not in (*MAJOR, *MINOR):
        raise ValueError(f"the key “{value}” is not known; write key: Bb, or key: F#m.")
    minor = mode in MINOR
    fifths = FIFTHS[parts[1]] + {"": 0, "b": -7, "#": 7}[parts[2]] - 3 * minor
    if not -7 <= fifths <= 7:
        raise ValueError(f"there is no key signature of {value}; write its other name.")
    return replace(settings, key=Key(0, fifths, minor))


def _swing(settings: Settings, value: str) -> Settings:
    try:
        ratio = ratio_from_text(value)
    except PhrasingError as error:
        raise ValueError(str(error).replace("Swing", "swing", 1)) from error
    said = style_in_words(settings.style_words)
    agrees = said is not None and said.is_even == (ratio == 1.0)
    return replace(settings, swing=ratio, style_words=settings.style_words if agrees else "")


def _style(settings: Settings, value: str) -> Settings:
    said = style_in_words(value)
    if said is None:
        raise ValueError(
            f"the style “{value}” is not known; write style: {', '.join(STYLE)}, or what the "
            "band plays: two-feel, jazz waltz, bossa, samba, 12/8."
        )
    agrees = settings.swing is not None and said.is_even == (settings.swing == 1.0)
    usual = None if settings.has_tempo else usual_tempo(value)
    return replace(
        settings,
        style_words=value,
        swing=settings.swing if agrees else None,
        tempo=usual or settings.tempo,
    )


READERS: dict[str, Callable[[Settings, str], Settings]] = {
    "title": _title,
    "tempo": _tempo,
    "meter": _meter,
    "key": _key,
    "swing": _swing,
    "style": _style,
    "feel": _style,
}


NAMED = re.compile(r"([^|:]+):\s*(.*)")


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
    if len(raw) > TEXT_BYTES or (b"\0" in raw and not wide):
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
    signs, left = signs_in(text)
    if named is not None and is_setting(named[1]):
        _set(reader, named[1], named[2])
    elif named is not None and (not named[2] or "|" in named[2]):
        reader.section, reader.ending = named[1].strip(), ()
        _read_bars(reader, named[2])
    elif "|" in text:
        _read_bars(reader, text)
    elif signs and not left.strip() and reader.bars:
        _sign_last(reader, signs)
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
    closed = text if text.startswith("|") or not text else f"|{text}"
    try:
        for cell in cells_of(closed):
            if not cell.is_bar and reader.bars:
                _sign_last(reader, cell.signs)
                continue
            reader.bars.append(_written(reader, cell))
            reader.section = None
    except (ValueError, PhrasingError) as error:
        sentence = str(error)
        raise reader.fails(sentence[0].lower() + sentence[1:], in_bar=True) from error


def _sign_last(reader: _Reader, signs: frozenset[str]) -> None:
    """Put signs that stand behind a row into its last bar."""
    last = reader.bars[-1]
    reader.bars[-1] = replace(last, signs=_signed(last.signs, signs))


def _signed(bar: BarSigns, signs: frozenset[str]) -> BarSigns:
    """A bar with signs that send a player elsewhere, none of which has a name in a chart."""
    flags = {name: True for name in ("da_capo", "fine") if name in signs}
    places = {name: "" for name in ("segno", "coda", "dal_segno", "to_coda") if name in signs}
    return replace(bar, **flags, **places)  # type: ignore[arg-type]


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
    begins_coda = (reader.section or "").casefold() == "coda"
    signs = _signed(signs, cell.signs | (frozenset({"coda"}) if begins_coda else frozenset()))
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
            f"{reader.path}: its repeats ask for more bars than anyone plays; "
            "check how often its sections are played."
        ) from None
    bars = tuple(_bars(reader.bars, order))
    played = [reader.bars[index] for index in order]
    nothing = np.zeros(0, np.int64)
    first, *later = _manners(bars, played)
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
        swing=first.swing,
        style_words=first.words,
        manners=tuple(later),
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


def _manners(bars: tuple[Bar, ...], played: list[_Written]) -> Iterator[Manner]:
    """How each bar is to be played, from where that changes."""
    now = None
    for bar, written in zip(bars, played, strict=True):
        manner = Manner(0, written.settings.style_words, written.settings.swing)
        if manner != now:
            yield replace(manner, onset=bar.onset)
        now = manner


def _reading(reader: _Reader, played: int) -> Reading:
    bars = len(reader.bars)
    count = f"{bars} bar{'s' if bars > 1 else ''}"
    format = f"chord chart, {count}" + (f", {played} with repeats" if played != bars else "")
    settings, warnings = reader.bars[0].settings, []
    words, no_tempo = settings.style_words, ""
    if not settings.has_tempo:
        usual = f", as is usual for “{words}”" if usual_tempo(words) else ""
        warnings.append(
            f"The chart does not give the tempo of bar 1; {settings.tempo:g} is taken{usual}."
        )
        no_tempo = "" if usual else warnings[0]
    opened = [index for index, bar in enumerate(reader.bars, 1) if bar.signs.forward]
    for index, following in pairwise([*opened, bars + 1]):
        if not any(bar.signs.backward for bar in reader.bars[index - 1 : following - 1]):
            warnings.append(
                f"The repeat that begins in bar {index} has no end (:|); it is played once."
            )
    warnings += _of_jumps([bar.signs for bar in reader.bars])
    return Reading(format=format, warnings=tuple(warnings), no_tempo=no_tempo)


def _of_jumps(signs: list[BarSigns]) -> Iterator[str]:
    """What is said where a chart sends the player to a place that is not there."""
    if any(bar.dal_segno is not None for bar in signs) and all(b.segno is None for b in signs):
        yield "The chart says D.S., but has no Segno; it goes back to the beginning."
    if any(bar.to_coda is not None for bar in signs) and all(b.coda is None for b in signs):
        yield "The chart leads to a coda that is not there; it goes on."
    jumps = any(bar.jumps for bar in signs)
    if jumps and not any(bar.fine or bar.coda is not None for bar in signs):
        yield "The chart goes back without Fine or Coda; it is played to the end."
