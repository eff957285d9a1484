"""What a page asks for is made by the command line itself, so that both make the same."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from phrasing.desk.told import words_of
from phrasing.desk.work import Work
from phrasing.errors import PhrasingError

PATIENCE = 600.0
"""Seconds that one command may take."""
IN_KEYS = (("C", "c"), ("B♭", "b-flat"), ("E♭", "e-flat"), ("bass clef", "bass-clef"))
THINGS: Mapping[str, tuple[tuple[str, tuple[str, ...]], ...]] = {
    "shape": (("{stem} made", ("shape",)),),
    "page": (("{stem} page.html", ("page",)),),
    "sheet": (("{stem} sheet.pdf", ("sheet",)),),
    "exercise": (("{stem} exercise.pdf", ("sheet", "--layout", "exercise")),),
    "parts": tuple(
        (f"{{stem}} in {name}.pdf", ("sheet", "--instrument", f"part-in-{key}"))
        for name, key in (
            ("C", "c"),
            ("B♭", "b-flat"),
            ("E♭", "e-flat"),
            ("bass clef", "bass-clef"),
        )
    ),
    "backing": (("{stem} backing", ("backing",)),),
    "practice": (("{stem} practice", ("practice",)),),
}
"""What can be made: where it goes, beside the melody, and the command that makes it."""


def make(work: Work, what: Any) -> str:
    """Make something of the melody as it is now, and say where it is.

    What was made before takes its place no more: it is replaced. Raises ``PhrasingError``
    with the command's own sentence where it cannot be made.
    """
    if what not in THINGS:
        raise PhrasingError("The desk cannot make that; the page is out of date.")
    places = [_made(work, place, words) for place, words in THINGS[what]]
    listed = " and ".join(f"“{place}”" for place in places)
    return f"{listed}, beside {work.path.name}."


def _made(work: Work, place: str, words: Sequence[str]) -> str:
    """One file or folder made by a command, and its name."""
    output = place.format(stem=work.path.stem)
    command, *rest = words
    whole = [command, work.path.name, *rest, *words_of(work), "-o", output, "--overwrite"]
    try:
        done = subprocess.run(
            [sys.executable, "-m", "phrasing", *whole],
            cwd=work.path.parent,
            env={**os.environ, "PYTHONPATH": str(Path(str(files("phrasing"))).parent)},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=PATIENCE,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise PhrasingError(f"{output}: took too long; try fewer bars.") from None
    if done.returncode:
        told = done.stderr.decode("utf-8", "replace").strip().splitlines()
        last = told[-1] if told else "It could not be made."
        raise PhrasingError(last.removeprefix("phrasing: "))
    return output
