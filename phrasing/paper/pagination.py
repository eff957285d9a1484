"""Blocks set on pages: which ones together, and how the room between them is shared.

As paragraphs are broken into lines, all ways to break the blocks into pages are weighed at
once: a page that stays empty costs by the square of its emptiness, and one with a single line
of music, only a legend, or a sentence or two by itself costs so much that it is not made
unless nothing else is possible.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from phrasing.errors import PhrasingError
from phrasing.paper.drawing import element
from phrasing.paper.fonts import PLAIN, SLANTED
from phrasing.paper.lettering import set_words

if TYPE_CHECKING:
    from lxml import etree


MILLIMETRE = 72 / 25.4
PAPERS = {"a4": (210 * MILLIMETRE, 297 * MILLIMETRE), "letter": (8.5 * 72, 11 * 72)}
"""Width and height: ISO 216 A4, and US letter (ANSI A)."""

MARGIN = 15 * MILLIMETRE
FOOT = 10.0
"""Size of the page number and the running head."""

ALONE = 4.0
"""What a page costs that has one line of music, or no music and little else."""
FEW = 6
"""Fewer blocks of small print than this are little."""
EMPTY = 1.6
"""What a wholly empty page costs."""
DRAWN = 1.2
"""The same for the room that its blocks may take beyond their least."""


@dataclass(frozen=True)
class Block:
    """Something ``height`` high that stays together, with room above it.

    ``draw`` puts it on a page, its top at the y given. ``gap`` is the least distance to what
    stands above on the same page; ``loose``: how much more it may take of the room left.
    ``with_next``: a heading that must not stand alone at the foot. ``at_foot``: where room is
    left after all, it stands at the foot of the page, with what follows it.
    """

    height: float
    draw: Callable[[etree._Element, float], None]
    gap: float = 0.0
    loose: float = 0.0
    kind: Literal["head", "music", "print"] = "print"
    with_next: bool = False
    at_foot: bool = False


@dataclass(frozen=True)
class Page:
    """The blocks of a page."""

    blocks: tuple[Block, ...]

    @property
    def used(self) -> float:
        """How much of the height they need at least."""
        gaps = sum(block.gap for block in self.blocks[1:])
        return gaps + sum(block.height for block in self.blocks)

    @property
    def loose(self) -> float:
        """How much more they may take."""
        return sum(block.loose for block in self.blocks[1:])

    @property
    def has_head(self) -> bool:
        """Whether it is the first page."""
        return self.blocks[0].kind == "head"

    @property
    def music(self) -> int:
        """How many lines of music there are."""
        return sum(block.kind == "music" for block in self.blocks)


def paper_size(name: str) -> tuple[float, float]:
    """Width and height of a paper; ``PhrasingError`` for one that is not known."""
    if name.lower() not in PAPERS:
        raise PhrasingError(f"There is no paper “{name}”; choose a4 or letter.")
    return PAPERS[name.lower()]


def paged(blocks: Sequence[Block], height: float) -> tuple[list[Page], float]:
    """The blocks on pages with ``height`` for them, and what the way they stand costs."""
    best: list[tuple[float, int]] = [(0.0, 0)] + [(math.inf, 0)] * len(blocks)
    music = sum(block.kind == "music" for block in blocks)
    for end in range(1, len(blocks) + 1):
        for start in range(end - 1, -1, -1):
            page = Page(tuple(blocks[start:end]))
            if page.used > height and end - start > 1:
                break
            cost = best[start][0] + _cost(page, height, music, last=end == len(blocks))
            if cost < best[end][0]:
                best[end] = (cost, start)
    pages: list[Page] = []
    end = len(blocks)
    while end:
        start = best[end][1]
        pages.insert(0, Page(tuple(blocks[start:end])))
        end = start
    return pages, best[-1][0]


def _cost(page: Page, height: float, music: int, *, last: bool) -> float:
    """What a page costs; ``music``: how many lines of it there are in all."""
    left = max(0.0, height - page.used)
    empty = max(0.0, left - page.loose) / height
    cost = EMPTY * empty**2 * (0.6 if last and page.has_head else 1.2)
    cost += DRAWN * (left / height) ** 2
    if page.used > height:
        cost += 50.0 * (page.used / height - 1.0)
    if page.blocks[-1].with_next and not last:
        cost += 2 * ALONE
    if page.music == 1 and music > 1:
        cost += ALONE
    if page.music == 0 and len(page.blocks) < FEW and music:
        cost += ALONE
    return cost


def drawn_page(
    page: Page,
    size: tuple[float, float],
    defs: Sequence[etree._Element],
    head: str,
    foot: str,
) -> etree._Element:
    """One page as SVG."""
    width, height = size
    root = element("svg", version="1.1", viewBox=f"0 0 {width:.3f} {height:.3f}", color="black")
    root.set("width", f"{width / MILLIMETRE:.2f}mm")
    root.set("height", f"{height / MILLIMETRE:.2f}mm")
    element("defs", root).extend(deepcopy(list(defs)))
    element("rect", root, width=width, height=height, fill="#ffffff", stroke="none")
    music = element("g", root, fill="currentColor", stroke="currentColor", stroke_width=0.0)
    for block, top in zip(page.blocks, _tops(page, height - 2 * MARGIN), strict=True):
        block.draw(music, MARGIN + top)
    set_words(music, head, MARGIN, MARGIN - 1.5 * FOOT, FOOT, SLANTED)
    base = height - MARGIN + 2 * FOOT
    set_words(music, foot, width / 2, base, FOOT, PLAIN, anchor="middle")
    return root


def _tops(page: Page, height: float) -> list[float]:
    """Where each block begins, the room that is left shared out."""
    left = max(0.0, height - page.used)
    share = min(1.0, left / page.loose) if page.loose else 0.0
    rest = left - share * page.loose
    tops, y = [], 0.0
    for index, block in enumerate(page.blocks):
        y += (block.gap + share * block.loose) if index else 0.0
        if block.at_foot and index:
            y, rest = y + rest, 0.0
        tops.append(y)
        y += block.height
    return tops
