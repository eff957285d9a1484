"""Which things on a page of music touch each other: text, wedges, marks and staves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from lxml import etree

from phrasing.paper.drawing import SVG, Box, Outline, box_of, definitions, drawn, item_box
from phrasing.paper.skyline import slices
from phrasing.paper.stacking import MOVED

SLACK = 0.05
"""Points by which boxes may run into each other: rounding of what is written in the SVG."""


@dataclass(frozen=True)
class Thing:
    """Something that must not be touched: what it is, and its box or boxes."""

    kind: str
    boxes: tuple[Box, ...]


def touching(page: etree._Element) -> list[tuple[Thing, Thing]]:
    """The pairs on a page that overlap."""
    found = list(things(page))
    whole = [(thing, joined(thing.boxes)) for thing in found]
    whole.sort(key=lambda pair: pair[1].top)
    pairs = []
    for (one, box), (other, around) in combinations(whole, 2):
        if overlap(box, around) and any(overlap(a, b) for a in one.boxes for b in other.boxes):
            pairs.append((one, other))
    return pairs


def things(page: etree._Element) -> Iterator[Thing]:
    """Text, wedges, marks and staves of a page."""
    paths = definitions(page)
    yield from _under(page, paths, ())


def _under(root: etree._Element, paths: dict[str, str], over: tuple) -> Iterator[Thing]:
    for node in root:
        names = node.get("class", "").split()
        kind = next((name for name in names if name in MOVED), "")
        if kind and (boxes := boxes_of(node, paths)):
            yield Thing(kind, boxes)
        elif node.tag == f"{{{SVG}}}text":
            yield Thing("text", boxes_of(node, paths))
        elif not kind:
            yield from _under(node, paths, over)
        if "system" in names:
            yield from (Thing("staff", (box,)) for box in staves(node, paths))


def boxes_of(node: etree._Element, paths: dict[str, str]) -> tuple[Box, ...]:
    """The boxes of what is drawn in a group, where they lie on the page."""
    boxes: list[Box] = []
    for item in drawn(on_page(node), paths):
        box = item_box(item)
        if box is not None:
            wide = isinstance(item, Outline) and node.get("class") == "hairpin"
            boxes += slices(item, box, 1.0) if wide else [box]
    return tuple(boxes)


def on_page(node: etree._Element) -> etree._Element:
    """A copy of a group inside all the transforms over it."""
    from copy import deepcopy

    inner = deepcopy(node)
    for parent in node.iterancestors():
        if parent.get("transform"):
            outer = etree.Element(f"{{{SVG}}}g", transform=parent.get("transform", ""))
            outer.append(inner)
            inner = outer
    return inner


def staves(system: etree._Element, paths: dict[str, str]) -> list[Box]:
    """The staves of a system, each from its first line to its last."""
    rows: dict[int, list[Box]] = {}
    for measure in system.iter(f"{{{SVG}}}g"):
        if measure.get("class") == "measure":
            own = [part for part in measure if part.get("class") == "staff"]
            for number, staff in enumerate(own):
                lines = [part for part in staff if part.tag == f"{{{SVG}}}path"]
                boxes = [box_of(drawn(on_page(line), paths)) for line in lines]
                rows.setdefault(number, []).extend(box for box in boxes if box)
    return [joined(tuple(boxes)) for boxes in rows.values() if boxes]


def joined(boxes: tuple[Box, ...]) -> Box:
    """The box around all."""
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.joined(box)
    return whole


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes share more than their edges."""
    across = min(one.right, other.right) - max(one.left, other.left)
    down = min(one.bottom, other.bottom) - max(one.top, other.top)
    return across > SLACK and down > SLACK
