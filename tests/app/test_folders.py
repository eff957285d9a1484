"""The play-along on disk: a mix, its stems, and their balance."""

from __future__ import annotations

import io
import os
import sys
from html.parser import HTMLParser
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile

from phrasing.app.folders import (
    NAME,
    example,
    page_place,
    progress_bar,
    write_backing,
    write_listening_page,
    write_practice,
)
from phrasing.errors import NoSoundError, PhrasingError
from phrasing.files import Plan
from phrasing.lesson.exercises import Ladder, exercises
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.playalong import band_for, play_along
from phrasing.lesson.request import BandRequest, Request, SoundForm
from phrasing.lesson.versions import versions_of
from phrasing.page.practice import Entry, duration, playlist, practice_page
from phrasing.sound.packing import packed, packing_for
from phrasing.sound.soundfiles import write_sound
from tests.lesson.test_playalong import lesson


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_off_a_terminal_there_is_no_bar(monkeypatch):
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with progress_bar("sound") as progress:
        assert progress is None


def test_a_long_wait_shows_how_far_it_is(monkeypatch):
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    monkeypatch.setattr("phrasing.app.folders.PATIENCE", -1.0)
    with progress_bar("sound") as progress:
        progress(0.25)
        progress(1.0)
    assert "sound" in terminal.getvalue()
    assert "100%" in terminal.getvalue()


def test_a_short_wait_shows_nothing(monkeypatch):
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    monkeypatch.setattr("phrasing.app.folders.PATIENCE", 1000.0)
    with progress_bar("sound") as progress:
        progress(1.0)
    assert terminal.getvalue() == ""


# Where a listening page goes, and what it says where there is no sound.


def test_a_page_goes_to_a_folder_or_to_the_file_that_is_asked_for(tmp_path: Path):
    assert page_place(None, tmp_path / "tune") == tmp_path / "tune" / "listen.html"
    assert page_place(tmp_path / "a" / "b", tmp_path) == tmp_path / "a" / "b" / "listen.html"
    assert page_place(tmp_path / "mine.HTML", tmp_path) == tmp_path / "mine.HTML"


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path):
    (tmp_path / "file").write_text("mine")
    plan = Plan.of_file(tmp_path / "file" / "in" / NAME)
    lesson = open_lesson(example(), Request(only="1"))
    with pytest.raises(PhrasingError, match="file: is a file, not a folder"):
        write_listening_page(lesson, versions_of(lesson, Request()), plan, SoundForm())


def test_a_page_that_cannot_be_made_leaves_no_folder(tmp_path: Path):
    plan = Plan.of_file(tmp_path / "out" / NAME)
    lesson = open_lesson(example(), Request(only="1"))
    none = SoundForm(soundfont=tmp_path / "none.sf2")
    with pytest.raises(PhrasingError, match=r"none\.sf2"):
        write_listening_page(lesson, versions_of(lesson, Request()), plan, none)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("tempo,bars", [(60, 32), (90, 32), (140, 32)])
def test_a_page_of_32_slow_bars_was_too_large_to_send(tmp_path: Path, tempo: int, bars: int):
    """The size is reckoned from one bar; all but the sound takes 0.6 MB in 32 bars."""
    lesson = open_lesson(example(), Request(tempo=tempo, only="2"))
    versions = versions_of(lesson, Request(), straight=True)
    how = packing_for(bars * 4 * 60 / tempo * len(versions))
    performances = {str(n): version.performance for n, version in enumerate(versions)}
    sound = write_sound(performances, tmp_path)
    sizes = (
        sum(len(piece.content) for piece in packed(file.path, how).pieces)
        for file in sound.files.values()
    )
    each = sum(sizes) / sound.seconds
    assert each * (bars * 4 * 60 / tempo + 2) * 4 / 3 + 0.6e6 < 3.0e6


def test_without_a_synthesizer_the_page_is_there_to_read(tmp_path: Path, monkeypatch):
    def none(*_: object, **__: object) -> None:
        raise NoSoundError("No synthesizer was found.")

    monkeypatch.setattr("phrasing.sound.soundfiles.write_sound", none)
    lesson = open_lesson(example(), Request())
    path = tmp_path / "listen.html"
    said = write_listening_page(
        lesson, versions_of(lesson, Request()), Plan.of_file(path), SoundForm()
    )
    text = path.read_text(encoding="utf-8")
    assert said == "No synthesizer was found."
    assert "There is no sound on this page" in text
    assert 'id="sound-0-0"' not in text
    assert "Every mark and its reason" in text


# The practice folder: what is in it, and that it can be found and played.

NASTY = '<script>alert("x")</script> & “quotes” 🎺'


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("practice") / "out"
    found = exercises(lesson(), Ladder(80, 100, 20), players=("bass", "drums"))
    return write_practice("Lamp Oil", found, Plan(folder), SoundForm(format="mp3"))


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
        links = [value for name, value in attrs if name in ("src", "href")]
        self.sources += [link for link in links if not link.startswith(("#", "data:"))]


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
        write_practice("x", exercises_that_end_badly(), Plan(tmp_path / "out"), SoundForm())
    assert os.listdir(tmp_path) == []


def test_durations_are_said_as_people_do():
    assert duration(45) == "45 seconds"
    assert duration(700) == "12 minutes"


@pytest.fixture(scope="module")
def backing_made(tmp_path_factory):
    piece = lesson()
    performance = play_along(piece, band_for(piece, BandRequest(count_in=1)))
    folder = tmp_path_factory.mktemp("band") / "out"
    return write_backing(performance, Plan(folder), SoundForm(bits=24), stems=True)


def samples(backing_made, name):
    return soundfile.read(backing_made.folder / f"{name}.wav")[0]


def test_the_stems_add_up_to_the_mix(backing_made):
    stems = [f.removesuffix(".wav") for f in backing_made.files if f.startswith("backing-")]
    assert len(stems) == 5
    mix = samples(backing_made, "backing")
    rest = mix - sum(samples(backing_made, name) for name in stems)
    assert np.sqrt(np.mean(rest**2)) < 10 ** (-40 / 20) * np.sqrt(np.mean(mix**2))


def test_every_player_has_a_named_track(backing_made):
    tracks = mido.MidiFile(backing_made.folder / "backing.mid").tracks
    assert {"Melody", "Bass", "Drums", "Piano"} <= {track.name for track in tracks}


def test_no_sample_is_clipped(backing_made):
    for file in backing_made.files:
        if file.endswith(".wav"):
            assert np.abs(samples(backing_made, file.removesuffix(".wav"))).max() < 10 ** (
                -1 / 20
            )
