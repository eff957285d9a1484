"""One mutant tried: the tests that run its line, the quick ones first, until one fails."""

from __future__ import annotations

import os
import resource
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pytest

CAUGHT, LIVES, LATE = "caught", "lives", "caught (by taking too long)"
FAILED = ".failed"
WAITING = 10
"""How much longer than its processor time a trial may take by the clock."""
PRELOADED = ("numpy", "scipy.signal", "scipy.fft", "lxml.etree", "mido", "hypothesis", "pytest")
"""What every test needs and no mutant is in: imported once, before the trials begin."""


def preload() -> None:
    """Import what the trials share."""
    for name in PRELOADED:
        __import__(name)


class Failed:
    """A plugin for pytest: keeps which test failed first."""

    def __init__(self, file: Path) -> None:
        self.file = file

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.file.exists():
            self.file.write_text(report.nodeid)


def failed_in(tree: Path) -> str:
    """The test that failed first in the last trial; empty where none was run."""
    file = tree / FAILED
    return file.read_text() if file.exists() else ""


def tried(tree: Path, tests: Sequence[str], seconds: float) -> str:
    """Whether one of the tests fails in ``tree``, in a process of its own, in so many seconds
    of processor time: what else the machine does makes no mutant late."""
    (tree / FAILED).unlink(missing_ok=True)
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (round(seconds), round(seconds) + 5))
        _become(tree, tests)
    until = time.monotonic() + WAITING * seconds
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            ended = os.waitstatus_to_exitcode(status)
            late = ended in (-signal.SIGXCPU, -signal.SIGKILL)
            return LATE if late else LIVES if ended == 0 else CAUGHT
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return LATE


def _become(tree: Path, tests: Sequence[str]) -> None:
    """Run the tests, tell by the exit code, and never come back."""
    os.setpgid(0, 0)
    os.chdir(tree)
    quiet = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(quiet, stream)
    sys.dont_write_bytecode = True
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    for name in [name for name in sys.modules if name.split(".")[0] in ("tests", "phrasing")]:
        del sys.modules[name]  # what belongs to this house, not to the copy
    sys.path[:] = [str(tree), *(p for p in sys.path if p not in ("", os.environ["HOUSE"]))]
    code = 3
    try:
        import pytest

        words = ["-x", "-q", "-p", "no:cacheprovider", *tests]
        code = int(pytest.main(words, plugins=[Failed(tree / FAILED)]))
    finally:
        os._exit(code)
