"""Files are written whole or not at all."""

import os
from pathlib import Path

import pytest

from phrasing.errors import PhrasingError
from phrasing.files import whole_file, whole_folder, why_not, write_whole


def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "marks.csv"
    path.write_text("old")

    def fail():
        with whole_file(path) as part:
            part.write_text("half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["marks.csv"]


def test_text_is_written_as_it_is(tmp_path):
    write_whole(tmp_path / "a.csv", "é\r\n")
    assert (tmp_path / "a.csv").read_bytes() == "é\r\n".encode()


def test_a_file_has_the_permissions_any_new_file_has(tmp_path):
    write_whole(tmp_path / "a", "x")
    (tmp_path / "b").write_text("x")
    assert (tmp_path / "a").stat().st_mode == (tmp_path / "b").stat().st_mode


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(PhrasingError, match="cannot be written"):
        write_whole(tmp_path / "none" / "a.csv", "x")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs Linux's always-full device")
def test_a_full_disk_is_told(tmp_path):
    def fill():
        with whole_file(tmp_path / "a.wav"), open("/dev/full", "wb", buffering=0) as full:
            full.write(b"x")

    with pytest.raises(PhrasingError, match="the disk is full"):
        fill()
    assert os.listdir(tmp_path) == []


def test_a_folder_is_filled_whole_or_not_at_all(tmp_path):
    def fail():
        with whole_folder(tmp_path / "out") as part:
            (part / "a").write_text("x")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert os.listdir(tmp_path) == []
    with whole_folder(tmp_path / "out") as part:
        (part / "a").write_text("x")
    assert os.listdir(tmp_path / "out") == ["a"]


def test_files_that_are_there_stay_unless_asked(tmp_path):
    (tmp_path / "a").write_text("old")
    (tmp_path / "b").write_text("other")
    with (
        pytest.raises(PhrasingError, match="a is there already"),
        whole_folder(tmp_path) as part,
    ):
        (part / "a").write_text("new")
    assert (tmp_path / "a").read_text() == "old"
    with whole_folder(tmp_path, overwrite=True) as part:
        (part / "a").write_text("new")
    assert (tmp_path / "a").read_text() == "new"
    assert (tmp_path / "b").read_text() == "other"


def test_a_message_names_the_folder_asked_for_and_not_the_temporary_one(tmp_path):
    with (
        pytest.raises(PhrasingError) as caught,
        whole_folder(tmp_path / "out") as part,
        whole_file(part / "deeper" / "a.wav"),
    ):
        pass
    assert str(tmp_path / "out" / "deeper" / "a.wav") in str(caught.value)
    assert ".part" not in str(caught.value)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs Linux's always-full device")
def test_a_library_that_does_not_say_why_is_asked_for(tmp_path):
    full = why_not(tmp_path / "a.wav", Path("/dev/full"), "System error.")
    assert "a.wav: cannot be written: the disk is full" in str(full)
    part = tmp_path / "part"
    assert "cannot be written: Odd rate; choose" in str(why_not(part, part, "Odd rate."))
