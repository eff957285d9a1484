"""Words as outlines: a picture whose words look the same where their founts are not at hand."""

from __future__ import annotations

from copy import deepcopy
from functools import cache
from typing import TYPE_CHECKING

from phrasing.paper.drawing import SVG, element, short, style_of
from phrasing.paper.fonts import Style, text_font

if TYPE_CHECKING:
    from lxml import etree


LETTERING = (
    "x", "y", "font-size", "font-family", "font-weight", "font-style", "textLength",
    "lengthAdjust",
)  # fmt: skip
"""What a run of words says about its letters, and an outline no longer needs."""


def outlined(page: etree._Element) -> etree._Element:
    """The picture with every run of words as a path that has them as its label.

    >>> line = element("svg", None)
    >>> words = element("text", line, x=1.0, y=2.0, font_size=10.0)
    >>> words.text = "late"
    >>> outlined(line)[0].get("aria-label"), words.text
    ('late', 'late')
    """
    copy = deepcopy(page)
    for words in list(copy.iter(f"{{{SVG}}}text")):
        parent = words.getparent()
        if parent is not None:
            parent.replace(words, _outline(words))
    return copy


def _outline(words: etree._Element) -> etree._Element:
    text, size = words.text or "", float(words.get("font-size", "0"))
    style = style_of({str(name): str(value) for name, value in words.items()})
    scale = size / text_font(style)["head"].unitsPerEm
    x, y = (short(float(words.get(name, "0"))) for name in ("x", "y"))
    place = f"translate({x}, {y}) scale({scale:.5f}, {-scale:.5f})"
    moved = words.get("transform", "")  # by where it stands, before it is drawn there
    path = element("path", None, transform=f"{moved} {place}".strip(), d=_letters(text, style))
    for name, value in words.items():
        if name not in (*LETTERING, "transform"):
            path.set(name, value)
    path.set("aria-label", text)
    return path


@cache
def _letters(text: str, style: Style) -> str:
    """The letters one behind the other, y up, in the fount's own units."""
    from fontTools.pens.svgPathPen import SVGPathPen
    from fontTools.pens.transformPen import TransformPen

    font = text_font(style)
    glyphs, names, widths = font.getGlyphSet(), font.getBestCmap(), font["hmtx"]
    pen = SVGPathPen(glyphs)
    at = 0
    for sign in text:
        name = names.get(ord(sign))
        if name is not None:
            glyphs[name].draw(TransformPen(pen, (1, 0, 0, 1, at, 0)))
        at += font["head"].unitsPerEm if name is None else widths[name][0]
    return str(pen.getCommands())
