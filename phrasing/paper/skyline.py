"""How far what is drawn reaches up and down along a line of music.

A skyline keeps, for narrow columns of the line, the outermost height that is taken. Heights
are measured outwards (upwards above a staff, downwards below it), so one class serves both.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from phrasing.paper.drawing import Box, Outline

COLUMN = 45.0
"""Width of a column in units of the engraving: a quarter of a staff space."""
WIDE = 9
"""A shape of more columns than this is taken column by column, as a slur or a beam needs it."""

LEVEL = 1e-6
"""Units by which a line that is level may be thicker than its stroke."""


@dataclass
class Skyline:
    """Heights taken outwards from ``base`` (y of a staff's outer line)."""

    base: float
    above: bool
    taken: dict[int, float] = field(default_factory=dict)

    def out(self, y: float) -> float:
        """How far outwards a height lies."""
        return self.base - y if self.above else y - self.base

    def add(self, box: Box, room: float = 0.0) -> None:
        """Take what a box covers, with ``room`` at either side."""
        height = self.out(box.top if self.above else box.bottom)
        for column in _columns(box.left - room, box.right + room):
            if height > self.taken.get(column, 0.0):
                self.taken[column] = height

    def reach(self, left: float, right: float) -> float:
        """The outermost height taken between two places."""
        return max((self.taken.get(column, 0.0) for column in _columns(left, right)), default=0)

    def move_for(self, box: Box, gap: float, room: float) -> float:
        """By how much (in y) a box has to move to stand ``gap`` outside of all under it."""
        wanted = self.reach(box.left - room, box.right + room) + gap
        inner = self.out(box.bottom if self.above else box.top)
        return (inner - wanted) if self.above else (wanted - inner)


def _columns(left: float, right: float) -> range:
    return range(math.floor(left / COLUMN), math.floor(right / COLUMN) + 1)


def slices(shape: Outline, whole: Box, column: float = COLUMN) -> Iterator[Box]:
    """A shape's box; a wide one that is not level (a beam, a slur, a wedge) as a row of narrow
    ones."""
    half = shape.stroke / 2 * shape.matrix[0]
    is_level = whole.bottom - whole.top <= 2 * half + LEVEL
    if is_level or whole.right - whole.left <= WIDE * column:
        yield whole
        return
    reach: dict[int, tuple[float, float]] = {}
    points = list(_points(shape))
    for (x1, y1), (x2, y2) in itertools.pairwise(points):
        steps = max(1, math.ceil(abs(x2 - x1) / column))
        for step in range(steps + 1):
            share = step / steps
            x, y = x1 + share * (x2 - x1), y1 + share * (y2 - y1)
            place = math.floor(x / column)
            low, high = reach.get(place, (y, y))
            reach[place] = (min(low, y - half), max(high, y + half))
    for place, (top, bottom) in reach.items():
        yield Box(place * column, top, (place + 0.999) * column, bottom)


def _points(shape: Outline) -> Iterator[tuple[float, float]]:
    """Points along an outline, close enough to follow its curves."""
    from fontTools.misc.bezierTools import segmentPointAtT
    from fontTools.pens.recordingPen import RecordingPen
    from fontTools.svgLib.path import parse_path

    pen = RecordingPen()
    parse_path(shape.path, pen)
    at = start = (0.0, 0.0)
    for name, points in pen.value:
        if name == "moveTo":
            at = start = points[0]
            yield shape.matrix.transformPoint(at)
        elif name == "lineTo":
            at = points[0]
            yield shape.matrix.transformPoint(at)
        elif name == "curveTo":
            curve = (at, *points)
            for step in range(1, 13):
                yield shape.matrix.transformPoint(segmentPointAtT(curve, step / 12))
            at = points[-1]
        elif name == "closePath":
            yield shape.matrix.transformPoint(start)
