"""One file written whole, and what is said where it cannot be."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from phrasing.errors import PhrasingError
from phrasing.files.staging import staged, unbroken

ANOTHER = "choose another place with -o"
LITTLE = 1 << 18
"""Bytes that a disk with room takes."""
CAUSES = {
    errno.ENOSPC: "the disk is full; make room, or " + ANOTHER,
    errno.EDQUOT: "your share of the disk is used up; make room, or " + ANOTHER,
    errno.EFBIG: "it grew past the size that files may have here; make it shorter, or "
    + ANOTHER,
    errno.EACCES: "you may not write there; " + ANOTHER,
    errno.EPERM: "you may not write there; " + ANOTHER,
    errno.EROFS: "that disk can only be read; " + ANOTHER,
    errno.EISDIR: "a folder has that name; rename it, or " + ANOTHER,
    errno.ENOTDIR: "a file stands where a folder is needed; " + ANOTHER,
    errno.ENOENT: "there is no such folder; make it first, or " + ANOTHER,
    errno.ENAMETOOLONG: "the name is too long; choose a shorter one with -o",
    errno.EXDEV: "it lies on another disk; " + ANOTHER,
}
"""By the system's number for what went wrong: cause and remedy."""


def cannot_write(path: Path, error: OSError) -> PhrasingError:
    """The error to raise where ``path`` could not be written: cause and remedy."""
    cause = CAUSES.get(error.errno or 0, f"{error.strerror or error}; {ANOTHER}")
    return PhrasingError(f"{path}: cannot be written: {cause}.")


def why_not(path: Path, part: Path, said: str) -> PhrasingError:
    """The error to raise where a library could not write ``path`` and does not say why.

    The system is asked again, by a little more at the end of its ``part``; where that can be
    written, there is no more to tell than what the library ``said``.
    """
    try:
        with part.open("ab") as file:
            file.write(bytes(LITTLE))
    except OSError as error:
        return cannot_write(path, error)
    return PhrasingError(f"{path}: cannot be written: {said.strip(' .')}; {ANOTHER}.")


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A temporary path for ``path``; it takes its place if the block succeeds.

    Whatever goes wrong in the block, ``path`` is as it was before and nothing is left over.
    Raises ``PhrasingError`` where it cannot be written.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "is a folder", str(path))
        with staged(path.parent, path) as hidden:
            part = hidden / path.name
            part.touch()
            yield part
            with unbroken():
                os.replace(part, path)
    except OSError as error:
        raise cannot_write(path, error) from error


def write_whole(path: Path, content: bytes | str) -> None:
    """Write ``content`` (text as UTF-8 with its line ends as they are) to ``path``, whole."""
    with whole_file(path) as part:
        part.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
