"""Groups that were moved, with their moves put into what is drawn in them.

Afterwards no group has a transform, and every shape's own numbers say where it lies: so two
engravings of the same notes can be compared stroke by stroke.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from phrasing.paper.drawing import short, tag_of

if TYPE_CHECKING:
    from lxml import etree


PLAIN_PATH = re.compile(r"[MLCZ\d\s,.\-]*")
"""Paths whose numbers are all places, x and y in turn."""
NUMBER = re.compile(r"-?\d*\.?\d+")
MOVE = re.compile(r"translate\(\s*(-?[\d.]+)[\s,]+(-?[\d.]+)\s*\)")
DOWN = ("y", "y1", "y2", "cy")


def settle(group: etree._Element, dy: float = 0.0) -> None:
    """Put the moves of a group, and of groups in it, into what they hold."""
    for child in group.iterchildren("*"):
        if tag_of(child) != "g":
            lower(child, dy)
            continue
        own = child.attrib.pop("transform", "")
        settle(child, dy + sum(float(y) for _, y in MOVE.findall(str(own))))


def lower(drawn: etree._Element, dy: float) -> None:
    """Move one shape or run of words down by changing its own numbers.

    >>> from phrasing.paper.drawing import element
    >>> line = element("line", None, y1=10.0, y2=20.0)
    >>> lower(line, 5.0)
    >>> line.get("y1"), line.get("y2")
    ('15', '25')
    """
    if not dy:
        return
    path, points, move = (drawn.get(name, "") for name in ("d", "points", "transform"))
    if move:
        moved = MOVE.sub(lambda m: f"translate({m[1]}, {short(float(m[2]) + dy)})", move, 1)
        drawn.set("transform", moved if moved != move else f"translate(0, {dy:g}) {move}")
    elif points:
        drawn.set("points", _lowered(points.strip(), dy))
    elif path and PLAIN_PATH.fullmatch(path):
        drawn.set("d", _lowered(path, dy))
    elif path:
        drawn.set("transform", f"translate(0, {dy:g})")
    else:
        for name in set(DOWN) & set(drawn.attrib):
            drawn.set(name, short(float(drawn.get(name, "0")) + dy))


def _lowered(places: str, dy: float) -> str:
    """A row of places, x and y in turn, with every y moved."""
    count = 0

    def moved(match: re.Match[str]) -> str:
        nonlocal count
        count += 1
        return short(float(match[0]) + dy) if count % 2 == 0 else match[0]

    return NUMBER.sub(moved, places)
