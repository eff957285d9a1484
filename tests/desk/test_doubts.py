"""Only what a file leaves open is asked, and what was answered holds for the command line."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from phrasing.desk.doubts import answered, doubts_of
from phrasing.desk.keeping import keep, opened, places_of
from phrasing.desk.work import changed, taken_back
from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.optionsfile import with_options
from phrasing.lesson.request import Request
from phrasing.marking.table import marks_csv
from tests.desk.test_keeping import EXAMPLES
from tests.reading.midi.test_freely import take
from tests.reading.scores import notes, part, saved, score
from tests.smf import midi_file, track

LINE = [(i / 2, 0.5, 60 + (0, 2, 4, 5, 7, 5, 4, 2)[i % 8]) for i in range(32)]


def two_parts(tmp_path: Path) -> Path:
    """Two lines of the same kind, of which nothing tells which one is the melody."""
    path = tmp_path / "two.mid"
    other = [(on, length, pitch + 3) for on, length, pitch in LINE[:24]]
    path.write_bytes(midi_file(track(*LINE), track(*other)))
    return path


def saxophone(tmp_path: Path) -> Path:
    music = part(notes("C5:1 D5:1 E5:1 F5:1"))
    return saved(tmp_path, score(music, names=("Saxophone",)))


def same_by_command_line(work) -> bool:
    keep(work)
    request = with_options(Request(options=places_of(work.path).options))
    told = marks_csv(*open_lesson(work.path, request).table)
    return told == places_of(work.path).marks.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["late_bus_home.mid", "caretakers_keys.musicxml"])
def test_a_clean_file_is_not_asked_about(tmp_path, name):
    assert doubts_of(opened(Path(shutil.copy(EXAMPLES / name, tmp_path)), Request())) == []


def test_which_part_is_asked_where_two_are_alike(tmp_path):
    work = opened(two_parts(tmp_path), Request())
    (doubt,) = doubts_of(work)
    assert (doubt.about, len(doubt.answers)) == ("track", 2)
    proposed = answered(work, {})
    assert proposed.read.pitch.tolist() == work.read.pitch.tolist()
    assert doubts_of(proposed) == []
    other = answered(
        changed(work, {"mark:3": "ghost", "mark:30": "ghost"}),
        {"track": doubt.answers[1].value},
    )
    assert len(other.read) != len(work.read)
    assert [key for key in other.held if not key.startswith("ask:")] == []
    assert same_by_command_line(other)


def test_which_saxophone_is_asked_and_then_its_octave(tmp_path):
    work = opened(saxophone(tmp_path), Request())
    assert doubts_of(work)[0].question.startswith("Saxophone: ")
    alto = answered(work, {"instrument": "alto-sax"})
    assert alto.lesson.instrument.key == "alto-sax"
    assert same_by_command_line(alto)


def test_the_octave_that_fits_is_proposed(tmp_path):
    tune = Path(shutil.copy(EXAMPLES / "late_bus_home.mid", tmp_path))
    work = changed(opened(tune, Request()), {"ask:instrument": "bassoon"})
    (doubt,) = doubts_of(work)
    assert (doubt.about, doubt.proposed) == ("octave", -1)
    low = answered(work, {"octave": -1})
    assert (low.lesson.melody.pitch == work.lesson.melody.pitch - 12).all()
    assert same_by_command_line(low)
    stays = answered(work, {"octave": 0})
    assert doubts_of(stays) == []
    assert same_by_command_line(stays)


def test_a_take_without_a_click_is_read_again_as_answered(tmp_path):
    take(tmp_path, 200.0)
    work = opened(tmp_path / "take.mid", Request())
    asked = {doubt.about: doubt for doubt in doubts_of(work)}
    assert "tempo" in asked
    other = asked["tempo"].answers[1].value
    again = answered(work, {"tempo": other})
    assert again.lesson.tempo == other
    assert again.read.onset[-1] != work.read.onset[-1]
    assert same_by_command_line(again)
    assert taken_back(again, 1).read.onset.tolist() == work.read.onset.tolist()


def test_behind_an_answer_that_was_not_proposed_nothing_is_taken(tmp_path):
    take(tmp_path, 200.0)
    work = opened(tmp_path / "take.mid", Request())
    other = doubts_of(work)[0].answers[1].value
    assert list(answered(work, {"tempo": other}).held) == ["ask:tempo"]
    every = {f"ask:{doubt.about}" for doubt in doubts_of(work)}
    assert set(answered(work, {}).held) == every


@pytest.mark.parametrize("answers", [None, [], {"track": "9"}, {"track": None}])
def test_what_is_no_answer_is_refused(tmp_path, answers):
    with pytest.raises(PhrasingError, match="out of date"):
        answered(opened(two_parts(tmp_path), Request()), answers)


def test_what_was_answered_is_not_asked_again(tmp_path):
    work = answered(opened(two_parts(tmp_path), Request()), {})
    keep(work)
    again = opened(work.path, Request())
    assert doubts_of(again) == []
    assert again.steps[-1].said.startswith("asked: ")
    with pytest.raises(PhrasingError, match="Nothing is in question"):
        answered(again, {})
