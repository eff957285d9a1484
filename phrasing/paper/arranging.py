"""Size of the staves, bars to a line, room and pages, chosen together.

Every size of staff and number of bars to a line that players are used to is weighed with the
pages that it makes; the cheapest is engraved. Weights are by eye, on sheets of 1 to 500 bars.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from phrasing.paper.breaking import broken
from phrasing.paper.engraving import Engraving, Score
from phrasing.paper.pagination import MARGIN, MILLIMETRE, Block, Page, paged
from phrasing.paper.stacking import SPACE

USUAL = 7.0
"""Height of a staff in millimetres, as parts usually have it (common practice)."""
SIZES = (7.0, 6.5, 7.5, 6.0, 8.0, 5.5, 8.5)
"""The heights to choose from."""
LONG_SIZES = (7.0, 6.5, 6.0)
"""The same for more than ``LONG`` bars, which fill their pages in any case."""
LONG = 64
COUNTS = {4: 0.0, 3: 0.25, 2: 0.05, 5: 0.25, 6: 0.25, 8: 0.3}
"""Bars to a line, and what other numbers cost than four, as lead sheets have it (common
practice)."""
SIZE, LARGER, PAGE, LINES = 5.0, 3.0, 0.7, 1.0
"""What smaller and larger staves, another page, and the mean line cost."""
TRIES = 3
"""How many plans are engraved at most."""


@dataclass(frozen=True)
class Paper:
    """The sheet's size and the lengths between its margins, in points."""

    size: tuple[float, float]

    @property
    def width(self) -> float:
        """From margin to margin."""
        return self.size[0] - 2 * MARGIN

    @property
    def height(self) -> float:
        """The same downwards."""
        return self.size[1] - 2 * MARGIN


@dataclass(frozen=True)
class Around:
    """What stands before and after the music, and the room between its lines, in points.

    ``row``: what stands under each line; ``page_cost``: how much one page more is to be
    avoided, 1 being usual.
    """

    before: Sequence[Block]
    after: Sequence[Block]
    gap: float
    loose: float
    row: float = 0.0
    page_cost: float = 1.0


@dataclass(frozen=True)
class Plan:
    """A size of staff (millimetres) with its lines, and what it is reckoned to cost."""

    staff: float
    lines: tuple[int, ...]
    lines_cost: float
    cost: float

    @property
    def point(self) -> float:
        """Points to a staff space."""
        return self.staff / 4 * MILLIMETRE

    @property
    def scale(self) -> float:
        """Points to a unit of the engraving."""
        return self.point / SPACE


Blocks = Callable[[Engraving, float], list[Block]]
"""Makes blocks of an engraving's systems, given the points to a unit."""


def arranged(
    score: Score, sheet: Paper, around: Around, blocks: Blocks, stressed: Sequence[str]
) -> tuple[list[Page], Engraving]:
    """The pages that cost least, and the engraving on them.

    Once engraved, the lines say how much higher they are than reckoned; the plans are weighed
    again with that, until the cheapest is one that has been tried.
    """
    tried: dict[tuple[float, tuple[int, ...]], tuple[float, list[Page], Engraving]] = {}
    higher = 0.0
    for _ in range(TRIES):
        plan = min(_plans(score, sheet, around, higher), key=lambda plan: plan.cost)
        if (plan.staff, plan.lines) in tried:
            break
        width = sheet.width / plan.scale / SPACE
        made = score.engraved(plan.lines, width, point=1 / plan.scale, stressed=stressed)
        music = blocks(made, plan.scale)
        pages, cost = paged([*around.before, *music, *around.after], sheet.height)
        cost = _whole_cost(plan.staff, plan.lines_cost, cost, len(pages), around)
        tried[plan.staff, plan.lines] = (cost, pages, made)
        higher = _higher(music, _reckoned(score, plan.lines, plan.point, around, 0.0), plan)
    _, pages, made = min(tried.values(), key=lambda found: found[0])
    return pages, made


def _higher(music: Sequence[Block], reckoned: Sequence[Block], plan: Plan) -> float:
    """By how many spaces a line is higher than reckoned, on average."""
    more = sum(block.height for block in music) - sum(block.height for block in reckoned)
    return more / len(music) / plan.point if music else 0.0


def _plans(score: Score, sheet: Paper, around: Around, higher: float) -> Iterator[Plan]:
    """Every size and count, with what it is reckoned to cost."""
    long = len(score.bars) > LONG
    for staff in LONG_SIZES if long else SIZES:
        point = staff / 4 * MILLIMETRE
        for count, more in COUNTS.items():
            if long and count in (2, 8):
                continue
            lines, lines_cost = broken(score.bars, score.lead, sheet.width / point, count)
            music = _reckoned(score, lines, point, around, higher)
            pages, cost = paged([*around.before, *music, *around.after], sheet.height)
            cost = _whole_cost(staff, lines_cost + more, cost, len(pages), around)
            yield Plan(staff, tuple(lines), lines_cost + more, cost)


def _whole_cost(
    staff: float, lines: float, pages_cost: float, pages: int, around: Around
) -> float:
    size = (SIZE if staff < USUAL else LARGER) * math.log(staff / USUAL) ** 2
    turned = PAGE * around.page_cost * min(pages - 1, 2)
    return size + LINES * lines + pages_cost / pages + turned


def _reckoned(
    score: Score, lines: Sequence[int], point: float, around: Around, higher: float
) -> list[Block]:
    """Blocks as high as the lines will be by the bars in them, and so many spaces higher."""
    blocks, at = [], 0
    for line in lines:
        bars = score.bars[at : at + line]
        reach = max(bar.up for bar in bars) + max(bar.down for bar in bars)
        height = (score.staves * 4 + reach + score.rows + higher) * point + score.words
        if at == 0:
            height += score.head
        blocks.append(
            Block(height + around.row, _nothing, around.gap, around.loose, kind="music")
        )
        at += line
    return blocks


def _nothing(parent: object, top: float) -> None:
    """Draw nothing."""
