"""Files are written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from phrasing.errors import PhrasingError


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A temporary path beside ``path``; it takes ``path``'s place if the block succeeds.

    Whatever goes wrong in the block, ``path`` is as it was before and nothing is left over.
    Raises ``PhrasingError`` where the folder cannot be written to or the disk is full.
    """
    try:
        handle, name = tempfile.mkstemp(suffix=path.suffix, prefix=".part-", dir=path.parent)
    except OSError as error:
        raise PhrasingError(
            f"{path}: cannot be written ({error.strerror}); choose another folder with -o."
        ) from error
    os.close(handle)
    part = Path(name)
    try:
        yield part
        umask = os.umask(0)
        os.umask(umask)
        part.chmod(0o666 & ~umask)
        part.replace(path)
    except OSError as error:
        raise PhrasingError(
            f"{path}: could not be written ({error.strerror or error}); is the disk full?"
        ) from error
    finally:
        part.unlink(missing_ok=True)


def write_whole(path: Path, content: bytes | str) -> None:
    """Write ``content`` (text as UTF-8 with its line ends as they are) to ``path``, whole."""
    with whole_file(path) as part:
        part.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)


@contextmanager
def whole_folder(path: Path, *, overwrite: bool = False) -> Iterator[Path]:
    """A temporary folder beside ``path``; its files move into ``path`` if the block succeeds.

    Whatever goes wrong in the block, nothing is left over. Raises ``PhrasingError`` where the
    folder cannot be made, and, without ``overwrite``, where one of the files is there already.
    """
    if path.exists() and not path.is_dir():
        raise PhrasingError(f"{path}: is a file, not a folder; choose a folder with -o.")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=".part-", dir=path.parent))
    except OSError as error:
        raise PhrasingError(
            f"{path}: cannot be written ({error.strerror}); choose another folder with -o."
        ) from error
    try:
        yield part
        there = [file.name for file in sorted(part.iterdir()) if (path / file.name).exists()]
        if there and not overwrite:
            raise PhrasingError(
                f"{path}: {there[0]} is there already; replace what is there with "
                "--overwrite, or choose another folder with -o."
            )
        path.mkdir(exist_ok=True)
        for file in sorted(part.iterdir()):
            file.replace(path / file.name)
    except PhrasingError as error:
        # The temporary folder is nobody's business: the message names the one asked for.
        raise type(error)(str(error).replace(str(part), str(path))) from error
    except OSError as error:
        raise PhrasingError(
            f"{path}: could not be written ({error.strerror or error}); is the disk full?"
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
