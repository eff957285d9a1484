"""The score of the listening page: each system with its shape under it, as one picture.

A system is an SVG with, from back to front, its bars (to loop), a spot for each note (to
choose, and to light up while it sounds), the staff, and the picture of the shape.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phrasing.lesson import Lesson
from phrasing.marking.wording import bar_name, where
from phrasing.marks import MARK_NAMES, UNMARKED
from phrasing.melody import Melody
from phrasing.publishing.page.shape_picture import HEIGHT, Ruler, Scale, draw_shape
from phrasing.publishing.score.draft import drafted, note_ids
from phrasing.publishing.score.musicxml import new_score
from phrasing.publishing.sheet.engraving import SPACE, Engraving, System, engrave
from phrasing.publishing.sheet.vectors import SVG, element
from phrasing.versions import Version

if TYPE_CHECKING:
    from lxml import etree

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
class Sheet:
    """A version's score: by layout its systems as SVG; ``glyphs``: SVG definitions by id."""

    layouts: dict[str, list[str]]
    glyphs: dict[str, str]


def draw_sheet(
    lesson: Lesson, read: Melody, plain: Version, shaped: Version, scale: Scale
) -> Sheet:
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
    return Sheet(layouts, glyphs)


@dataclass(frozen=True)
class Piece:
    """A sounding written note: its name, its tick, and the note of the melody it belongs to."""

    name: str
    tick: int
    note: int


def _pieces(lesson: Lesson) -> list[Piece]:
    """The written notes in order; a note tied on has several."""
    melody = lesson.melody
    names = drafted(melody, None, lesson.instrument, None).names
    notes = {name: index for index, name in enumerate(note_ids(melody))}
    pieces, note = [], 0
    for tick, name in sorted(names.items()):
        note = notes.get(name, note)
        pieces.append(Piece(name, tick, note))
    return pieces


@dataclass(frozen=True, eq=False)
class _Drawing:
    """One sheet in one layout, while it is drawn."""

    melody: Melody
    plain: Version
    shaped: Version
    scale: Scale
    engraving: Engraving
    pieces: Sequence[Piece]

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

    def _label(self, piece: Piece) -> str:
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
