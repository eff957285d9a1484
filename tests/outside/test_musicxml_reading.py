"""Reading scores, against music21: its own reading of its MusicXML test suite, of its lead
sheets, and of folk tunes that it exports as MusicXML.

music21 (BSD licence) is a reference for analysing scores; the files are its own, and are read
where they are installed. Where the two differ on purpose, the test says why.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import pytest

from phrasing.errors import PhrasingError
from phrasing.reading.musicxml.file import open_score
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.reading.musicxml.parts import score_parts
from phrasing.score.chords import parse_chord
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS

pytestmark = pytest.mark.outside
music21 = pytest.importorskip("music21")

PACKAGE = Path(find_spec("music21").origin).parent
SUITE = sorted(
    path
    for path in (PACKAGE / "musicxml" / "lilypondTestSuite").iterdir()
    if path.suffix in (".xml", ".mxl")
)
OTHERWISE = {
    "21f": "a chord's notes stay together though a sign stands between them",
    "22a": "rhythm slashes are no melody",
    "22b": "notes under the slash style are no melody",
    "32c": "the pitch says A; its printed sharp contradicts it",
    "33i": "a tie without an end goes to the next note of its pitch",
    "43d": "a voice that crosses between staves stays whole",
}
"""Files of the suite that are read differently on purpose, and why."""

Rows = list[tuple[int, int, int]]


def ticks(quarters: object) -> int:
    return round(Fraction(quarters) * TICKS)


def top_line(part: object) -> Rows:
    """(onset, end, pitch) of the first voice, top notes of chords, ties merged."""
    rows: list[list[Fraction | int]] = []
    tied = False
    for measure in part.getElementsByClass("Measure"):
        voice = measure.voices[0] if measure.voices else measure
        shift = Fraction(measure.offset) + Fraction(voice.offset if measure.voices else 0)
        for element in voice.notesAndRests:
            if not _has_pitch(element):
                continue
            top = max(_members(element), key=lambda one: one.pitch.ps)
            tie = top.tie or element.tie
            onset = shift + Fraction(element.offset)
            end, pitch = onset + Fraction(element.quarterLength), round(top.pitch.ps)
            held = tied and tie is not None and tie.type in ("stop", "continue")
            if held and rows[-1][2] == pitch and ticks(rows[-1][1]) == ticks(onset):
                rows[-1][1] = end
            else:
                rows.append([onset, end, pitch])
            tied = tie is not None and tie.type in ("start", "continue")
    return [(ticks(a), ticks(b), int(pitch)) for a, b, pitch in rows if b > a]


def _has_pitch(element: object) -> bool:
    if "Harmony" in element.classes or element.duration.isGrace:
        return False
    return "Note" in element.classes or ("Chord" in element.classes and element.pitches)


def _members(element: object) -> list[object]:
    return list(element.notes) if "Chord" in element.classes else [element]


def rows_of(melody: Melody) -> Rows:
    return [(n.onset, n.onset + n.length, n.pitch) for n in melody.notes]


def same(ours: Rows, theirs: Rows) -> bool:
    """The same notes; ends may differ by the tick that floats are off for odd tuplets."""
    return [(a, p) for a, _, p in ours] == [(a, p) for a, _, p in theirs] and all(
        abs(one[1] - other[1]) <= 1 for one, other in zip(ours, theirs, strict=True)
    )


@cache
def parsed(path: Path) -> object:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = music21.converter.parse(path, forceSource=True)
        return found.toSoundingPitch()


def first_staves(stream: object) -> list[object]:
    """music21's parts, of those with several staves the first."""
    parts: list[object] = []
    for part in stream.parts:
        staff = "PartStaff" in part.classes
        goes_on = staff and parts and "PartStaff" in parts[-1].classes
        if not (goes_on and parts[-1].partName == part.partName):
            parts.append(part)
    return parts


def test_the_suite_is_there():
    assert len(SUITE) >= 142


@pytest.mark.parametrize("path", SUITE, ids=lambda path: path.stem)
def test_the_suite_is_read_as_music21_reads_it(path):
    """Each part as written: onsets, ends and sounding pitches of its top line."""
    theirs = first_staves(parsed(path))
    parts = score_parts(open_score(path))
    for part in parts:
        ours, refusal = part_of(path, part.number)
        assert not refusal or "no pitched notes" in refusal
        if path.name[:3] not in OTHERWISE and len(theirs) == len(parts) and not part.is_drums:
            assert same(ours, top_line(theirs[part.number - 1]))


def part_of(path: Path, number: int) -> tuple[Rows, str]:
    """A part as written; no rows and the message where it is refused."""
    try:
        return rows_of(read_musicxml(path, part=str(number), as_written=True)), ""
    except PhrasingError as error:
        return [], str(error)


