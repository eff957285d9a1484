"""What joins the staves of a system, drawn out where they were moved apart."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from phrasing.paper.drawing import SVG, box_of, drawn

if TYPE_CHECKING:
    from lxml import etree


NEAR = 45.0
"""Units by which both ends of a line may lie off the staves that it joins."""


def join(system: etree._Element, top: float, bottom: float, above: float, below: float) -> None:
    """Draw out the pieces of bar lines between two staves.

    They went from ``top`` to ``bottom``, and their ends moved ``above`` and ``below`` down.

    >>> from phrasing.paper.drawing import element
    >>> system = element("g", None)
    >>> line = element("path", element("g", system, **{"class": "barLine"}), d="M5 10 L5 20")
    >>> join(system, 10.0, 20.0, 0.0, 7.0)
    >>> line.get("d")
    'M5 10 L5 27'
    """
    for group in system.iter(f"{{{SVG}}}g"):
        for path in group if group.get("class") == "barLine" else ():
            box = box_of(drawn(path, {}))
            if box is not None and abs(box.top - top) + abs(box.bottom - bottom) < 2 * NEAR:
                x = (box.left + box.right) / 2
                path.set("d", f"M{x:g} {top + above:.0f} L{x:g} {bottom + below:.0f}")


def stretch(system: etree._Element, top: float, bottom: float, moved: float) -> None:
    """Let the line that joins all staves at their left, and braces, reach the last one.

    The staves went from ``top`` to ``bottom``, which moved down so far.
    """
    for path in system.iterchildren(f"{{{SVG}}}path"):
        numbers = path.get("d", "").replace("M", "").replace("L", "").split()
        if len(numbers) == 4:
            x, start, right, end = (float(number) for number in numbers)
            path.set("d", f"M{x:.0f} {start:.0f} L{right:.0f} {end + moved:.0f}")
    for group in system.iter(f"{{{SVG}}}g"):
        for path in group if group.get("class") == "grpSym" else ():
            path.set("d", _drawn_out(path.get("d", ""), top, 1 + moved / (bottom - top)))


def _drawn_out(path: str, top: float, by: float) -> str:
    """Path data whose places, x and y in turn, lie so much further below a height."""
    down, text = False, ""
    for place in re.findall(r"[A-Za-z]|-?[\d.]+", path):
        if place.isalpha():
            text += f"{place} "
            continue
        text += f"{top + (float(place) - top) * by:.0f} " if down else f"{place} "
        down = not down
    return text.strip()
