"""Which hidden folders belong to a run that is still alive: those it holds a lock on.

The system lets go of a lock when its run ends, however it ends, so a lock tells a living run
from a dead one. It leaves no file behind: on POSIX the folder itself is locked.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

PATIENCE = 5.0
"""Seconds to wait for another run that looks into the same folder, which takes milliseconds."""
OLD = 86_400.0
"""Seconds after which a folder on a disk that knows no locks counts as left behind."""
HELD = (errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK)
"""What the systems answer where somebody else holds the lock."""


def lock(folder: Path) -> int | None:
    """A handle that holds the folder until ``unlock``; None where another run holds it.

    Raises ``OSError`` where the folder cannot be opened.
    """
    handle = _opened(folder)
    try:
        _take(handle)
    except OSError as error:
        if error.errno in HELD or time.time() - os.fstat(handle).st_mtime < OLD:
            os.close(handle)
            return None
    return handle


def unlock(handle: int) -> None:
    """Let go of a folder."""
    with suppress(OSError):
        os.close(handle)


@contextmanager
def looking_into(folder: Path) -> Iterator[None]:
    """Only one run at a time begins, ends or tidies up in ``folder``."""
    handle: int | None = None
    until = time.monotonic() + PATIENCE
    with suppress(OSError):
        while (handle := lock(folder)) is None and time.monotonic() < until:
            time.sleep(0.01)
    try:
        yield
    finally:
        if handle is not None:
            unlock(handle)


if sys.platform == "win32":
    import msvcrt

    def _opened(folder: Path) -> int:
        return os.open(folder / ".lock", os.O_RDWR | os.O_CREAT | os.O_TEMPORARY)

    def _take(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _opened(folder: Path) -> int:
        return os.open(folder, os.O_RDONLY)

    def _take(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
