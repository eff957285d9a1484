"""The score of the listening page: each system with its shape under it, as one picture.

A system is an SVG with, from back to front, its bars (to loop), a spot for each note (to
choose, and to light up while it sounds), the staff, and the picture of the shape.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from phrasing.lesson.lesson import Lesson
from phrasing.lesson.versions import Version
from phrasing.paper.drawing import SVG, element
from phrasing.paper.engraving import SPACE, Engraving, System, engrave
from phrasing.paper.musicxml import new_score
from phrasing.paper.notes import drafted, note_ids
from phrasing.score.marks import MARK_NAMES, UNMARKED
from phrasing.score.melody import Floats, Melody
from phrasing.score.words import bar_name, where

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


LAYOUTS = {"wide": (110.0, 4), "narrow": (46.0, 2)}
"""For a screen or a sheet, and for a phone: width in staff spaces, bars to a system."""
GAP = 1.5 * SPACE
"""Between the staff's lowest sign and the picture's top."""
MARGIN = 0.8 * SPACE
"""Around each system."""
SPOT = 0.7 * SPACE
"""How far a note's spot goes beyond its head to each side."""
OVER, UNDER = 2.5 * SPACE, 2.5 * SPACE
"""How far a note's spot goes beyond the staff, or its head."""


@dataclass(frozen=True, eq=False)
class DrawnScore:
    """A version's score: by layout its systems as SVG; ``glyphs``: SVG definitions by id."""

    layouts: dict[str, list[str]]
    glyphs: dict[str, str]


def draw_sheet(
    lesson: Lesson, read: Melody, plain: Version, shaped: Version, scale: Scale
) -> DrawnScore:
    """The score with the marks and the shape of ``shaped``.

    ``read``: the melody as its player reads it, after which the notes are named.
    """
    from lxml import etree

    musicxml = new_score(lesson.melody, shaped.marking, instrument=lesson.instrument)
    pieces = _pieces(lesson)
    layouts: dict[str, list[str]] = {}
    glyphs: dict[str, str] = {}
    for name, (width, bars) in LAYOUTS.items():
        engraving = engrave(musicxml, width=width, bars_per_system=bars)
        defs = engraving.root.find(f"{{{SVG}}}defs")
        for glyph in () if defs is None else defs:
            glyphs[str(glyph.get("id"))] = etree.tostring(glyph, encoding="unicode")
        drawing = _Drawing(read, plain, shaped, scale, engraving, pieces)
        layouts[name] = [drawing.system(index) for index in range(len(engraving.systems))]
    return DrawnScore(layouts, glyphs)


@dataclass(frozen=True)
class InkedNote:
    """A sounding written note: its name, its tick, and the note of the melody it belongs to."""

    name: str
    tick: int
    note: int


def _pieces(lesson: Lesson) -> list[InkedNote]:
    """The written notes in order; a note tied on has several."""
    melody = lesson.melody
    names = drafted(melody, None, lesson.instrument, None).names
    notes = {name: index for index, name in enumerate(note_ids(melody))}
    pieces, note = [], 0
    for tick, name in sorted(names.items()):
        note = notes.get(name, note)
        pieces.append(InkedNote(name, tick, note))
    return pieces


@dataclass(frozen=True, eq=False)
class _Drawing:
    """One sheet in one layout, while it is drawn."""

    melody: Melody
    plain: Version
    shaped: Version
    scale: Scale
    engraving: Engraving
    pieces: Sequence[InkedNote]

    def system(self, index: int) -> str:
        """One system as SVG text."""
        from lxml import etree

        system = self.engraving.systems[index]
        lowest = max(system.box.bottom, system.staff_bottom + UNDER)
        floor = lowest + GAP + HEIGHT
        top = min(system.box.top, system.staff_top - OVER)
        root = self._root(system, top - MARGIN, floor + MARGIN)
        self._add_bars(root, system, top, floor)
        self._add_spots(root, system, index)
        staff = element("g", root, **{"class": "staff", "aria-hidden": "true"})
        staff.append(self._staff(index))
        shape = element("g", root, **{"class": "shape", "aria-hidden": "true"})
        ruler = self._ruler(system, index)
        draw_shape(shape, self.melody, self.plain, self.shaped, self.scale, ruler, floor)
        return etree.tostring(root, encoding="unicode")

    def _root(self, system: System, top: float, bottom: float) -> etree._Element:
        bars = [bar_name(self.melody.bars[place.index]) for place in system.bars]
        label = bars[0] if len(bars) == 1 else f"{bars[0]} to {bars[-1]}"
        box = self.engraving.box
        left, width = box.left - MARGIN, box.right - box.left + 2 * MARGIN
        view = f"{left:.0f} {top:.0f} {width:.0f} {bottom - top:.0f}"
        return element(
            "svg", None, viewBox=view, role="group", **{"aria-label": label, "class": "system"}
        )

    def _add_bars(self, root: etree._Element, system: System, top: float, floor: float) -> None:
        for place in system.bars:
            box = {"x": place.left, "width": place.right - place.left}
            tall = {"y": top, "height": floor - top}
            element("rect", root, **box, **tall, **{"class": "bar", "data-bar": place.index})

    def _add_spots(self, root: etree._Element, system: System, index: int) -> None:
        for piece in self.pieces:
            place = self.engraving.notes[piece.name]
            if place.system != index:
                continue
            top = min(system.staff_top - OVER, place.y - 1.5 * SPACE)
            bottom = max(system.staff_bottom + UNDER, place.y + 1.5 * SPACE)
            element(
                "rect",
                root,
                x=place.left - SPOT,
                y=top,
                width=place.right - place.left + 2 * SPOT,
                height=bottom - top,
                rx=SPOT,
                role="button",
                tabindex=-1,
                **{
                    "class": "spot",
                    "data-note": piece.note,
                    "aria-label": self._label(piece),
                    "aria-pressed": "false",
                },
            )

    def _label(self, piece: InkedNote) -> str:
        marking = self.shaped.marking
        code = UNMARKED if marking is None else int(marking.mark[piece.note])
        words = where(self.melody, piece.note)
        if piece.tick != self.melody.onset[piece.note]:
            words += ", tied on"
        return words if code == UNMARKED else f"{words}, {MARK_NAMES[code]}"

    def _staff(self, index: int) -> etree._Element:
        """The engraved system, its notes known by their numbers instead of their ids."""
        from lxml import etree

        group = etree.fromstring(etree.tostring(self.engraving.groups[index]))
        notes = {piece.name: piece.note for piece in self.pieces}
        for node in group.iter("*"):
            name = node.get("id", "")
            for own in {"id", "class"} & set(node.attrib):
                del node.attrib[own]
            if name in notes:
                node.set("data-note", str(notes[name]))
        group.attrib.update({"fill": "currentColor", "stroke": "currentColor"})
        group.set("stroke-width", "0")
        return group

    def _ruler(self, system: System, index: int) -> Ruler:
        """Where time lies: at the notes' heads and at the ends of the bars."""
        marks = [
            (bar.onset + bar.length, 0, place.right)
            for place in system.bars
            for bar in [self.melody.bars[place.index]]
        ]
        for piece in self.pieces:
            if (place := self.engraving.notes[piece.name]).system == index:
                marks.append((piece.tick, 1, place.left))
        start = self.melody.bars[system.bars[0].index].onset
        first = min((x for tick, kind, x in marks if kind), default=system.bars[0].left)
        marks = sorted([*marks, (start, 0, min(first, system.bars[0].right))])
        return Ruler([tick for tick, _, _ in marks], [x for _, _, x in marks])
