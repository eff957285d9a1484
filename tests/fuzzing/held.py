"""A file that is only in memory, for what reads files: a disk would cost most of the time."""

from __future__ import annotations

import io
import os
from pathlib import Path


class Held(type(Path())):  # type: ignore[misc]
    """A path whose file has this ``content``, and is not there for anybody else."""

    content = b""

    def stat(self, *, follow_symlinks: bool = True) -> os.stat_result:
        return os.stat_result((0o100644, 0, 0, 1, 0, 0, len(self.content), 0, 0, 0))

    def is_dir(self) -> bool:
        return False

    def is_file(self) -> bool:
        return True

    def exists(self, *, follow_symlinks: bool = True) -> bool:
        return True

    def open(self, mode: str = "r", *_: object, **__: object) -> io.BytesIO:
        assert mode == "rb", mode
        return io.BytesIO(self.content)

    def read_bytes(self) -> bytes:
        return self.content

    def read_text(self, encoding: str | None = None, errors: str | None = None) -> str:
        return self.content.decode(encoding or "utf-8", errors or "strict")


def held(path: Path, content: bytes) -> Held:
    """The content under the name ``path``.

    >>> held(Path("a.chart"), b"| F |").read_text()
    '| F |'
    """
    file = Held(path)
    file.content = content
    return file
