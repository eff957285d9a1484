"""Chord symbols as players write them: a large root, its suffix raised.

The symbol's spelling is the author's; only its setting is ours. Two alterations or more stand
one over the other.

>>> taken_apart("B♭m7♭5/E")
Symbol(root='B♭', quality='m7', changes=('♭5',), bass='E')
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phrasing.paper.drawing import element
from phrasing.paper.fonts import STRONG
from phrasing.paper.lettering import set_words, words_width

if TYPE_CHECKING:
    from lxml import etree


NAME = "[A-H][♭♮♯𝄫𝄪]*"
CHANGE = r"[♭♯+−-](?:13|11|9|5)|(?:add|omit|no)\d+"
SMALLER = 0.72
"""The suffix's size to the root's."""
RAISED = 0.3
"""Ems of the root by which the suffix is raised."""
STACK = 0.6
"""Distance of stacked alterations, in ems of the root."""


@dataclass(frozen=True)
class Symbol:
    """A chord symbol in parts: root, quality with its number, alterations, bass."""

    root: str
    quality: str
    changes: tuple[str, ...]
    bass: str


def taken_apart(text: str) -> Symbol | None:
    """The parts of a symbol; None where it has no root, as N.C. has none."""
    clean = re.sub(r"(?<=[A-G])b|b(?=\d)", "♭", text.strip())
    clean = re.sub(r"(?<=[A-G])#|#(?=\d)", "♯", clean)
    match = re.fullmatch(f"({NAME})(.*?)(?:/({NAME}))?", clean)
    if not match:
        return None
    quality, changes = _suffix(match[2])
    return Symbol(match[1], quality, changes, match[3] or "")


def _suffix(text: str) -> tuple[str, tuple[str, ...]]:
    """The quality and the alterations behind it; a sign right behind the root is a quality."""
    found = re.search(rf"\(?((?:[,\s]*(?:{CHANGE}))+)\)?$", text)
    if not found or (found.start() == 0 and text[0] in "+−-"):
        return text.strip(), ()
    return text[: found.start()].strip(), tuple(re.findall(CHANGE, found[1]))


def symbol_width(text: str, size: float) -> float:
    """How wide a symbol is set, ``size`` being the root's em."""
    return _set(None, text, 0.0, 0.0, size)


def set_symbol(parent: etree._Element, text: str, x: float, y: float, size: float) -> float:
    """Set a symbol on the base line ``y``, its root's left edge at ``x``. Returns its width."""
    return _set(parent, text, x, y, size)


def _set(parent: etree._Element | None, text: str, x: float, y: float, size: float) -> float:
    symbol = taken_apart(text)
    if symbol is None:
        return _words(parent, text, x, y, size * SMALLER)
    at = x + _words(parent, symbol.root, x, y, size) + 0.03 * size
    at += _words(parent, symbol.quality, at, y - RAISED * size, size * SMALLER)
    if symbol.changes:
        at += _changes(parent, symbol.changes, at, y, size)
    if symbol.bass:
        at += _words(parent, "/", at, y, size)
        at += _words(parent, symbol.bass, at, y, size)
    return at - x


def _changes(
    parent: etree._Element | None, changes: tuple[str, ...], x: float, y: float, size: float
) -> float:
    """The alterations in brackets, from the lowest of the stack up."""
    small = size * SMALLER
    wide = max(words_width(change, small, STRONG) for change in changes)
    foot = y - RAISED * size + (0.2 * size if len(changes) > 1 else 0.0)
    bow, room = 0.14 * size, 0.04 * size
    if parent is not None:
        top = foot - (len(changes) - 1) * STACK * size - 0.8 * small
        for left, side in ((x + room, -1), (x + 2 * room + bow + wide, 1)):
            _bracket(
                parent, left + bow * (side < 0), side * bow, top, foot + 0.16 * small, size
            )
        for row, change in enumerate(reversed(changes)):
            set_words(
                parent,
                change,
                x + room + bow + room / 2,
                foot - row * STACK * size,
                small,
                STRONG,
            )
    return 2 * bow + 2 * room + wide + room


def _bracket(
    parent: etree._Element, x: float, bow: float, top: float, foot: float, size: float
) -> None:
    quarter = (foot - top) / 4
    path = f"M{x:.1f} {top:.1f} C{x + bow:.1f} {top + quarter:.1f} "
    path += f"{x + bow:.1f} {foot - quarter:.1f} {x:.1f} {foot:.1f}"
    element("path", parent, d=path, fill="none", stroke_width=0.05 * size)


def _words(parent: etree._Element | None, text: str, x: float, y: float, size: float) -> float:
    if parent is None:
        return words_width(text, size, STRONG)
    return set_words(parent, text, x, y, size, STRONG)
