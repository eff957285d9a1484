"""The folder that the desk has open, and the melodies on it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock

from phrasing.desk.inking import Ink
from phrasing.desk.keeping import keep, opened, places_of, refreshed
from phrasing.desk.work import Work
from phrasing.errors import PhrasingError
from phrasing.files import write_whole
from phrasing.lesson.request import Request
from phrasing.printable import printable

KINDS = (".mid", ".midi", ".musicxml", ".xml", ".mxl", ".chart")
"""Endings of files that a melody may be in."""
MOST_FILES = 500


def is_chart(path: Path) -> bool:
    """Whether it is a chord chart, which has no melody to lay on the desk.

    >>> is_chart(Path("song.chart"))
    True
    """
    return path.suffix.lower() == ".chart"


@dataclass(eq=False)
class OpenMelody:
    """A melody that pages have open: its work, and a number that grows with every change,
    and what is drawn of it."""

    work: Work
    edition: int = 1
    ink: Ink = field(default_factory=Ink)
    lock: RLock = field(default_factory=RLock)

    def change(self, step: Callable[[Work], Work]) -> Work:
        """Do something to the work, and write it before anybody is told.

        Raises ``PhrasingError``, and changes nothing, where it cannot be done or written.
        """
        with self.lock:
            work = step(refreshed(self.work))
            keep(work)
            self.work = work
            self.edition += 1
        return work


class Folder:
    """A folder whose files are opened by name, and nothing outside it."""

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()
        self._open: dict[str, OpenMelody] = {}
        self._lock = RLock()

    @property
    def names(self) -> list[str]:
        """The files in it that may hold a melody, in order."""
        found = sorted(file.name for file in self.path.iterdir() if self._is_melody(file))
        return found[:MOST_FILES]

    def _is_melody(self, file: Path) -> bool:
        """Whether it is a file of the folder's own: no link leads out of it."""
        if file.suffix.lower() not in KINDS or file.name.startswith("."):
            return False
        return file.is_file() and file.resolve().parent == self.path

    def file(self, name: str) -> Path:
        """The file of this name; raises ``PhrasingError`` where the folder has none."""
        place = self.path / name
        if Path(name).name != name or "\0" in name or not self._is_melody(place):
            raise PhrasingError(f"{printable(name)}: there is no such melody in this folder.")
        return place

    def open(self, name: str) -> OpenMelody:
        """The melody of this name, opened once for all pages that ask for it.

        Raises ``PhrasingError`` for what cannot be read.
        """
        with self._lock:
            if name not in self._open:
                work = opened(self.file(name), Request())
                if work.steps and not places_of(work.path).options.exists():
                    with suppress(PhrasingError):
                        keep(work)
                self._open[name] = OpenMelody(work)
            return self._open[name]

    def drop(self, name: str, content: bytes) -> str:
        """Put a file that was dropped on the page into the folder, and return its name there.

        The same file dropped again is the one that is there; another of its name takes a
        number. Raises ``PhrasingError`` for an ending that no melody has, and for what cannot
        be read, which does not stay.
        """
        plain = Path(name.replace("\\", "/")).name
        ending = Path(plain).suffix.lower()
        if ending not in KINDS or plain.startswith("."):
            known = ", ".join(KINDS)
            raise PhrasingError(f"{printable(plain)}: is no melody; its name ends in {known}.")
        with self._lock:
            place = self._free(plain, content)
            if not place.exists():
                write_whole(place, content)
                try:
                    self._try(place)
                except PhrasingError:
                    place.unlink()
                    raise
        return place.name

    def _try(self, place: Path) -> None:
        """Read a file once; raises ``PhrasingError`` for what cannot be read."""
        from phrasing.reading import read

        if is_chart(place):
            read(place)
        else:
            self.open(place.name)

    def _free(self, name: str, content: bytes) -> Path:
        stem, ending = Path(name).stem, Path(name).suffix
        for number in range(1, 1000):
            place = self.path / (name if number == 1 else f"{stem} {number}{ending}")
            if not place.exists() or (self._is_melody(place) and place.read_bytes() == content):
                return place
        raise PhrasingError(f"{printable(name)}: there are too many files of that name.")
