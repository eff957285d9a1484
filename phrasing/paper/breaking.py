"""Which bars stand on one line: chosen for the whole piece at once, as paragraphs are set.

Every way to break the piece into lines has a cost: for lines that have to be drawn out or
pressed together, for other numbers of bars than asked for, and for breaks inside a section or
a group of four bars. The cheapest is found by looking at each bar as the end of a line once
for every line that could end there, so the time grows with the number of bars.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

COMFORT = 1.2
"""How far notes stand apart on a comfortable line, to the engraver's closest."""
TIGHTEST = 0.92
"""Lines pressed together more than this only where a single bar is too wide."""
MOST = 12
"""The most bars a line may hold."""
CROWD = 6.0
"""How much more it costs to have far more bars on a line than on the others (by eye)."""
STRETCH, PRESS, COUNT, INSIDE, SECTION = 0.4, 8.0, 1.0, 0.5, 0.5
"""What it costs to draw a line out, to press it, to miss the number of bars, to break inside
a group (of four bars, half of it for two) and to begin a section inside a line; the first
three for squares of ratios' logarithms, all by eye."""


@dataclass(frozen=True)
class BarShape:
    """A bar as it is engraved when nothing is drawn out.

    ``width`` in spaces without clef and signature; ``up`` and ``down``: how far it reaches
    over and under the staff, in spaces; ``ends``: a section ends with it; ``pickup``: it is
    not counted.
    """

    width: float
    up: float = 0.0
    down: float = 0.0
    ends: bool = False
    pickup: bool = False


def broken(
    bars: Sequence[BarShape], lead: float, width: float, count: int
) -> tuple[list[int], float]:
    """How many bars each line has, and the mean cost of a line.

    ``lead``: what clef and signature take of each line; ``width`` of a line; ``count``: bars
    to a line as far as they fit.

    >>> broken([BarShape(20.0)] * 8, 5.0, 100.0, 4)[0]
    [4, 4]
    """
    places = _places(bars, halves=0.0 if count == 2 else 0.5)
    best: list[tuple[float, int]] = [(0.0, 0)] + [(math.inf, 0)] * len(bars)
    for end in range(1, len(bars) + 1):
        taken, counted, sections = lead, 0, -bars[end - 1].ends
        for start in range(end - 1, -1, -1):
            taken += bars[start].width
            counted += not bars[start].pickup
            sections += bars[start].ends
            if counted > MOST or (taken > width / TIGHTEST and start < end - 1):
                break
            cost = best[start][0] + _cost(width / taken, counted, count)
            cost += INSIDE * places[end - 1] + SECTION * sections
            if cost < best[end][0]:
                best[end] = (cost, start)
    lines: list[int] = []
    end = len(bars)
    while end:
        start = best[end][1]
        lines.insert(0, end - start)
        end = start
    return lines, best[-1][0] / max(1, len(lines))


def _cost(ratio: float, counted: int, count: int) -> float:
    away = math.log(ratio / COMFORT)
    missed = math.log(max(counted, 0.5) / count)
    crowd = 1 + CROWD * max(missed, 0.0) ** 2
    return (STRETCH if away > 0 else PRESS) * away**2 + COUNT * missed**2 * crowd


def _places(bars: Sequence[BarShape], halves: float) -> list[float]:
    """How badly a line may end after each bar: 0 at a section's or four bars' end, to 1.

    ``halves``: after two of four bars.
    """
    places, counted = [], 0
    for index, bar in enumerate(bars):
        counted += not bar.pickup
        last = index + 1 == len(bars)
        places.append(0.0 if bar.ends or last else (0.0, 1.0, halves, 1.0)[counted % 4])
        counted = 0 if bar.ends else counted
    return places


def evenly(bars: Sequence[BarShape], lead: float, width: float, count: int | None) -> list[int]:
    """Bars to each line where ``count`` is to be kept: that many, or half as many, and so on.

    None fills the lines as they come.
    """
    while count:
        lines = _in_counts(bars, count)
        if count == 1 or all(fits for fits in _fits(bars, lines, lead, width)):
            return lines
        count //= 2
    return broken(bars, lead, width, 4)[0]


def _in_counts(bars: Sequence[BarShape], count: int) -> list[int]:
    lines, full = [0], 0
    for bar in bars:
        if full == count:
            lines.append(0)
            full = 0
        lines[-1] += 1
        full += not bar.pickup
    return lines


def _fits(
    bars: Sequence[BarShape], lines: Sequence[int], lead: float, width: float
) -> list[bool]:
    at, fits = 0, []
    for line in lines:
        fits.append(lead + sum(bar.width for bar in bars[at : at + line]) <= width / TIGHTEST)
        at += line
    return fits
