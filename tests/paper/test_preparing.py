"""Scores that the engraver would not survive."""

from __future__ import annotations

import pytest

from phrasing.errors import PhrasingError
from phrasing.lesson.handout import write_handout
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.request import Request
from phrasing.paper.preparing import prepared
from tests.reading.scores import FOUR, bar, notes, part, saved, score

AN_OCTAVE_UP = FOUR + (
    "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
)


def time(beats: str, unit: str) -> str:
    return f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"


@pytest.mark.parametrize("unit", ["", "0", "x", "0.5", "-4"])
@pytest.mark.parametrize("beats", ["3", "", "x"])
def test_a_meter_that_is_none_is_not_engraved(beats, unit):
    """The engraver divides by it, which ended the whole program."""
    second = bar(notes("C5:4"), attributes=time(beats, unit))
    made = prepared(score(part(notes("C5:4"), second)))
    assert [t.findtext("beats") for t in made.iter("time")] == ["4"]


def test_a_meter_and_music_without_one_are_kept():
    free = bar(notes("C5:9"), attributes="<time><senza-misura/></time>")
    made = prepared(score(part(notes("C5:4"), free, attributes=FOUR)))
    assert len(list(made.iter("time"))) == 2


def test_a_part_written_where_midi_has_no_notes_is_named(tmp_path):
    high = part(notes("C5:2 B9:2"), attributes=AN_OCTAVE_UP)
    path = saved(tmp_path, score(high, names=("Flute",)))
    lesson = open_lesson(path, Request())
    with pytest.raises(PhrasingError, match=r"is written \+12 semitones from how it sounds"):
        write_handout(lesson, tmp_path / "sheet.svg")
