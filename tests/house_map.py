"""The map of the house, drawn from its imports into DEVELOPERS.md.

python -m tests.house_map      # draws it anew
"""

from __future__ import annotations

import ast

from tests.test_house import HOUSE, LEFT_TO_RIGHT, house, room

PAGE = HOUSE.parent / "DEVELOPERS.md"
BEGIN, END = "<!-- the map: python -m tests.house_map -->\n", "<!-- the map ends -->\n"


def drawn() -> str:
    """A row for each room: what happens in it, its files, and the rooms it looks into."""
    rows = [
        "| room | what happens in it | its files | looks into |",
        "| --- | --- | --- | --- |",
    ]
    for name in (name for names in LEFT_TO_RIGHT for name in names):
        inside = [module for module in house() if room(module) == name]
        into = {room(other) for module in inside for other in house()[module]} - {name, ""}
        looks = ", ".join(other for names in LEFT_TO_RIGHT for other in names if other in into)
        rows.append(f"| `{name}` | {said(name)} | {files(name, inside)} | {looks} |")
    return "\n".join(rows) + "\n"


def said(name: str) -> str:
    """The first sentence of the room's docstring."""
    place = HOUSE / name
    file = place / "__init__.py" if place.is_dir() else place.with_suffix(".py")
    words = ast.get_docstring(ast.parse(file.read_text(encoding="utf-8"))) or ""
    return " ".join(words.partition("\n\n")[0].split()).rstrip(".")


def files(name: str, inside: list[str]) -> str:
    """The room's files by their names below it."""
    below = sorted(module.removeprefix(f"phrasing.{name}").lstrip(".") for module in inside)
    packages = {other.rpartition(".")[0] for other in below}
    return ", ".join(each for each in below if each and each not in packages)


def with_map(text: str) -> str:
    """A page with the map in its place."""
    before, _, rest = text.partition(BEGIN)
    return before + BEGIN + drawn() + END + rest.partition(END)[2]


if __name__ == "__main__":
    PAGE.write_text(with_map(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
