"""Plain vector pictures: walking a tidy SVG, and its extents.

Tidy SVG is what this package draws: groups with ``translate`` and ``scale``, paths, polygons,
polylines, rectangles, ellipses, uses of paths in ``defs``, and ``text`` elements of one style
that start at their x. Black, unless an element or a group over it has a ``fill``. A path that
stands for a character in a line of words has it as its ``aria-label``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from phrasing.paper.fonts import ACCIDENTALS, FAMILIES, Style, text_width

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform
    from lxml import etree


SVG = "http://www.w3.org/2000/svg"
XLINK = "{http://www.w3.org/1999/xlink}href"
_STEP = re.compile(r"(translate|scale)\(([^)]*)\)")


_FOUNT = {asked: family for family, asked in FAMILIES.items()}
"""A text fount by what a style sheet asks for."""


@dataclass(frozen=True)
class Outline:
    """A path (SVG path data) drawn in black or grey through a matrix."""

    path: str
    matrix: Transform
    fill: str = "currentColor"
    stroke: float = 0.0
    dashes: str = ""


@dataclass(frozen=True)
class Words:
    """A run of text of one style, starting at ``x`` on the base line ``y``."""

    text: str
    x: float
    y: float
    size: float
    style: Style
    matrix: Transform
    fill: str = "currentColor"


@dataclass(frozen=True)
class Box:
    """Left, top, right and bottom, y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def joined(self, other: Box) -> Box:
        """The smallest box around both."""
        return Box(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )


@dataclass(frozen=True)
class _State:
    matrix: Transform
    fill: str = "currentColor"
    stroke: float = 0.0


def element(
    tag: str, parent: etree._Element | None = None, **attributes: object
) -> etree._Element:
    """A new SVG element; underscores in names stand for hyphens, numbers are made short.

    >>> element("g", None, x=1.5).get("x")
    '1.5'
    """
    from lxml import etree

    named = {name.replace("_", "-"): short(value) for name, value in attributes.items()}
    if parent is None:
        empty: dict[str | None, str] = {None: SVG}
        return etree.Element(f"{{{SVG}}}{tag}", named, nsmap=empty)  # type: ignore[arg-type]
    return etree.SubElement(parent, f"{{{SVG}}}{tag}", named)


def short(value: object) -> str:
    """A number with at most three decimals, anything else as text.

    >>> short(1.5004), short(2.0)
    ('1.5', '2')
    """
    if not isinstance(value, float):
        return str(value)
    return f"{value:.3f}".rstrip("0").rstrip(".") if abs(value) >= 0.0005 else "0"


def tag_of(node: etree._Element) -> str:
    """An element's name without its namespace.

    >>> tag_of(element("g", None))
    'g'
    """
    return str(node.tag).rpartition("}")[2]


# Walking


def drawn(root: etree._Element, defs: Mapping[str, str]) -> Iterator[Outline | Words]:
    """All shapes and words under ``root`` in drawing order; ``defs``: path data by id."""
    from fontTools.misc.transform import Identity

    yield from _walk(root, _State(Identity), defs)


def definitions(root: etree._Element) -> dict[str, str]:
    """The path data of every glyph in the ``defs`` of a tidy SVG, by id (y up)."""
    return {
        group.get("id", ""): group[0].get("d", "")
        for defs in root.iter(f"{{{SVG}}}defs")
        for group in defs
        if len(group)
    }


def _walk(
    node: etree._Element, over: _State, defs: Mapping[str, str]
) -> Iterator[Outline | Words]:
    state = _State(
        _moved(over.matrix, node.get("transform", "")),
        node.get("fill", over.fill),
        float(node.get("stroke-width", over.stroke)),
    )
    tag = tag_of(node)
    if tag in ("g", "svg"):
        for child in node.iterchildren("*"):
            yield from _walk(child, state, defs)
    elif tag == "text":
        yield _words(node, state)
    elif node.get("aria-label"):
        label = node.get("aria-label", "")
        yield Words(label, 0.0, 0.0, 1000.0, ACCIDENTALS, state.matrix, state.fill)
    elif tag == "use":
        name = (node.get(XLINK) or node.get("href") or "#")[1:]
        yield Outline(defs.get(name, ""), state.matrix.scale(1, -1), state.fill)
    elif tag in _PATHS:
        dashes = node.get("stroke-dasharray", "")
        yield Outline(_PATHS[tag](node), state.matrix, state.fill, state.stroke, dashes)


