"""Ornaments that are written out as very short notes."""

from __future__ import annotations

from pathlib import Path

import pytest

from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.melody import Grace, Melody
from tests.reading.scores import DIVISIONS, direction, notes, part, saved, score

QUARTER = 960


def read(folder: Path, tempo: int, written: str) -> Melody:
    """A bar of notes; a value of 16 is a quarter, of 1 a 64th."""
    names = (word.split(":") for word in written.split())
    doubled = notes(" ".join(f"{name}:{int(value) / 8}" for name, value in names))
    easy = direction("<words>Easy</words>", f'tempo="{tempo}"')
    music = part(easy + doubled)
    finer = music.replace(f"<divisions>{DIVISIONS}<", f"<divisions>{2 * DIVISIONS}<")
    return read_musicxml(saved(folder, score(finer)))


def rows(melody: Melody) -> list[tuple[float, float, int]]:
    return [(n.onset / QUARTER, n.length / QUARTER, n.pitch) for n in melody.notes]


def test_quick_notes_that_start_where_a_note_should_are_its_grace_notes(tmp_path: Path):
    melody = read(tmp_path, 120, "D5:1 E5:1 F5:30 C5:32")
    assert rows(melody) == [(0, 2, 77), (2, 2, 72)]
    assert melody.graces == (Grace(0, (74, 76)),)
    assert melody.reading.warnings == (
        "Bar 1 has quick notes before a longer one; they are read as its grace notes.",
    )


def test_quick_notes_before_the_beat_are_grace_notes_on_it(tmp_path: Path):
    melody = read(tmp_path, 120, "C5:15 D5:1 E5:16 F5:32")
    assert rows(melody) == [(0, 1, 72), (1, 1, 76), (2, 2, 77)]
    assert melody.graces == (Grace(1, (74,)),)


@pytest.mark.parametrize(
    ("tempo", "written"),
    [
        (40, "D5:1 E5:1 F5:30 C5:32"),
        (120, "D5:2 F5:30 C5:32"),
        (240, "C5:1 D5:1 E5:1 F5:1 C5:1 D5:1 E5:1 F5:1 G5:56"),
        (120, "D5:1 E5:1 r:30 C5:32"),
        (120, "D5:1 E5:2 C5:61"),
    ],
    ids=["slow", "a thirty-second", "a run", "before a rest", "before a short one"],
)
def test_what_is_rhythm_stays_rhythm(tmp_path: Path, tempo: int, written: str):
    melody = read(tmp_path, tempo, written)
    assert not melody.graces
    assert len(melody) == sum(not word.startswith("r") for word in written.split())
