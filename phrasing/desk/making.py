"""What a page asks for is made by the command line itself, so that both make the same."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

from phrasing.desk.told import words_of
from phrasing.desk.work import Work
from phrasing.errors import PhrasingError

PATIENCE = 600.0
"""Seconds that one command may take."""
THINGS: Mapping[str, tuple[str, ...]] = {
    "shape": ("shape",),
    "page": ("page",),
    "sheet": ("sheet",),
    "exercise": ("sheet", "--layout", "exercise"),
    "practice": ("practice",),
}
"""What can be made, and the command that does it."""
PLACES = {
    "shape": ("{stem} made", "the folder"),
    "page": ("{stem} page.html", "the file"),
    "sheet": ("{stem} sheet.pdf", "the file"),
    "exercise": ("{stem} exercise.pdf", "the file"),
    "practice": ("{stem} practice", "the folder"),
}
"""Where it goes, beside the melody."""


def make(work: Work, what: Any) -> str:
    """Make something of the melody as it is now, and say where it is.

    What was made before takes its place no more: it is replaced. Raises ``PhrasingError``
    with the command's own sentence where it cannot be made.
    """
    if what not in THINGS:
        raise PhrasingError("The desk cannot make that; the page is out of date.")
    place, kind = PLACES[what]
    output = work.path.with_name(place.format(stem=work.path.stem))
    command, *rest = THINGS[what]
    words = [command, work.path.name, *rest, *words_of(work), "-o", output.name, "--overwrite"]
    try:
        done = subprocess.run(
            [sys.executable, "-m", "phrasing", *words],
            cwd=work.path.parent,
            env={**os.environ, "PYTHONPATH": str(Path(str(files("phrasing"))).parent)},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=PATIENCE,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise PhrasingError(f"{output.name}: took too long; try fewer bars.") from None
    if done.returncode:
        told = done.stderr.decode("utf-8", "replace").strip().splitlines()
        last = told[-1] if told else "It could not be made."
        raise PhrasingError(last.removeprefix("phrasing: "))
    return f"it is in {kind} “{output.name}”, beside {work.path.name}."
