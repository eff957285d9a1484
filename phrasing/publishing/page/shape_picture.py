"""The shape of a line as a picture under its staff: how loud each note is, and how long.

Each note is a block that begins under its notehead. The block's height is the note's level in
dB, its width the part of the written length that sounds. Plain blocks are dashed outlines
behind, shaped ones are filled, in front; a slanting line over the blocks is a decrescendo.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from phrasing.melody import Melody
from phrasing.publishing.sheet.engraving import SPACE
from phrasing.publishing.sheet.vectors import element
from phrasing.tempo import Floats
from phrasing.versions import Version

if TYPE_CHECKING:
    from lxml import etree

HEIGHT = 7.0 * SPACE
"""Of a picture, in units of the engraving."""
ABOVE, BELOW = 6, -6
"""dB against plain that the scale reaches at least."""
STEP = 6
"""dB between the lines of the scale: twice or half the sound pressure."""
WORDS = 1.5 * SPACE
"""The size of the scale's words."""
LIFT = 0.5 * SPACE
"""How far the line of a decrescendo is above its blocks."""


@dataclass(frozen=True)
class Scale:
    """The levels that a picture shows, in dB against plain, from its floor to its top."""

    low: float
    high: float

    def above_floor(self, level: float) -> float:
        """How far above the floor a level is, in units of the engraving."""
        share = (level - self.low) / (self.high - self.low)
        return HEIGHT * min(1.0, max(0.02, share))


@dataclass(frozen=True)
class Ruler:
    """Where score time lies in one system: ``ticks`` ascending, and ``xs`` beside them.

    A bar line and the note behind it share a tick; the bar line comes first.
    """

    ticks: Sequence[int]
    xs: Sequence[float]

    def start(self, tick: int) -> float:
        """Where what begins at a tick begins: at its notehead."""
        at = bisect_left(self.ticks, tick)
        while at + 1 < len(self.ticks) and self.ticks[at + 1] == tick:
            at += 1
        return self.xs[min(at, len(self.xs) - 1)]

    def end(self, tick: float) -> float:
        """Where what ends at a tick ends: before a bar line."""
        at = min(bisect_left(self.ticks, tick), len(self.ticks) - 1)
        if at == 0 or self.ticks[at] <= tick:
            return self.xs[at]
        before, after = self.ticks[at - 1], self.ticks[at]
        share = (tick - before) / (after - before)
        return self.xs[at - 1] + share * (self.xs[at] - self.xs[at - 1])


def scale_for(versions: Sequence[Version]) -> Scale:
    """One scale that holds every level of these versions."""
    levels: Floats = np.concatenate([version.shape.level for version in versions])
    low = min(BELOW, math.floor(levels.min(initial=0.0)))
    high = max(ABOVE, math.ceil(levels.max(initial=0.0)))
    return Scale(low - 2.0, float(high))


def draw_shape(
    parent: etree._Element,
    melody: Melody,
    plain: Version,
    shaped: Version,
    scale: Scale,
    ruler: Ruler,
    floor: float,
) -> None:
    """Draw the picture of one system, standing on ``floor`` (y, downwards)."""
    _draw_scale(parent, scale, ruler.xs[-1], floor)
    for name, version in (("back", plain), ("front", shaped)):
        group = element("g", parent, **{"class": name})
        for note, left, right in _blocks(melody, version, ruler):
            up = scale.above_floor(float(version.shape.level[note]))
            place = {"x": left, "y": floor - up, "width": right - left, "height": up}
            element("rect", group, **place, **{"data-note": note})
    _draw_falls(parent, melody, shaped, scale, ruler, floor)


def _draw_scale(parent: etree._Element, scale: Scale, right: float, floor: float) -> None:
    group = element("g", parent, **{"class": "scale"})
    for level in range(-STEP * 10, STEP * 10 + 1, STEP):
        if not scale.low < level <= scale.high:
            continue
        y = floor - scale.above_floor(level)
        line = {"x1": 0.0, "x2": right, "y1": y, "y2": y}
        element("line", group, **line, **{"class": "level" if level else "plain-level"})
        words = element("text", group, x=0.0, y=y - 0.25 * SPACE, font_size=WORDS)
        words.text = f"{level:+d} dB".replace("-", "−") if level else "plain"


def _blocks(
    melody: Melody, version: Version, ruler: Ruler
) -> Iterator[tuple[int, float, float]]:
    """The notes that sound in this system: index, left and right."""
    first, last = ruler.ticks[0], ruler.ticks[-1]
    for note, (onset, length) in enumerate(
        zip(melody.onset.tolist(), melody.length.tolist(), strict=True)
    ):
        until = onset + length * float(version.shape.gate[note])
        if onset < last and until > first:
            yield note, ruler.start(max(onset, first)), ruler.end(min(until, last))


def _draw_falls(
    parent: etree._Element,
    melody: Melody,
    shaped: Version,
    scale: Scale,
    ruler: Ruler,
    floor: float,
) -> None:
    """The line over the blocks of each decrescendo, evenly down to its softest note."""
    level = shaped.shape.level
    for swell in shaped.marking.swells if shaped.marking else ():
        softest = swell.first + int(level[swell.first : swell.last + 1].argmin())
        falling = np.linspace(level[swell.first], level[softest], softest - swell.first + 1)
        tops = [
            (ruler.start(onset), scale.above_floor(float(falling[note - swell.first])))
            for note in range(swell.first, softest + 1)
            if ruler.ticks[0] <= (onset := int(melody.onset[note])) < ruler.ticks[-1]
        ]
        if len(tops) > 1:
            points = " ".join(f"{x:.0f},{floor - up - LIFT:.0f}" for x, up in tops)
            element("polyline", parent, points=points, **{"class": "fall"})
