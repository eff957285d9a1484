"""Data flows one way through the house: no room imports a room on its right, and no circle."""

from __future__ import annotations

import ast
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import phrasing

HOUSE = Path(phrasing.__file__).parent
LEFT_TO_RIGHT = (
    ("printable", "errors", "limits", "files"),
    ("score",),
    ("feel", "feelfile", "style"),
    ("reading",),
    ("marking",),
    ("performing",),
    ("band",),
    ("sound", "paper"),
    ("lesson",),
    ("page",),
    ("desk",),
    ("app",),
)
PLACE = {room: place for place, rooms in enumerate(LEFT_TO_RIGHT) for room in rooms}
LONGEST = 550
"""Lines of a file at most."""


@cache
def house() -> dict[str, set[str]]:
    """Each module and what it imports of the house, local and type-only imports included."""
    files = {name_of(file): file for file in HOUSE.rglob("*.py")}
    return {name: imported(file, files.keys()) - {name} for name, file in files.items()}


def name_of(file: Path) -> str:
    parts = file.relative_to(HOUSE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(file: Path, modules) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            inside = {f"{node.module}.{alias.name}" for alias in node.names} & modules
            found |= inside or ({node.module} & modules)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names} & modules
    return found


def room(module: str) -> str:
    return module.split(".")[1] if "." in module else ""


def test_every_room_has_its_place():
    assert {room(name) for name in house()} - {"", "__main__"} <= PLACE.keys()


@pytest.mark.parametrize("name", sorted(name for name in house() if room(name) in PLACE))
def test_no_room_imports_a_room_on_its_right(name):
    for other in house()[name]:
        assert room(other) in PLACE, f"{name} imports {other}"
        assert PLACE[room(other)] <= PLACE[room(name)], f"{name} imports {other}"


def test_there_is_no_circle_inside_a_room_either():
    try:
        TopologicalSorter(house()).prepare()
    except CycleError as error:
        pytest.fail("a circle: " + " imports ".join(reversed(error.args[1])))


@pytest.mark.parametrize("file", sorted(HOUSE.rglob("*.py")), ids=name_of)
def test_no_file_is_too_long(file):
    assert len(file.read_text(encoding="utf-8").splitlines()) <= LONGEST
