"""The signs for a note that is bent: a scoop, a plop, a fall, a doit, drawn beside its head.

The engraver reads them and has no sign for them. Each is a stroke that swells from nothing, on
the side of the head and in the direction that it is played (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lxml import etree

from phrasing.paper.drawing import SVG, Box, box_of, drawn, element

NEAR, FAR, HIGH, THICK = 0.20, 1.15, 1.20, 0.24
"""In heads' heights: from the head to the stroke's near and far end, how high it goes, and how
thick it is in its middle."""
STROKES: Mapping[str, tuple[int, int]] = MappingProxyType(
    {"scoop": (-1, 1), "plop": (-1, -1), "falloff": (1, 1), "doit": (1, -1)}
)
"""By MusicXML's word: the side of the head (-1 left), and where the far end is (1 down)."""


def bends_of(root: etree._Element) -> dict[str, str]:
    """The notes of a score that are bent: their ids, and how."""
    found = ((note.get("id"), note) for note in root.iter("note"))
    bent = ((name, note.find("notations/articulations")) for name, note in found)
    return {
        str(name): sign.tag
        for name, signs in bent
        if name and signs is not None
        for sign in signs
        if sign.tag in STROKES
    }


def draw_bends(
    system: etree._Element, paths: Mapping[str, str], bends: Mapping[str, str]
) -> None:
    """Add the strokes to the notes of a system; ``paths``: the glyphs' path data by id."""
    for note in list(system.iter(f"{{{SVG}}}g")) if bends else []:
        if note.get("class") == "note" and note.get("id") in bends:
            heads = [part for part in note if part.get("class") == "notehead"]
            box = box_of(drawn(heads[0] if heads else note, paths))
            if box is not None:
                way = STROKES[bends[str(note.get("id"))]]
                element("path", note, d=stroke(box, *way), stroke="none")


def stroke(head: Box, side: int, down: int) -> str:
    """The stroke beside a head, as SVG path data.

    >>> stroke(Box(0.0, 0.0, 10.0, 10.0), 1, 1)
    'M12.0 5.0 Q21.5 3.8 21.5 17.0 Q19.1 6.2 12.0 5.0 Z'
    """
    height = head.bottom - head.top
    edge = head.right if side > 0 else head.left
    middle = (head.top + head.bottom) / 2
    x, y = edge + side * NEAR * height, middle
    far_x, far_y = edge + side * FAR * height, middle + down * HIGH * height
    outer = f"{far_x:.1f} {y - down * THICK / 2 * height:.1f}"
    inner = f"{far_x - side * THICK * height:.1f} {y + down * THICK / 2 * height:.1f}"
    return f"M{x:.1f} {y:.1f} Q{outer} {far_x:.1f} {far_y:.1f} Q{inner} {x:.1f} {y:.1f} Z"
