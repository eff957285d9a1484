"""Where a listening page goes, and what it says where there is no sound."""

from __future__ import annotations

from pathlib import Path

import pytest

from phrasing.errors import NoSoundError, PhrasingError
from phrasing.examples import example
from phrasing.lesson import open_lesson
from phrasing.listenpage import page_path, write_listening_page
from phrasing.versions import versions_of
from phrasing.wishes import SoundForm, Wishes


def test_a_page_goes_to_a_folder_or_to_the_file_that_is_asked_for(tmp_path: Path):
    assert page_path(None, tmp_path / "tune") == tmp_path / "tune" / "listen.html"
    assert page_path(tmp_path / "a" / "b", tmp_path) == tmp_path / "a" / "b" / "listen.html"
    assert page_path(tmp_path / "mine.HTML", tmp_path) == tmp_path / "mine.HTML"
    assert (tmp_path / "a" / "b").is_dir()


def test_a_page_that_is_there_is_only_replaced_when_asked(tmp_path: Path):
    (tmp_path / "listen.html").write_text("mine")
    with pytest.raises(PhrasingError, match="--overwrite"):
        page_path(tmp_path, tmp_path)
    assert page_path(tmp_path, tmp_path, overwrite=True) == tmp_path / "listen.html"


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path):
    (tmp_path / "file").write_text("mine")
    with pytest.raises(PhrasingError, match="choose another folder with -o"):
        page_path(tmp_path / "file" / "in", tmp_path)


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
