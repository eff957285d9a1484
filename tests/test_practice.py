"""The practice folder: what is in it, and that it can be found and played."""

from __future__ import annotations

import os
from html.parser import HTMLParser

import pytest
import soundfile

from phrasing.errors import PhrasingError
from phrasing.exercises import Ladder, exercises
from phrasing.practice import write_practice
from phrasing.publishing.page.practice import Entry, duration, playlist, practice_page
from phrasing.wishes import SoundForm
from tests.test_playalong import lesson

NASTY = '<script>alert("x")</script> & “quotes” 🎺'


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("practice") / "out"
    found = exercises(lesson(), Ladder(80, 100, 20), players=("bass", "drums"))
    return write_practice("Lamp Oil", found, folder, SoundForm(format="mp3"))


def test_the_files_sort_in_the_order_of_practice(made):
    names = [entry.file for entry in made.entries]
    assert names == sorted(names)
    assert names[0].startswith("1-whole-at-120")


def test_every_file_is_there_and_as_long_as_it_says(made):
    for entry in made.entries:
        info = soundfile.info(made.folder / entry.file)
        assert info.duration == pytest.approx(entry.seconds, abs=0.1)


def test_the_minutes_are_those_of_the_files(made):
    played = sum(soundfile.info(made.folder / entry.file).duration for entry in made.entries)
    assert made.minutes * 60 == pytest.approx(played, abs=0.5)


class Links(HTMLParser):
    def __init__(self):
        super().__init__()
        self.sources = []

    def handle_starttag(self, tag, attrs):
        self.sources += [value for name, value in attrs if name in ("src", "href")]


def test_page_and_playlist_name_every_file_in_order_and_nothing_else(made):
    names = [entry.file for entry in made.entries]
    page = Links()
    page.feed((made.folder / "practice.html").read_text(encoding="utf-8"))
    assert page.sources == names
    lines = (made.folder / "playlist.m3u8").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "#EXTM3U"
    assert [line for line in lines if not line.startswith("#")] == names


def test_the_page_warns_before_it_hurts(made):
    page = (made.folder / "practice.html").read_text(encoding="utf-8")
    assert "volume low" in page
    assert "doctor" in page


def test_titles_are_text_whatever_is_in_them():
    page = practice_page(NASTY, [Entry(NASTY, NASTY, "1.mp3", 10.0)])
    assert "<script>alert" not in page
    assert "🎺" in page
    assert playlist("a\nb", [Entry("g", "c\nd", "1.mp3", 1.0)]).count("\n") == 4


def test_nothing_is_left_where_one_file_fails(tmp_path):
    def exercises_that_end_badly():
        yield from exercises(lesson(), Ladder(100, 100, 10))
        raise PhrasingError("stopped")

    with pytest.raises(PhrasingError):
        write_practice("x", exercises_that_end_badly(), tmp_path / "out", SoundForm())
    assert os.listdir(tmp_path) == []


def test_durations_are_said_as_people_do():
    assert duration(45) == "45 seconds"
    assert duration(700) == "12 minutes"
