"""Sound laid aside until its loudness is known: in memory, and in a file where it is long."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from io import FileIO
from itertools import chain, islice

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.sound.streams import BLOCK, Samples

IN_MEMORY = 896
"""Blocks that all versions together keep in memory: 260 MB, twelve minutes of sound."""
AT_ONCE = 64
"""Blocks that memory is taken for at a time: in large pieces it costs the system less."""


class Reel(ExitStack):
    """Blocks of one version, ``in_memory`` of them at most; use it in a ``with`` block."""

    def __init__(self, in_memory: int) -> None:
        super().__init__()
        self._most = in_memory // AT_ONCE
        self._kept: list[Samples] = []
        self._file: FileIO | None = None
        self._count = 0

    @property
    def frames(self) -> int:
        """Samples that lie here."""
        return self._count * BLOCK

    def add(self, block: Samples) -> None:
        """Lay a block of ``BLOCK`` samples after the others.

        Raises ``PhrasingError`` where there is no room for a temporary file.
        """
        piece, at = divmod(self._count, AT_ONCE)
        self._count += 1
        if piece >= self._most:
            self._put_away(block)
            return
        if at == 0:
            self._kept.append(np.empty((AT_ONCE, 2, BLOCK), np.float32))
        self._kept[piece][at] = block

    def _put_away(self, block: Samples) -> None:
        try:
            self._file = self._file or self.enter_context(_raw_file())
            self._file.write(block.data)
        except OSError as error:
            raise PhrasingError(
                f"The folder for temporary files ({tempfile.gettempdir()}) cannot hold the"
                f" recording ({error.strerror}); make room, or name another by TMPDIR."
            ) from error

    def blocks(self, frames: int) -> Iterator[Samples]:
        """All from the start, followed by silence up to ``frames``; each block in turn."""
        kept = chain.from_iterable(self._kept)
        yield from islice(kept, self._count)
        block = np.empty((2, BLOCK), np.float32)
        if self._file:
            self._file.seek(0)
            while self._file.readinto(block.data):
                yield block
        block[:] = 0
        for _ in range(self.frames, frames, BLOCK):
            yield block


def _raw_file() -> FileIO:
    return tempfile.TemporaryFile(buffering=0)
