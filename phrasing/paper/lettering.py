"""Words set on a picture, each sign in a fount that has it.

A line is cut into runs of one fount: the one asked for, the music fount for accidentals, the
fount to fall back on, and for other scripts one of the computer's own, drawn as outlines.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from phrasing.paper.drawing import element, short
from phrasing.paper.fonts import (
    FAMILIES,
    IN_MUSIC,
    ROMAN,
    Style,
    has_sign,
    music_glyph,
    printable,
    text_width,
)
from phrasing.paper.scripts import Shaped, in_visual_order, shaped

if TYPE_CHECKING:
    from lxml import etree


RAISED = {"♭": 0.16, "♮": 0.3, "♯": 0.3}
"""By how many ems an accidental in words is raised: its middle lies on its base line."""
ASIDE = 0.03
"""Ems of space on either side of it."""
IN_BOLD = 1.2
"""How much larger it is beside bold letters, which it would look thin by."""


@dataclass(frozen=True)
class TextRun:
    """Signs of one fount: ``style`` None for accidentals of the music fount, ``shape`` the
    outlines where they come from a fount of the computer; ``larger``: an accidental beside
    bold letters is."""

    text: str
    style: Style | None
    shape: Shaped | None = None
    larger: float = 1.0

    def width(self, size: float) -> float:
        """How wide it is set."""
        if self.shape is not None:
            return self.shape.advance * size
        if self.style is None:
            advance = music_glyph(self.text).advance / 1000
            return (advance * self.larger + 2 * ASIDE) * size
        return text_width(self.text, size, self.style)


@lru_cache(maxsize=4096)
def runs(text: str, style: Style = ROMAN) -> tuple[TextRun, ...]:
    """The text in runs of one fount from left to right, without what cannot be printed."""
    found: list[TextRun] = []
    for piece, leftwards in in_visual_order(printable(text)):
        for own, signs in [("other", piece)] if leftwards else _by_fount(piece, style):
            if own == "other":
                shape = shaped(signs, style.bold, leftwards)
                found += [TextRun(signs, style, shape)] if shape else []
            elif own == "music":
                larger = IN_BOLD if style.bold else 1.0
                found += [TextRun(sign, None, larger=larger) for sign in signs]
            else:
                found.append(TextRun(signs, style if own == "own" else style.spare))
    return tuple(found)


def _by_fount(text: str, style: Style) -> list[tuple[str, str]]:
    """The text cut where the fount changes; a space stays with what is before it."""
    cut: list[tuple[str, str]] = []
    for sign in text:
        own = _fount_of(sign, style)
        if cut and (own == cut[-1][0] or (sign == " " and cut[-1][0] != "music")):
            cut[-1] = (cut[-1][0], cut[-1][1] + sign)
        else:
            cut.append((own, sign))
    return cut


def _fount_of(sign: str, style: Style) -> str:
    if sign in IN_MUSIC:
        return "music"
    if has_sign(sign, style):
        return "own"
    return "spare" if has_sign(sign, style.spare) else "other"


def words_width(text: str, size: float, style: Style = ROMAN) -> float:
    """How wide a line of words is as ``set_words`` sets it."""
    return sum(run.width(size) for run in runs(text, style))


def set_words(
    parent: etree._Element,
    text: str,
    x: float,
    y: float,
    size: float,
    style: Style = ROMAN,
    *,
    anchor: str = "start",
    **attributes: object,
) -> float:
    """Set one line of words on the base line ``y``. Returns its width."""
    width = words_width(text, size, style)
    at = x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    for run in runs(text, style):
        if run.shape is not None:
            _draw_shape(parent, run.shape, at, y, size)
        elif run.style is None:
            raised = y - RAISED[run.text] * size
            aside = at + ASIDE * size
            sign = draw_glyph(parent, run.text, aside, raised, run.larger * size)
            sign.set("aria-label", run.text)
        else:
            _set_run(parent, run.text, at, y, size, run.style, attributes)
        at += run.width(size)
    return width


def _set_run(
    parent: etree._Element,
    run: str,
    x: float,
    y: float,
    size: float,
    style: Style,
    attributes: Mapping[str, object],
) -> None:
    lead = text_width(run[: len(run) - len(run.lstrip())], size, style)
    words = run.strip()
    if not words:
        return
    text = element("text", parent, x=x + lead, y=y, font_size=size, **attributes)
    text.set("font-family", FAMILIES[style.family])
    text.set("textLength", short(text_width(words, size, style)))
    text.set("lengthAdjust", "spacingAndGlyphs")
    text.set("stroke", "none")
    if style.bold:
        text.set("font-weight", "bold")
    if style.italic:
        text.set("font-style", "italic")
    text.text = words


def _draw_shape(parent: etree._Element, shape: Shaped, x: float, y: float, size: float) -> None:
    move = (
        f"translate({short(x)}, {short(y)}) scale({short(size / 1000)}, {short(-size / 1000)})"
    )
    path = element("path", parent, transform=move, d=shape.path, stroke="none")
    path.set("data-words", shape.text)


def draw_glyph(
    parent: etree._Element, sign: str, x: float, y: float, size: float
) -> etree._Element:
    """Draw a sign of the music fount with its origin at (x, y), ``size`` to the em."""
    scale = size / 1000
    move = f"translate({short(x)}, {short(y)}) scale({short(scale)}, {short(-scale)})"
    return element("path", parent, transform=move, d=music_glyph(sign).path, stroke="none")
