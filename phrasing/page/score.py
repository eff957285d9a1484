"""The score of the listening page: each system with its shape under it, as one picture.

A system is an SVG with, from back to front, its bars (to loop), a spot for each note (to
choose, and to light up while it sounds), the staff, and the picture of the shape.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from phrasing.lesson.lesson import Lesson
from phrasing.lesson.versions import Version
from phrasing.page.ink import glyph, glyph_name, inked, layer, layered, strokes, words_in
from phrasing.page.part import InkedNote, PlayersPart, players_part
from phrasing.paper.alike import engrave_alike, engrave_some
from phrasing.paper.drawing import SVG, element
from phrasing.paper.engraving import SPACE, Engraving, System
from phrasing.paper.fonts import Style
from phrasing.score.melody import Melody
from phrasing.score.meters import Floats
from phrasing.score.words import bar_name

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

    def holds(self, other: Scale) -> bool:
        """Whether all levels of another scale have their place on this one."""
        return self.low <= other.low and other.high <= self.high

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
    """One scale that holds every level of these versions.

    >>> from phrasing.lesson.versions import shaped_version
    >>> scale_for([shaped_version(lesson("C5:2 D5:2"))])
    Scale(low=-8.0, high=6.0)
    """
    levels: Floats = np.concatenate([version.shape.level for version in versions])
    low = min(BELOW, math.floor(levels.min(initial=0.0)))
    high = max(ABOVE, math.ceil(levels.max(initial=0.0)))
    return Scale(low - 2.0, float(high))


def draw_lane(
    parent: etree._Element,
    melody: Melody,
    version: Version,
    scale: Scale,
    ruler: Ruler,
    floor: float,
) -> None:
    """Draw the blocks of one version in one system, standing on ``floor`` (y, downwards)."""
    group = element("g", parent, **{"class": "front"})
    draw_blocks(group, melody, version, scale, ruler, floor)
    _draw_falls(parent, melody, version, scale, ruler, floor)


def draw_blocks(
    group: etree._Element,
    melody: Melody,
    version: Version,
    scale: Scale,
    ruler: Ruler,
    floor: float,
) -> None:
    """A block for each note: as high as its level, as wide as it sounds."""
    for note, left, right in _blocks(melody, version, ruler):
        up = scale.above_floor(float(version.shape.level[note]))
        top, bottom, start = round(floor - up), round(floor), round(left)
        width = round(right) - start
        place = {"x": start, "y": top, "width": width, "height": bottom - top}
        element("rect", group, **place, **{"data-note": note})


def draw_scale(parent: etree._Element, scale: Scale, right: float, floor: float) -> None:
    """Draw the lines of the scale from the left edge to ``right``, with their words."""
    group = element("g", parent, **{"class": "scale"})
    for level in range(-STEP * 10, STEP * 10 + 1, STEP):
        if not scale.low < level <= scale.high:
            continue
        y = floor - scale.above_floor(level)
        line = {"x1": 0, "x2": round(right), "y1": round(y), "y2": round(y)}
        element("line", group, **line, **{"class": "level" if level else "plain-level"})
        words = element("text", group, x=0, y=round(y - 0.25 * SPACE), font_size=WORDS)
        words.text = f"{level:+d} dB".replace("-", "−") if level else "plain"


def _blocks(
    melody: Melody, version: Version, ruler: Ruler
) -> Iterator[tuple[int, float, float]]:
    """The notes that are written in this system: index, left and right of what sounds there.

    How far a slurred note goes on into the next one is not shown over a break.
    """
    first, last = ruler.ticks[0], ruler.ticks[-1]
    for note, (onset, length) in enumerate(
        zip(melody.onset.tolist(), melody.length.tolist(), strict=True)
    ):
        until = onset + length * float(version.shape.gate[note])
        if onset < last and onset + length > first:
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


LAYOUTS = {"broad": (110.0, 4), "middle": (80.0, 3), "slim": (58.0, 2)}
"""For a screen or a sheet, for a tablet, and for a phone: width in staff spaces, bars to a
system."""
GAP = 1.5 * SPACE
"""Between the staff's lowest sign and the picture's top."""
MARGIN = 0.8 * SPACE
"""Around each system."""
SPOT = 0.7 * SPACE
"""How far a note's spot goes beyond its head to each side."""
OVER, UNDER = 2.5 * SPACE, 2.5 * SPACE
"""How far a note's spot goes beyond the staff, or its head."""


@dataclass(frozen=True)
class Frame:
    """How a layout is divided: ``lines``, the bars of each system; from ``left`` to ``right``
    every system is seen, with the levels of ``scale``."""

    lines: tuple[int, ...]
    left: float
    right: float
    scale: Scale


