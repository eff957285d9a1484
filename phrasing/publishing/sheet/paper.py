"""Pages of paper: blocks one below the other, a running head, page numbers.

All lengths are in points (1/72 inch).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from phrasing.errors import PhrasingError
from phrasing.publishing.sheet.fonts import ITALIC, ROMAN, Style
from phrasing.publishing.sheet.vectors import element, set_words, words_width

if TYPE_CHECKING:
    from lxml import etree

MILLIMETRE = 72 / 25.4
PAPERS = {"a4": (210 * MILLIMETRE, 297 * MILLIMETRE), "letter": (8.5 * 72, 11 * 72)}
"""Width and height: ISO 216 A4, and US letter (ANSI A)."""

MARGIN = 15 * MILLIMETRE
FOOT = 9.0
"""Size of the page number and the running head."""


@dataclass(frozen=True)
class Block:
    """Something ``height`` high that stays together, with room above it.

    ``draw`` puts it on a page, its top at the y given. ``gap`` is the least distance to what
    stands above on the same page; ``loose`` blocks (systems) take a share of the room left,
    up to so much each.
    ``with_next``: a heading that must not stand alone at the foot.
    """

    height: float
    draw: Callable[[etree._Element, float], None]
    gap: float = 0.0
    loose: float = 0.0
    with_next: bool = False


@dataclass
class Page:
    """A page that is being filled."""

    blocks: list[Block] = field(default_factory=list)

    def used(self) -> float:
        """How much of its height is taken."""
        gaps = sum(block.gap for block in self.blocks[1:])
        return gaps + sum(block.height for block in self.blocks)


def paper_size(name: str) -> tuple[float, float]:
    """Width and height of a paper; ``PhrasingError`` for one that is not known."""
    if name.lower() not in PAPERS:
        raise PhrasingError(f"There is no paper “{name}”; choose a4 or letter.")
    return PAPERS[name.lower()]


def fill_pages(sections: Iterable[Sequence[Block]], height: float) -> list[Page]:
    """The blocks on pages with ``height`` for them; each section begins a page."""
    pages: list[Page] = []
    for blocks in sections:
        pages.append(Page())
        for index, block in enumerate(blocks):
            needed = block.gap + block.height
            if block.with_next and index + 1 < len(blocks):
                needed += blocks[index + 1].gap + blocks[index + 1].height
            if pages[-1].blocks and pages[-1].used() + needed > height:
                pages.append(Page())
            pages[-1].blocks.append(block)
    return pages


def drawn_page(
    page: Page,
    size: tuple[float, float],
    defs: Sequence[etree._Element],
    head: str,
    foot: str,
) -> etree._Element:
    """One page as SVG."""
    from copy import deepcopy

    width, height = size
    root = element("svg", version="1.1", viewBox=f"0 0 {width:.3f} {height:.3f}", color="black")
    root.set("width", f"{width / MILLIMETRE:.2f}mm")
    root.set("height", f"{height / MILLIMETRE:.2f}mm")
    element("defs", root).extend(deepcopy(list(defs)))
    element("rect", root, width=width, height=height, fill="#ffffff", stroke="none")
    music = element("g", root, fill="currentColor", stroke="currentColor", stroke_width=0.0)
    share = _share_of_room(page, height - 2 * MARGIN)
    y = MARGIN
    for index, block in enumerate(page.blocks):
        y += (block.gap + share * block.loose) if index else 0.0
        block.draw(music, y)
        y += block.height
    set_words(music, head, MARGIN, MARGIN - 2 * FOOT, FOOT, ITALIC)
    base = height - MARGIN + 2 * FOOT
    set_words(music, foot, width / 2, base, FOOT, anchor="middle")
    return root


def _share_of_room(page: Page, height: float) -> float:
    """How much of the room that they may take the loose blocks of a page get, 0 to 1."""
    wanted = sum(block.loose for block in page.blocks[1:])
    return min(1.0, max(0.0, height - page.used()) / wanted) if wanted else 0.0


def wrapped(text: str, width: float, size: float, style: Style = ROMAN) -> list[str]:
    """The text in lines of at most ``width``; a word that is wider is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        for part in _cut(word, width, size, style):
            tried = f"{line} {part}".strip()
            if line and words_width(tried, size, style) > width:
                lines.append(line)
                tried = part
            line = tried
    return [*lines, line] if line else lines


def _cut(word: str, width: float, size: float, style: Style) -> list[str]:
    parts = [""]
    for sign in word:
        if parts[-1] and words_width(parts[-1] + sign, size, style) > width:
            parts.append("")
        parts[-1] += sign
    return parts