def test_hardly_a_part_of_the_suite_goes_uncompared():
    """Only one score has a list of parts that music21 counts otherwise."""
    uncounted = [
        path.name
        for path in SUITE
        if len(first_staves(parsed(path))) != len(score_parts(open_score(path)))
    ]
    assert uncounted == ["41h-TooManyParts.xml"]


LEAD_SHEETS = [
    PACKAGE / "corpus" / "leadSheet" / "berlinAlexandersRagtime.mxl",
    PACKAGE / "corpus" / "leadSheet" / "fosterBrownHair.mxl",
]
CHORD_FILES = [
    *LEAD_SHEETS,
    PACKAGE / "corpus" / "demos" / "ComprehensiveChordSymbolsTestFile.mxl",
    *(path for path in SUITE if path.name.startswith(("71a", "71f"))),
    PACKAGE / "musicxml" / "testNC.xml",
    PACKAGE / "musicxml" / "testChordOffset.xml",
]
UNNAMED = ("Neapolitan", "Italian", "French", "German", "pedal", "Tristan", "tristan", "other")
"""Kinds that are no chord over a root in a lead sheet, and are left out."""


@pytest.mark.parametrize("path", CHORD_FILES, ids=lambda path: path.stem)
def test_chord_symbols_have_the_notes_that_music21_gives_them(path):
    """The same places and pitch classes.

    But: a thirteenth chord has no natural eleventh here (common practice); music21 does not
    know the minor chord with a major seventh when it is called "minor-major".
    """
    melody = read_musicxml(path, as_written=True)
    ours = {
        chord.onset: parse_chord(chord.text) for chord in melody.chords if _known(chord.text)
    }
    compared = 0
    for symbol in parsed(path).recurse().getElementsByClass("ChordSymbol"):
        if symbol.chordKind in (*UNNAMED, "minor-major") or "subtract" in symbol.figure:
            continue
        chord = ours[ticks(symbol.getOffsetInHierarchy(parsed(path)))]
        theirs = {pitch.pitchClass for pitch in symbol.pitches}
        if "13th" in symbol.chordKind:
            theirs -= {(symbol.root().pitchClass + 5) % 12} - {symbol.bass().pitchClass}
        assert chord.pitch_classes == theirs, symbol.figure
        compared += 1
    assert compared >= 0.8 * len(ours)


def _known(text: str) -> bool:
    try:
        parse_chord(text)
    except PhrasingError:
        return False
    return True


def test_the_lead_sheets_have_all_their_chords():
    counts = [len(read_musicxml(path, as_written=True).chords) for path in LEAD_SHEETS]
    assert counts == [19, 40]


# Folk tunes


def tunes() -> Iterator[tuple[str, object]]:
    """159 dance tunes of three collections, from their ABC."""
    reels = sorted((PACKAGE / "corpus" / "ryansMammoth").glob("*.abc"))[::18]
    for path in reels:
        yield path.stem, music21.converter.parse(path)
    for name in ("airdsAirs/book1.abc", "oneills1850/0001-0050.abc"):
        book = music21.converter.parse(PACKAGE / "corpus" / name)
        yield from ((f"{name} {i}", tune) for i, tune in enumerate(book.scores[:50]))


def test_folk_tunes_are_read_exactly_as_music21_wrote_them(tmp_path):
    """As written, note for note; and played out, wherever music21's own expander applies.

    But: it plays a pickup again even where the bar before has no room for it.
    """
    written = expanded = 0
    failures = []
    for name, tune in tunes():
        file = tmp_path / "tune.musicxml"
        try:
            tune.write("musicxml", fp=file, makeNotation=False)
        except music21.exceptions21.Music21Exception:
            continue
        line = top_line(tune.parts[0])
        if rows_of(read_musicxml(file, as_written=True)) == line:
            written += 1
        else:
            failures.append(name)
        order, melody = _expanded(tune), read_musicxml(file)
        if order is not None and not any("only once" in w for w in melody.reading.warnings):
            assert [bar.number for bar in melody.bars] == order, name
            expanded += 1
    assert failures == []
    assert written >= 150
    assert expanded >= 40


def _expanded(tune: object) -> list[int] | None:
    """Bar numbers as music21 plays them; None where it is at odds with common practice.

    It goes back to the very beginning from a repeat sign that has none to go back to, where
    a player goes back to the end of the last repeat.
    """
    measures = list(tune.parts[0].getElementsByClass("Measure"))
    starts = [_is_repeat(m.leftBarline, "start") for m in measures]
    ends = [_is_repeat(m.rightBarline, "end") for m in measures]
    since_start = True
    for start, end in zip(starts, ends, strict=True):
        since_start = since_start or start
        if end and not since_start:
            return None
        since_start = since_start and not end
    if not any(ends):
        return None
    try:
        played = tune.parts[0].expandRepeats()
    except music21.repeat.ExpanderException:
        return None
    return [m.number for m in played.getElementsByClass("Measure")]


def _is_repeat(barline: object, direction: str) -> bool:
    return barline is not None and getattr(barline, "direction", None) == direction
