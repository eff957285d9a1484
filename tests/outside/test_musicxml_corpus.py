"""Every one-line part of a choice of music21's corpus, note for note as music21 reads it.

music21 (BSD licence) and its MusicXML corpus are read where they are installed. Places are
compared bar by bar, because the two count a pickup's rest differently. A tie without an end
joins equal pitches in both: music21 leaves that to its user, so it is done here too.
"""

from __future__ import annotations

import importlib.util
import random
from fractions import Fraction
from pathlib import Path

import pytest

from phrasing.reading.musicxml.file import open_score
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.reading.musicxml.parts import score_parts
from phrasing.score.melody import Melody
from tests.outside.test_musicxml_reading import first_staves, parsed, ticks

pytestmark = pytest.mark.outside
music21 = pytest.importorskip("music21")

FILES, LARGEST = 45, {".mxl": 60_000, ".xml": 600_000, ".musicxml": 600_000}
ROUNDED = 4
"""Ticks by which music21, which takes rounded tuplets as they are, may differ."""
OTHERWISE: dict[str, str] = {}
"""Files that are read differently on purpose, and why: none of this choice."""

Rows = list[tuple[int, int, int]]


def choice() -> list[Path]:
    """The same files every time."""
    root = Path(importlib.util.find_spec("music21").origin).parent / "corpus"
    files = sorted(p for p in root.rglob("*") if p.suffix in LARGEST)
    small = [path for path in files if path.stat().st_size <= LARGEST[path.suffix]]
    return random.Random(12).sample(small, FILES)


def as_music21_reads(part: object) -> Rows:
    """Bar, ticks into it and pitch of every note struck, of chords the top one."""
    rows: Rows = []
    held = None
    for index, measure in enumerate(part.getElementsByClass("Measure")):
        voice = measure.voices[0] if measure.voices else measure
        shift = Fraction(voice.offset) if measure.voices else Fraction(0)
        for element in voice.notesAndRests:
            if "Harmony" in element.classes or element.duration.isGrace:
                continue
            if "Rest" in element.classes or not element.pitches:
                held = None
                continue
            notes = element.notes if "Chord" in element.classes else [element]
            top = max(notes, key=lambda one: one.pitch.ps)
            tie, pitch = top.tie, round(top.pitch.ps)
            if held != pitch:
                rows.append((index, ticks(shift + Fraction(element.offset)), pitch))
            begins = tie is not None and tie.type in ("start", "continue")
            held = pitch if begins else None
    return rows


def as_we_read(melody: Melody) -> Rows:
    bars = [melody.bars[index] for index in melody.bar_index.tolist()]
    return [
        (bar.printed, onset - bar.onset, pitch)
        for bar, onset, pitch in zip(
            bars, melody.onset.tolist(), melody.pitch.tolist(), strict=True
        )
    ]


def same(ours: Rows, theirs: Rows) -> bool:
    return len(ours) == len(theirs) and all(
        (one[0], one[2]) == (other[0], other[2]) and abs(one[1] - other[1]) <= ROUNDED
        for one, other in zip(ours, theirs, strict=True)
    )


def test_every_one_line_part_has_the_notes_that_music21_gives_it() -> None:
    compared, differ = 0, []
    for path in choice():
        parts, theirs = score_parts(open_score(path)), first_staves(parsed.__wrapped__(path))
        assert len(parts) == len(theirs), path.name
        for part, their in zip(parts, theirs, strict=True):
            if part.is_drums or not part.is_line or path.name in OTHERWISE:
                continue
            if not part.is_pitched:
                continue
            melody = read_musicxml(path, part=str(part.number), as_written=True)
            compared += 1
            if not same(as_we_read(melody), as_music21_reads(their)):
                differ.append(f"{path.name}, part {part.number}")
    assert differ == []
    assert compared >= 120
