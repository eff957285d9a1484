"""Options of the command line kept in a file (TOML), such as the desk writes beside a melody.

The names are those of the options without their dashes; paths count from the file's folder::

    marks = "tune.marks.csv"
    feel = "tune.feel.toml"
    pickup = 1.0
    instrument = "alto-sax"
    except = ["dip"]
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from phrasing.errors import PhrasingError
from phrasing.feel import FEELS
from phrasing.feelfile import load_table
from phrasing.lesson.request import Request
from phrasing.limits import is_number
from phrasing.printable import printable

NUMBERS = ("tempo", "strength", "pickup")
WHOLE = ("octave",)
SWITCHES = ("as-written", "slurs")
FILES = ("marks", "feel")
WORDS = ("style", "swing", "instrument", "transpose", "only", "track", "meter")
RULES = "except"
KNOWN = (*FILES, *NUMBERS, *WHOLE, *WORDS, RULES, *SWITCHES)
FIELD = {RULES: "leave_out", "as-written": "as_written"}
"""The fields of a request that are called otherwise than their options."""


def with_options(request: Request) -> Request:
    """The request with what its options file says; what it asks for itself wins.

    Raises ``PhrasingError`` naming the file and the entry that cannot be used.

    >>> place = folder / "tune.options.toml"
    >>> _ = place.write_text('tempo = 120\\nexcept = ["dip"]')
    >>> found = with_options(Request(options=place, tempo=96.0))
    >>> found.tempo, found.leave_out
    (96.0, ('dip',))
    """
    if request.options is None:
        return request
    told = load_options(request.options)
    unasked = Request()
    taken: dict[str, Any] = {
        name: value
        for name, value in told.items()
        if getattr(request, name) == getattr(unasked, name)
    }
    rules = (*request.leave_out, *told.get("leave_out", ()))
    return replace(request, **taken | {"leave_out": tuple(dict.fromkeys(rules))})


def load_options(path: Path) -> dict[str, Any]:
    """The options in a file, by the request's fields; ``PhrasingError`` for what is none.

    >>> place = folder / "tune.options.toml"
    >>> _ = place.write_text('marks = "tune.marks.csv"')
    >>> load_options(place)["marks"] == folder / "tune.marks.csv"
    True
    """
    table = load_table(path, "file of options", "name a file of options")
    return {FIELD.get(name, name): _value(path, name, value) for name, value in table.items()}


def _value(path: Path, name: str, value: Any) -> Any:
    if name not in KNOWN:
        raise PhrasingError(
            f"{path}: there is no option “{name}”; known are {', '.join(KNOWN)}."
        )
    if name in NUMBERS and is_number(value):
        return float(value)
    if name in WHOLE and is_number(value) and isinstance(value, int):
        return value
    if name in SWITCHES and isinstance(value, bool):
        return value
    if name in (*FILES, *WORDS) and isinstance(value, str) and value:
        return _beside(path, name, value) if name in FILES else value
    if name == RULES and isinstance(value, list) and all(isinstance(v, str) for v in value):
        return tuple(value)
    raise PhrasingError(
        f"{path}: “{name}” cannot be {str(value)[:40]!r}; see “phrasing shape -h”."
    )


def _beside(path: Path, name: str, value: str) -> Path:
    """A file by its place beside the options; a feel of the program's own by its name."""
    place = path.parent / value
    return Path(value) if name == "feel" and value in FEELS and not place.exists() else place


def options_text(request: Request, of: str) -> str:
    """A file with all that is asked for of the melody ``of``; its paths as they are given.

    >>> print(options_text(Request(tempo=96.0, leave_out=("dip",)), "tune.mid"))
    # How tune.mid is read and played; used with --options.
    tempo = 96.0
    except = [
        "dip",
    ]
    <BLANKLINE>
    """
    import tomli_w

    head = f"# How {printable(of)} is read and played; used with --options.\n"
    return head + tomli_w.dumps(_entries(request))


def _entries(request: Request) -> Mapping[str, Any]:
    unasked = Request()
    asked = {name: getattr(request, FIELD.get(name, name)) for name in KNOWN}
    found = {
        name: value
        for name, value in asked.items()
        if value != getattr(unasked, FIELD.get(name, name))
    }
    return {name: _plain(value) for name, value in found.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, Path):
        return value.as_posix()
    return list(value) if isinstance(value, tuple) else value
