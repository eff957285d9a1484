"""A run that was killed leaves nothing for good: the next one sweeps, or finishes its work."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from phrasing.errors import PhrasingError
from phrasing.files import Plan, whole_file, write_whole
from phrasing.files.staging import unbroken

posix = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such signals")

DIES = """
import os, signal, sys
from pathlib import Path
from phrasing.files import Plan, handing

folder, moment = Path(sys.argv[1]), sys.argv[2]
moved = []

def replace(self, target, real=Path.replace):
    if self.parent.name == "new":
        if len(moved) == int(moment):
            os.kill(os.getpid(), signal.SIGKILL)
        moved.append(target)
    return real(self, target)

Path.replace = replace
with Plan(folder, overwrite=True, run="shape").writing() as made:
    for name in "abcdefgh":
        (made.part / name).write_text("new")
    if moment == "-1":
        os.kill(os.getpid(), signal.SIGKILL)
"""


def killed(folder, moment: int) -> None:
    ran = subprocess.run([sys.executable, "-c", DIES, folder, str(moment)], check=False)
    assert ran.returncode == -signal.SIGKILL


@posix
def test_what_a_killed_run_left_is_swept_by_the_next(tmp_path):
    killed(tmp_path, -1)
    assert [name for name in os.listdir(tmp_path) if name.startswith(".phrasing-")]
    write_whole(tmp_path / "x", "x")
    assert os.listdir(tmp_path) == ["x"]


@posix
@pytest.mark.parametrize("moment", range(8))
def test_a_handing_over_that_was_killed_is_finished_by_the_next_run(tmp_path, moment):
    for name in "abcdefgh":
        (tmp_path / name).write_text("old")
    killed(tmp_path, moment)
    before = [(tmp_path / name).read_text() for name in "abcdefgh"]
    assert before == ["new"] * moment + ["old"] * (8 - moment)
    write_whole(tmp_path / "x", "x")
    assert [(tmp_path / name).read_text() for name in "abcdefgh"] == ["new"] * 8


@posix
def test_finishing_later_keeps_what_was_changed_meanwhile(tmp_path):
    for name in "abcdefgh":
        (tmp_path / name).write_text("old")
    killed(tmp_path, 4)
    (tmp_path / "g").write_text("the teacher's")
    write_whole(tmp_path / "x", "x")
    assert (tmp_path / "g").read_text() == "new"
    kept = [f for f in tmp_path.iterdir() if f.name.startswith("g ")]
    assert [file.read_text() for file in kept] == ["the teacher's"]


def test_what_a_living_run_is_making_stays(tmp_path):
    with Plan(tmp_path, run="shape").writing() as made:
        (made.part / "a").write_text("x")
        write_whole(tmp_path / "other", "x")
        assert (made.part / "a").exists()
    assert sorted(os.listdir(tmp_path)) == ["a", "other"]


def test_a_folder_of_the_teachers_is_not_taken_for_left_behind(tmp_path):
    for name in (".phrasing-notes", ".phrasing-0123456789abc", ".part-0123456789ab"):
        (tmp_path / name).mkdir()
    write_whole(tmp_path / "x", "x")
    assert len(os.listdir(tmp_path)) == 4


@posix
def test_a_link_is_not_followed_when_sweeping(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "a").write_text("x")
    (tmp_path / ".phrasing-0123456789ab").symlink_to(tmp_path / "mine")
    write_whole(tmp_path / "x", "x")
    assert (tmp_path / "mine" / "a").exists()


def test_two_of_one_name_at_once_are_told_apart(tmp_path):
    with whole_file(tmp_path / "a") as part:
        part.write_text("first")
        with pytest.raises(PhrasingError, match="another run"):
            write_whole(tmp_path / "a", "second")
        write_whole(tmp_path / "b", "other")
    assert (tmp_path / "a").read_text() == "first"


def test_one_file_written_by_many_at_once_is_one_of_them(tmp_path):
    """Each waits its turn: none fails, and the file is never a mixture."""
    texts = [str(number) * 10_000 for number in range(8)]
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda text: write_whole(tmp_path / "a", text), texts))
    assert (tmp_path / "a").read_text() in texts
    assert os.listdir(tmp_path) == ["a"]


@posix
@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_stopping_waits_until_the_handing_over_is_done(stop):
    def ended(number, frame):
        raise KeyboardInterrupt

    def hand_over():
        with unbroken():
            signal.raise_signal(stop)
            done.append("all")

    before = signal.signal(stop, ended)
    done = []
    try:
        with pytest.raises(KeyboardInterrupt):
            hand_over()
    finally:
        signal.signal(stop, before)
    assert done == ["all"]