@dataclass(frozen=True, eq=False)
class DrawnScore:
    """A score in all its versions: its systems as SVG by layout.

    ``glyphs``: SVG definitions by id, which all systems need; ``credits``: who wrote it, a
    line each; ``frames``: how each layout is divided.
    """

    layouts: dict[str, list[str]]
    glyphs: dict[str, str]
    credits: tuple[str, ...] = ()
    frames: Mapping[str, Frame] = field(default_factory=dict)

    @property
    def words(self) -> dict[Style, str]:
        """What it says in each cut of the text founts."""
        return words_in(chain(*self.layouts.values()))


def draw_score(
    lesson: Lesson,
    read: Melody,
    versions: Sequence[Version],
    *,
    shown: int = 0,
    tempo: bool = True,
    only: str | None = None,
    part: PlayersPart | None = None,
) -> DrawnScore:
    """The score with a layer for the marks and the blocks of each version.

    ``read``: the melody as its player reads it, after which the notes are named; ``shown``:
    the version that is seen before a script changes it. ``tempo``: with the metronome mark;
    ``only``: one of the layouts alone; ``part``: the part in these versions, where it is there
    already.

    >>> from phrasing.lesson.versions import shaped_version
    >>> tune = lesson("C5:2 D5:2")
    >>> score = draw_score(tune, tune.melody, [shaped_version(tune)])
    >>> len(next(iter(score.layouts.values())))
    1
    """
    part = part or players_part(lesson, versions)
    layouts: dict[str, list[str]] = {}
    glyphs: dict[str, str] = {}
    frames: dict[str, Frame] = {}
    wanted = {only: LAYOUTS[only]} if only else LAYOUTS
    for name, (width, bars) in wanted.items():
        engravings = engrave_alike(
            part.scores, width=width, bars_per_system=bars, stressed=part.stressed
        )
        glyphs |= _glyphs(engravings)
        frames[name] = _frame(engravings, scale_for(versions))
        drawing = _Drawing(read, versions, shown, engravings, part.notes, tempo, frames[name])
        layouts[name] = [drawing.system(k) for k in range(len(engravings[0].systems))]
    return DrawnScore(layouts, dict(sorted(glyphs.items())), part.credits, frames)


def redraw_systems(
    part: PlayersPart,
    read: Melody,
    versions: Sequence[Version],
    layout: str,
    frame: Frame,
    wanted: range,
    *,
    shown: int = 0,
) -> tuple[list[str], dict[str, str]]:
    """Some systems of a layout again, and the glyphs that they need.

    ``part``: of these ``versions``; ``frame``: of the layout when all of it was drawn, which
    holds on; ``wanted``: the systems by their places. Else as ``draw_score``.
    """
    width, _ = LAYOUTS[layout]
    engravings = engrave_some(
        part.scores, frame.lines, wanted, width=width, stressed=part.stressed
    )
    drawing = _Drawing(read, versions, shown, engravings, part.notes, True, frame)
    systems = [drawing.system(k) for k in range(len(wanted))]
    return systems, dict(sorted(_glyphs(engravings).items()))


def _glyphs(engravings: Sequence[Engraving]) -> dict[str, str]:
    """The definitions of the signs that are drawn, by id."""
    found: dict[str, str] = {}
    for engraving in engravings:
        defs = engraving.root.find(f"{{{SVG}}}defs")
        for drawn in () if defs is None else defs:
            found[glyph_name(drawn.get("id", ""))] = glyph(drawn)
    return found


def _frame(engravings: Sequence[Engraving], scale: Scale) -> Frame:
    boxes = [engraving.box for engraving in engravings]
    lines = tuple(len(system.bars) for system in engravings[0].systems)
    return Frame(lines, min(box.left for box in boxes), max(box.right for box in boxes), scale)


def layouts(score: DrawnScore) -> str:
    """A score as HTML: every layout, of which a style shows the one that fits the window."""
    return "".join(
        f'<div class="layout {name}">{"".join(systems)}</div>'
        for name, systems in score.layouts.items()
    )


@dataclass(frozen=True)
class Extent:
    """How far a system reaches in all its versions, downwards from its staff's top line."""

    top: float
    floor: float


