"""The desk's page: the listening page's stand and test for the ear, and what edits."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from phrasing.page.scripts import static
from phrasing.page.stand import stand
from phrasing.page.template import filled


@cache
def desk_page() -> bytes:
    """The page as it is sent, the same for every melody."""
    own = files("phrasing.desk").joinpath("static")
    pieces = {
        name: own.joinpath(f"{name}.html").read_text(encoding="utf-8")
        for name in ("desk", "undo", "lever")
    }
    whole = {
        "stand": stand(undo=pieces["undo"], lever=pieces["lever"]),
        "blind": static("blind.html"),
    }
    return filled(pieces["desk"], whole).encode("utf-8")
