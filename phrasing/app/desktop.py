"""The desk from the command line: which folder it has open, and the browser that shows it."""

from __future__ import annotations

import shutil
import webbrowser
from pathlib import Path

from phrasing.app.folders import EXAMPLE, examples
from phrasing.errors import PhrasingError
from phrasing.printable import printable

KINDS = (".mid", ".musicxml", ".chart")
OWN_FOLDER = Path("desk")
"""Where the examples are copied to when nothing else is asked for."""


def open_desk(place: Path | None, soundfont: Path | None, *, browser: bool, port: int) -> None:
    """Serve the desk until its last page is closed; raises ``PhrasingError``."""
    from phrasing.desk.server import serve

    folder, first = desk_place(place)
    if soundfont is not None:
        from phrasing.sound.soundfonts import find_soundfont

        find_soundfont(soundfont)

    def ready(address: str) -> None:
        print(printable(f"The desk is open on {folder}, at"))
        print(f"  {address}")
        print(
            "It is served to this machine alone, and stops when its last page has been closed "
            "for ten minutes, or with Ctrl-C.",
            flush=True,
        )
        if browser:
            webbrowser.open(address)

    serve(folder, first, soundfont=soundfont, port=port, ready=ready)


def desk_place(place: Path | None) -> tuple[Path, str | None]:
    """The folder to open and the file to begin with.

    Without a place the examples are copied to a folder of the desk's own, unless they are
    there. Raises ``PhrasingError`` for a place that is not there.
    """
    if place is None:
        return _with_examples(OWN_FOLDER), EXAMPLE
    if place.is_dir():
        return place, None
    if not place.is_file():
        raise PhrasingError(f"{place}: there is no such file or folder; check its name.")
    return place.parent, place.name


def _with_examples(folder: Path) -> Path:
    try:
        folder.mkdir(exist_ok=True)
        for file in sorted(examples().iterdir()):
            if (
                file.suffix in (".mid", ".musicxml", ".chart")
                and not (folder / file.name).exists()
            ):
                shutil.copy(file, folder)
    except OSError as error:
        raise PhrasingError(
            f"{folder}: the examples cannot be copied there ({error.strerror}); name a folder "
            "of your own."
        ) from error
    return folder
