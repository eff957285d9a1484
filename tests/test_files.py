"""Files are written whole or not at all."""

import os

import pytest

from phrasing.errors import PhrasingError
from phrasing.files import whole_file, write_whole


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

    with pytest.raises(PhrasingError, match="is the disk full"):
        fill()
    assert os.listdir(tmp_path) == []