def _moved(matrix: Transform, steps: str) -> Transform:
    for name, numbers in _STEP.findall(steps):
        values = [float(number) for number in re.split(r"[\s,]+", numbers.strip())]
        if name == "translate":
            matrix = matrix.translate(values[0], values[1] if len(values) > 1 else 0)
        else:
            matrix = matrix.scale(values[0], values[-1])
    return matrix


def style_of(attributes: Mapping[str, str]) -> Style:
    """The cut that a text element's attributes ask for.

    >>> style_of({"font-weight": "bold"}).bold
    True
    """
    bold, italic = (
        attributes.get("font-weight") == "bold",
        attributes.get("font-style") == "italic",
    )
    family = _FOUNT.get(attributes.get("font-family", ""), Style().family)
    return Style(bold, italic, family=family)


def _words(node: etree._Element, state: _State) -> Words:
    style = style_of({str(name): str(value) for name, value in node.items()})
    return Words(
        node.text or "",
        float(node.get("x", 0)),
        float(node.get("y", 0)),
        float(node.get("font-size", 0)),
        style,
        state.matrix,
        state.fill,
    )


def _points(node: etree._Element) -> str:
    pairs = re.split(r"[\s,]+", node.get("points", "").strip())
    joined = " L".join(f"{x} {y}" for x, y in zip(pairs[::2], pairs[1::2], strict=True))
    return f"M{joined}"


def _rectangle(node: etree._Element) -> str:
    x, y, width, height = (float(node.get(name, 0)) for name in ("x", "y", "width", "height"))
    return f"M{x} {y} L{x + width} {y} L{x + width} {y + height} L{x} {y + height} Z"


def _ellipse(node: etree._Element) -> str:
    across = float(node.get("rx") or node.get("r") or 0)
    down = float(node.get("ry") or node.get("r") or 0)
    x, y = float(node.get("cx", 0)), float(node.get("cy", 0))
    arc = f"A{across} {down} 0 1 0"
    return f"M{x - across} {y} {arc} {x + across} {y} {arc} {x - across} {y} Z"


_PATHS: dict[str, Any] = {
    "path": lambda node: node.get("d", ""),
    "polygon": lambda node: f"{_points(node)} Z",
    "polyline": _points,
    "rect": _rectangle,
    "ellipse": _ellipse,
    "circle": _ellipse,
}


# Extents


@lru_cache(maxsize=4096)
def _extent(path: str) -> tuple[float, float, float, float] | None:
    from fontTools.pens.boundsPen import ControlBoundsPen
    from fontTools.svgLib.path import parse_path

    pen = ControlBoundsPen(None)
    parse_path(path, pen)
    bounds: tuple[float, float, float, float] | None = pen.bounds
    return bounds


def box_of(items: Iterator[Outline | Words]) -> Box | None:
    """The box around everything drawn; None where nothing is."""
    whole: Box | None = None
    for item in items:
        box = item_box(item)
        if box is not None:
            whole = box if whole is None else whole.joined(box)
    return whole


def item_box(item: Outline | Words) -> Box | None:
    """The box around one shape or run of words; None where nothing is seen."""
    return _word_box(item) if isinstance(item, Words) else _shape_box(item)


def _shape_box(shape: Outline) -> Box | None:
    bounds = _extent(shape.path)
    if bounds is None:
        return None
    left, bottom, right, top = bounds
    return _cornered(shape.matrix, left, bottom, right, top, shape.stroke / 2)


def _word_box(words: Words) -> Box | None:
    if not words.text.strip():
        return None
    right = words.x + text_width(words.text, words.size, words.style)
    top, bottom = words.y - 0.75 * words.size, words.y + 0.22 * words.size
    return _cornered(words.matrix, words.x, top, right, bottom, 0.0)


def _cornered(
    matrix: Transform, left: float, top: float, right: float, bottom: float, more: float
) -> Box:
    x1, y1 = matrix.transformPoint((left - more, top - more))
    x2, y2 = matrix.transformPoint((right + more, bottom + more))
    return Box(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))
