"""What was written where is remembered, as far as the system allows it."""

import os
from pathlib import Path

import pytest

from phrasing.files import record
from phrasing.files.record import cache_folder, remember, unchanged, written


@pytest.mark.parametrize("system", ["linux", "darwin", "win32"])
def test_every_system_has_a_cache_folder(monkeypatch, system):
    monkeypatch.setattr(record.sys, "platform", system)
    monkeypatch.setenv("HOME", "/home/teacher")
    assert cache_folder().name in ("phrasing", "cache")


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "a").write_text("x")
    return tmp_path / "out"


def test_what_was_written_is_known_again(folder):
    remember(folder, "shape", {"a": record.digest(folder / "a")})
    assert unchanged(folder, "a", written(folder))
    (folder / "a").write_text("y")
    assert not unchanged(folder, "a", written(folder))


def test_what_is_gone_is_forgotten(folder):
    remember(folder, "shape", {"a": "1"})
    os.unlink(folder / "a")
    (folder / "b").write_text("x")
    remember(folder, "shape", {"b": "2"})
    assert list(written(folder)) == ["b"]


@pytest.mark.parametrize("content", ["", "[]", "{", '{"a": 1}', '{"a": ["x"]}', "[" * 9999])
def test_a_memory_that_makes_no_sense_is_none(folder, content):
    remember(folder, "shape", {"a": "1"})
    (file,) = (record.cache_folder() / "written").iterdir()
    file.write_text(content)
    assert written(folder) == {}


def test_only_the_latest_folders_are_remembered(folder, monkeypatch):
    monkeypatch.setattr(record, "MOST", 3)
    for number in range(6):
        other = folder.parent / str(number)
        other.mkdir()
        remember(other, "shape", {})
    assert len(os.listdir(record.cache_folder() / "written")) == 3


def homeless():
    raise RuntimeError("Could not determine home directory.")


def test_without_a_home_it_is_remembered_in_the_folder_itself(folder, monkeypatch):
    """Each run that replaced its own files kept those before, as if a hand had changed them."""
    monkeypatch.setattr(record, "cache_folder", homeless)
    remember(folder, "shape", {"a": record.digest(folder / "a")})
    assert unchanged(folder, "a", written(folder))
    assert sorted(os.listdir(folder)) == [record.BESIDE, "a"]


def test_a_home_that_cannot_be_written_is_like_none(folder, monkeypatch):
    (folder.parent / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(folder.parent / "file"))
    remember(folder, "shape", {"a": "1"})
    assert written(folder) == {"a": ("shape", "1")}


def test_where_nothing_can_be_remembered_nothing_is(folder, monkeypatch):
    monkeypatch.setattr(record, "cache_folder", homeless)
    (folder / record.BESIDE).mkdir()
    remember(folder, "shape", {"a": "1"})
    assert written(folder) == {}
