"""What a page asks for is made by the command line itself, so that both make the same."""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from threading import Lock, Thread
from typing import Any

from phrasing.desk.things import jobs, thing_named
from phrasing.errors import PhrasingError

PATIENCE = 600.0
"""Seconds that one command may take."""
MOST_LINKS = 8
"""Files of a folder that are named; the others are counted."""
MOST_MAKINGS = 200
"""Makings that are remembered."""
KINDS: Mapping[str, str] = {
    ".html": "text/html",
    ".pdf": "application/pdf",
    ".mid": "audio/midi",
    ".wav": "audio/wav",
    ".mp3": "audio/mpeg",
    ".flac": "audio/flac",
    ".musicxml": "application/vnd.recordare.musicxml+xml",
}
"""What is made to be opened, in the order in which it is named."""


@dataclass(eq=False)
class Making:
    """Something that is being made: how many of its commands are done, and where it is.

    ``key`` is a secret by which its files are opened; ``places``: what is made, by name.
    """

    key: str
    of: int
    done: int = 0
    began: float = field(default_factory=time.monotonic)
    seconds: float = 0.0
    places: dict[str, Path] = field(default_factory=dict)
    error: str | None = None
    ended: bool = False

    def told(self) -> dict[str, Any]:
        """For the page: how far it is, and in the end what was made."""
        spent = self.seconds if self.ended else time.monotonic() - self.began
        return {
            "done": self.done,
            "of": self.of,
            "seconds": round(spent, 1),
            "ended": self.ended,
            "error": self.error,
            "made": [
                {"name": name, "in": place.parent.name, **_links(self.key, name, place)}
                for name, place in self.places.items()
            ],
        }

    def file(self, name: str) -> Path | None:
        """A file that was made, by its place in what was made; None for any other."""
        top, _, rest = name.partition("/")
        place = self.places.get(top)
        if place is None:
            return None
        found = (place / rest if rest else place).resolve()
        inside = found == place.resolve() or place.resolve() in found.parents
        return found if inside and found.is_file() and found.suffix in KINDS else None


def _links(key: str, name: str, place: Path) -> dict[str, Any]:
    """The files to open, the pages first, and how many more there are."""
    from urllib.parse import quote

    found = [place]
    if place.is_dir():
        own = (p for p in place.rglob("*") if p.is_file() and not p.is_symlink())
        found = sorted(file for file in own if file.suffix in KINDS)
        order = list(KINDS)
        found.sort(key=lambda file: (len(file.parts), order.index(file.suffix)))
    inside = [file.relative_to(place.parent).as_posix() for file in found]
    links = [
        {"name": path.removeprefix(f"{name}/"), "href": f"/made/{key}/{quote(path)}"}
        for path in inside[:MOST_LINKS]
    ]
    return {"links": links, "more": len(inside) - len(links)}


class Makings:
    """All that was made since the desk was opened."""

    def __init__(self) -> None:
        self._known: dict[str, Making] = {}
        self._lock = Lock()

    def start(
        self, path: Path, what: Any, chosen: Any = None, decided: Sequence[str] = ()
    ) -> Making:
        """Begin to make something of a file; ``decided``: the options that stand for what was.

        What was made before takes its place no more: it is replaced. Raises ``PhrasingError``
        for what cannot be asked for.
        """
        wanted = jobs(thing_named(what), chosen, path.stem)
        making = Making(secrets.token_urlsafe(24), len(wanted))
        with self._lock:
            self._known[making.key] = making
            for old in list(self._known)[:-MOST_MAKINGS]:
                del self._known[old]
        Thread(target=_make, args=(making, path, wanted, decided), daemon=True).start()
        return making

    def known(self, key: str) -> Making | None:
        """The making of this key."""
        with self._lock:
            return self._known.get(key)


def _make(
    making: Making,
    path: Path,
    wanted: Sequence[tuple[str, list[str]]],
    decided: Sequence[str],
) -> None:
    try:
        for place, (command, *rest) in wanted:
            run(path, [command, path.name, *rest, *decided, "-o", place, "--overwrite"])
            making.places[place] = path.with_name(place)
            making.done += 1
    except PhrasingError as error:
        making.error = str(error)
    except OSError as error:
        making.error = f"The command could not be run ({error.strerror})."
    finally:
        making.seconds = time.monotonic() - making.began
        making.ended = True


def run(path: Path, words: Sequence[str]) -> None:
    """Run a command beside a file; ``PhrasingError`` with the command's own sentence where it
    fails."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "phrasing", *words],
            cwd=path.parent,
            env={**os.environ, "PYTHONPATH": str(Path(str(files("phrasing"))).parent)},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=PATIENCE,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise PhrasingError(f"{path.name}: took too long; try fewer bars.") from None
    if done.returncode:
        told = done.stderr.decode("utf-8", "replace").strip().splitlines()
        last = told[-1] if told else "It could not be made."
        raise PhrasingError(last.removeprefix("phrasing: "))
