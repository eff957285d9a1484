"""How a command ends: in one line and an exit code, whatever closes or stops it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from tests.app.test_commands import LATE_BUS

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals and streams")
SLOW = """
import sys, time
from pathlib import Path
from phrasing.app import commands
from phrasing.lesson import handout

here = Path(sys.argv.pop())

def wait(*_, **__):
    here.write_text("here")
    time.sleep(60)

handout.write_sheet = wait
commands.main()
"""


@pytest.mark.long
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_run_that_is_stopped_says_so_and_leaves_nothing(tmp_path, name):
    out, here = tmp_path / "a" / "out", tmp_path / "here"
    stop = getattr(signal, name)
    run = subprocess.Popen(
        [sys.executable, "-c", SLOW, "shape", LATE_BUS, "-o", out, here],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heeding,
    )
    while not here.exists():
        assert run.poll() is None, run.communicate()
        time.sleep(0.02)
    run.send_signal(stop)
    _, err = run.communicate()
    assert (run.returncode, err) == (128 + stop, "phrasing: stopped.\n")
    assert os.listdir(tmp_path) == ["here"]


@pytest.mark.long
def test_a_run_that_is_to_outlive_its_terminal_goes_on(tmp_path):
    """As nohup starts it, a signal that is passed over stays passed over."""
    here = tmp_path / "here"
    run = subprocess.Popen(
        [sys.executable, "-c", SLOW, "shape", LATE_BUS, "-o", tmp_path / "out", here],
        stderr=subprocess.DEVNULL,
        preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN),
    )
    while not here.exists():
        time.sleep(0.02)
    run.send_signal(signal.SIGHUP)
    run.send_signal(signal.SIGTERM)
    assert run.wait() == 128 + signal.SIGTERM


def heeding() -> None:
    """Whoever started the tests may have had them pass over a signal, as nohup does."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for usual in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(usual, signal.SIG_DFL)


def phrasing(*args, **streams):
    command = [sys.executable, "-m", "phrasing", *map(str, args)]
    return subprocess.run(command, check=False, **streams)


@pytest.mark.long
@pytest.mark.parametrize(
    "wish", [("marks", LATE_BUS), ("marks", LATE_BUS, "--csv"), ("ratio",)]
)
def test_closed_streams_are_no_fault(wish):
    shell = f'exec "{sys.executable}" -m phrasing "$@" <&- >&- 2>&-'
    ran = subprocess.run(["sh", "-c", shell, "sh", *map(str, wish)], check=False)
    assert ran.returncode == 0


@pytest.mark.long
def test_with_closed_streams_no_file_takes_their_place(tmp_path):
    shell = f'exec "{sys.executable}" -m phrasing "$@" <&- >&- 2>&-'
    sheet = ["sheet", str(LATE_BUS), "-o", str(tmp_path / "a.svg")]
    ran = subprocess.run(["sh", "-c", shell, "sh", *sheet], check=False)
    assert ran.returncode == 0
    assert (tmp_path / "a.svg").read_text().endswith("</svg>")


@pytest.mark.long
@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs Linux's always-full device")
def test_an_output_that_takes_nothing_is_told_once():
    with open("/dev/full", "w") as full:
        ran = phrasing(
            "marks", LATE_BUS, "--csv", stdout=full, stderr=subprocess.PIPE, text=True
        )
    assert ran.returncode == 2
    assert ran.stderr == "phrasing: The output: No space left on device.\n"


@pytest.mark.long
def test_a_reader_that_goes_away_ends_it_quietly():
    run = subprocess.Popen(
        [sys.executable, "-m", "phrasing", "marks", LATE_BUS],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    run.stdout.close()
    assert run.stderr.read() == b""
    assert run.wait() == 0