@dataclass(frozen=True, eq=False)
class _Drawing:
    """One score in one layout, while it is drawn; an engraving for each version.

    Every system is drawn with its staff's top line at 0, whatever stands over it in a version.
    """

    melody: Melody
    versions: Sequence[Version]
    shown: int
    engravings: Sequence[Engraving]
    pieces: Sequence[InkedNote]
    tempo: bool
    frame: Frame

    @property
    def first(self) -> Engraving:
        """The engraving after which notes and bars have their places."""
        return self.engravings[self.shown]

    def system(self, index: int) -> str:
        """One system as SVG text."""
        from lxml import etree

        system = self.first.systems[index]
        extent = self._extent(index)
        root = self._root(system, extent)
        self._add_bars(root, system, extent)
        self._add_spots(root, system, index)
        self._add_ink(root, index)
        self._add_lane(root, system, index, extent.floor)
        return etree.tostring(root, encoding="unicode")

    def _extent(self, index: int) -> Extent:
        systems = [engraving.systems[index] for engraving in self.engravings]
        top = min(min(s.box.top - s.staff_top, -OVER) for s in systems)
        lowest = max(
            max(s.box.bottom - s.staff_top, s.staff_bottom - s.staff_top + UNDER)
            for s in systems
        )
        return Extent(top, lowest + GAP + HEIGHT)

    def _root(self, system: System, extent: Extent) -> etree._Element:
        bars = [bar_name(self.melody.bars[place.index]) for place in system.bars]
        label = bars[0] if len(bars) == 1 else f"{bars[0]} to {bars[-1]}"
        left = self.frame.left - MARGIN
        width = self.frame.right + MARGIN - left
        height = extent.floor - extent.top + 2 * MARGIN
        view = f"{left:.0f} {extent.top - MARGIN:.0f} {width:.0f} {height:.0f}"
        return element(
            "svg", None, viewBox=view, role="group", **{"aria-label": label, "class": "system"}
        )

    def _add_bars(self, root: etree._Element, system: System, extent: Extent) -> None:
        for place in system.bars:
            box = {"x": place.left, "width": place.right - place.left}
            tall = {"y": extent.top, "height": extent.floor - extent.top}
            element("rect", root, **box, **tall, **{"class": "bar", "data-bar": place.index})

    def _add_spots(self, root: etree._Element, system: System, index: int) -> None:
        staff = system.staff_bottom - system.staff_top
        for piece in self.pieces:
            place = self.first.notes.get(piece.name)
            if place is None or place.system != index:
                continue
            head = place.y - system.staff_top
            top, bottom = min(-OVER, head - 1.5 * SPACE), max(staff + UNDER, head + 1.5 * SPACE)
            spot = element(
                "rect",
                root,
                x=round(place.left - SPOT),
                y=round(top),
                width=round(place.right - place.left + 2 * SPOT),
                height=round(bottom - top),
                **{"class": "spot", "data-note": piece.note},
            )
            if piece.tick != self.melody.onset[piece.note]:
                spot.set("data-tied", "")

    def _add_ink(self, root: etree._Element, index: int) -> None:
        """The staff: what all versions share, and a layer for each."""
        notes = {piece.name: piece.note for piece in self.pieces}
        drawn = [
            strokes(
                engraving.groups[index],
                engraving.systems[index].staff_top - _page_top(engraving.groups[index]),
                notes,
                tempo=self.tempo,
            )
            for engraving in self.engravings
        ]
        drawn = [
            each if version.marking else tuple(stroke for stroke in each if not stroke.mark)
            for version, each in zip(self.versions, drawn, strict=True)
        ]
        staff = element("g", root, **{"class": "staff", "aria-hidden": "true"})
        staff.attrib.update({"fill": "currentColor", "stroke": "currentColor"})
        staff.set("stroke-width", "0")
        common, own = layered(drawn, self.shown)
        inked(staff, common)
        for number, each in enumerate(own):
            inked(layer(staff, number, self.shown), each)

    def _add_lane(self, root: etree._Element, system: System, index: int, floor: float) -> None:
        """The blocks: the scale, the plain version, and a layer for each over it."""
        lane = element("g", root, **{"class": "lane", "aria-hidden": "true"})
        ruler = self._ruler(system, index)
        draw_scale(lane, self.frame.scale, ruler.xs[-1], floor)
        back = element("g", lane, **{"class": "back"})
        draw_blocks(back, self.melody, self.versions[0], self.frame.scale, ruler, floor)
        for number, version in enumerate(self.versions):
            group = layer(lane, number, self.shown)
            draw_lane(group, self.melody, version, self.frame.scale, ruler, floor)

    def _ruler(self, system: System, index: int) -> Ruler:
        """Where time lies: at the notes' heads and at the ends of the bars."""
        marks = [
            (bar.onset + bar.length, 0, place.right)
            for place in system.bars
            for bar in [self.melody.bars[place.index]]
        ]
        for piece in self.pieces:
            place = self.first.notes.get(piece.name)
            if place is not None and place.system == index:
                marks.append((piece.tick, 1, place.left))
        start = self.melody.bars[system.bars[0].index].onset
        first = min((x for tick, kind, x in marks if kind), default=system.bars[0].left)
        marks = sorted([*marks, (start, 0, min(first, system.bars[0].right))])
        return Ruler([tick for tick, _, _ in marks], [x for _, _, x in marks])


def _page_top(group: etree._Element) -> float:
    """Where an engraved system was put on its page (y)."""
    found = re.search(r"translate\(0, (-?[\d.]+)\)", group.get("transform", ""))
    return float(found[1]) if found else 0.0
