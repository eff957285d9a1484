"""Where a listening page goes, and what it says where there is no sound."""

from __future__ import annotations

from pathlib import Path

import pytest

from phrasing.errors import NoSoundError, PhrasingError
from phrasing.examples import example
from phrasing.lesson import open_lesson
from phrasing.listenpage import packing_for, page_path, write_listening_page
from phrasing.rendering.soundfiles import write_sound
from phrasing.versions import versions_of
from phrasing.wishes import SoundForm, Wishes


def test_a_page_goes_to_a_folder_or_to_the_file_that_is_asked_for(tmp_path: Path):
    assert page_path(None, tmp_path / "tune") == tmp_path / "tune" / "listen.html"
    assert page_path(tmp_path / "a" / "b", tmp_path) == tmp_path / "a" / "b" / "listen.html"
    assert page_path(tmp_path / "mine.HTML", tmp_path) == tmp_path / "mine.HTML"


def test_a_page_that_is_there_is_only_replaced_when_asked(tmp_path: Path):
    (tmp_path / "listen.html").write_text("mine")
    with pytest.raises(PhrasingError, match="--overwrite"):
        page_path(tmp_path, tmp_path)
    assert page_path(tmp_path, tmp_path, overwrite=True) == tmp_path / "listen.html"


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path):
    (tmp_path / "file").write_text("mine")
    path = page_path(tmp_path / "file" / "in", tmp_path)
    lesson = open_lesson(example(), Wishes(only="1"))
    with pytest.raises(PhrasingError, match="choose another folder with -o"):
        write_listening_page(lesson, versions_of(lesson, Wishes()), path, SoundForm())


def test_a_page_that_cannot_be_made_leaves_no_folder(tmp_path: Path):
    path = page_path(tmp_path / "out", tmp_path)
    lesson = open_lesson(example(), Wishes(only="1"))
    none = SoundForm(soundfont=tmp_path / "none.sf2")
    with pytest.raises(PhrasingError, match=r"none\.sf2"):
        write_listening_page(lesson, versions_of(lesson, Wishes()), path, none)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("tempo,bars", [(60, 32), (90, 32), (140, 32)])
def test_a_page_of_32_slow_bars_was_too_large_to_send(tmp_path: Path, tempo: int, bars: int):
    """The size is reckoned from one bar; the notes themselves take 0.9 MB in 32 bars."""
    lesson = open_lesson(example(), Wishes(tempo=tempo, only="2"))
    versions = versions_of(lesson, Wishes(), straight=True)
    sound = write_sound(
        {str(number): version.performance for number, version in enumerate(versions)},
        tmp_path,
        kind="mp3",
        packing=packing_for(bars * 4 * 60 / tempo * len(versions)),
    )
    each = sum(file.path.stat().st_size for file in sound.files.values()) / sound.seconds
    assert each * (bars * 4 * 60 / tempo + 2) * 4 / 3 + 0.9e6 < 6e6


def test_without_a_synthesizer_the_page_is_there_to_read(tmp_path: Path, monkeypatch):
    def none(*_: object, **__: object) -> None:
        raise NoSoundError("No synthesizer was found.")

    monkeypatch.setattr("phrasing.rendering.soundfiles.write_sound", none)
    lesson = open_lesson(example(), Wishes())
    path = tmp_path / "listen.html"
    said = write_listening_page(lesson, versions_of(lesson, Wishes()), path, SoundForm())
    text = path.read_text(encoding="utf-8")
    assert said == "No synthesizer was found."
    assert "There is no sound on this page" in text
    assert 'id="sound-0"' not in text
    assert "Every mark and its reason" in text
