"""Data flows one way through the house: no room imports a room on its right."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import phrasing

HOUSE = Path(phrasing.__file__).parent
LEFT_TO_RIGHT = (
    ("errors", "files", "tempo", "marks", "pitchnames", "chords", "instruments"),
    ("melody", "feel", "spelling", "keys"),
    ("reading",),
    ("marking", "swing"),
    ("dynamics", "performance"),
    ("backing", "excerpts", "ranges", "transposing", "wishes", "parts"),
    ("lesson", "playalong", "exercises", "versions", "examples"),
    ("rendering", "publishing"),
    ("recording", "listenpage", "practice", "bandfolder", "demonstration"),
    ("telling", "options", "commands"),
)
PLACE = {room: place for place, rooms in enumerate(LEFT_TO_RIGHT) for room in rooms}


def rooms_of(file: Path) -> set[str]:
    """The rooms of the house that a file imports, also where only types are checked."""
    names: list[str] = []
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names.append(node.module)
            if node.module == "phrasing":
                names += [f"phrasing.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
    return {name.split(".")[1] for name in names if name.startswith("phrasing.")}


@pytest.mark.parametrize("room", PLACE)
def test_no_room_imports_a_room_on_its_right(room):
    inside = HOUSE / room
    files = list(inside.rglob("*.py")) if inside.is_dir() else [inside.with_suffix(".py")]
    for file in files:
        for other in rooms_of(file) & PLACE.keys():
            assert PLACE[other] <= PLACE[room], f"{file.name} imports {other}"
