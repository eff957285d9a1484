"""The hidden folder in which a run makes its files before it hands them over together.

It lies on the same disk as their place. Whatever happens to the run, the next one that writes
there sweeps what it left, and finishes the handing over that it was killed in.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType

from phrasing.errors import PhrasingError
from phrasing.files.handing import finish
from phrasing.files.locks import lock, looking_into, unlock

HIDDEN = re.compile(r"\.phrasing-[0-9a-f]{12}")
PATIENCE = 1.0
"""Seconds for which another run that makes the same thing is waited for: a single file is
written in less; for a whole folder nobody should wait without being told why."""
STOPS = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
"""The signals that ask a program to end."""


@contextmanager
def staged(base: Path, target: Path) -> Iterator[Path]:
    """An empty hidden folder in ``base`` for what is to become ``target``; gone afterwards.

    Raises ``PhrasingError`` where another run makes the same ``target``, ``OSError`` where
    the folder cannot be made.
    """
    hidden = base / f".phrasing-{_digest(target)}"
    handle = _taken(base, hidden, target)
    try:
        yield hidden
    finally:
        shutil.rmtree(hidden, ignore_errors=True)
        if handle is not None:
            unlock(handle)
        if sys.platform == "win32":
            # It gives a folder up only when nothing in it is open any more; elsewhere one of
            # that name may by now be the next writer's.
            shutil.rmtree(hidden, ignore_errors=True)


def _digest(target: Path) -> str:
    place = os.path.join(os.path.realpath(target.parent), target.name)
    return hashlib.blake2b(os.fsencode(place), digest_size=6).hexdigest()


def _taken(base: Path, hidden: Path, target: Path) -> int | None:
    """Make the hidden folder and hold it; another run that has it is given a moment."""
    until = time.monotonic() + PATIENCE
    while True:
        with looking_into(base):
            sweep(base)
            try:
                hidden.mkdir(mode=0o700)
                return lock(hidden)
            except FileExistsError:
                pass
        if time.monotonic() > until:
            raise PhrasingError(
                f"{target}: another run is writing there; wait until it is done, or choose "
                "another place with -o."
            )
        time.sleep(0.02)


def sweep(base: Path) -> None:
    """Finish or remove what dead runs left in ``base``; living ones are left alone."""
    with suppress(OSError):
        for entry in list(os.scandir(base)):
            if HIDDEN.fullmatch(entry.name) and entry.is_dir(follow_symlinks=False):
                _sweep_one(Path(entry.path))


def _sweep_one(hidden: Path) -> None:
    handle = lock(hidden)
    if handle is None:
        return
    try:
        finish(hidden)
        shutil.rmtree(hidden, ignore_errors=True)
    finally:
        unlock(handle)


@contextmanager
def unbroken() -> Iterator[None]:
    """What asks the program to end waits until the block is done (in the main thread)."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    waiting: list[int] = []

    def later(number: int, frame: FrameType | None) -> None:
        waiting.append(number)

    before = {stop: signal.getsignal(stop) for stop in STOPS}
    ours = {stop: handler for stop, handler in before.items() if callable(handler)}
    for stop in ours:
        signal.signal(stop, later)
    try:
        yield
    finally:
        for stop, handler in ours.items():
            signal.signal(stop, handler)
        for number in waiting:
            signal.raise_signal(number)
