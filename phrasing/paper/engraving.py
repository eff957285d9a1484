"""MusicXML engraved: one long tidy SVG of systems, and where its notes and bars lie.

One staff space is ``SPACE`` units of the SVG. Every note has its MusicXML ``id`` as the ``id``
of its group; bars are the groups of class "measure", systems those of class "system". All
signs are paths, and words are single runs, so that any program shows them alike.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from typing import TYPE_CHECKING, Any

from phrasing.errors import PhrasingError
from phrasing.paper.bending import bends_of, draw_bends
from phrasing.paper.breaking import BarShape, evenly
from phrasing.paper.cutting import keep_run
from phrasing.paper.drawing import SVG, Box, box_of, definitions, drawn, element, short
from phrasing.paper.fonts import MUSIC, engravers_data
from phrasing.paper.preparing import prepared
from phrasing.paper.settling import settle
from phrasing.paper.stacking import SPACE, stack, staff_lines
from phrasing.paper.tidying import WORD_SIZE, add_number, glyphs, tidied

if TYPE_CHECKING:
    from lxml import etree


__all__ = [
    "SPACE",
    "BarPlace",
    "Engraving",
    "NotePlace",
    "Score",
    "System",
    "engrave",
]

POINT = SPACE / (1.75 / 25.4 * 72)
"""Units to a point where nothing else is said: staves of 7 mm."""

ENGRAVER_SPACE = 18
"""The engraver's pixels to a staff space, at its usual size."""

TALLEST = 60_000
"""The most pixels its page may be high (it cuts them to the music)."""

OPTIONS: dict[str, Any] = {
    "inputFrom": "xml",
    "font": MUSIC,
    "smuflTextFont": "none",
    "xmlIdSeed": 1,
    "header": "none",
    "footer": "none",
    "adjustPageHeight": True,
    "pageHeight": TALLEST,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "svgFormatRaw": True,
    "svgRemoveXlink": True,
    "lyricSize": 4.5,
}
LEAST = 0.4
"""A last line with few bars is drawn out only if it fills so much of the width by itself."""
LYRICS = 11.0
"""The size of lyrics in points, which the engraver spaces notes by."""
BETWEEN = 2.0 * SPACE
"""Between the systems of one long picture."""


@dataclass(frozen=True)
class BarPlace:
    """A bar by its place in the score (from 0), and from where to where it goes."""

    index: int
    left: float
    right: float


@dataclass(frozen=True)
class System:
    """One line of music: its extents, its staff's top and bottom line, and its bars."""

    box: Box
    staff_top: float
    staff_bottom: float
    bars: tuple[BarPlace, ...]


@dataclass(frozen=True)
class NotePlace:
    """A notehead: the system it is in (from 0), its left and right edge, its height."""

    system: int
    left: float
    right: float
    y: float


@dataclass(frozen=True, eq=False)
class Engraving:
    """A melody engraved as one picture, its systems one below the other.

    ``root``: the tidy SVG; ``box``: what it shows, in its units; ``systems`` in order;
    ``notes``: where each note's head is, by id.
    """

    root: etree._Element
    box: Box
    systems: tuple[System, ...]
    notes: Mapping[str, NotePlace]

    @cached_property
    def svg(self) -> str:
        """The picture as text, for a page or a file."""
        from lxml import etree

        return etree.tostring(self.root, encoding="unicode")

    @property
    def groups(self) -> list[etree._Element]:
        """The SVG groups of the systems, in order."""
        return [g for g in self.root.iter(f"{{{SVG}}}g") if g.get("class") == "system"]


SPACES_OF = {"harmony": 0.7, "lyric": 0.7, "wedge": 1.2}
POINTS_OF = {"harmony": 14.0, "lyric": 13.0, "wedge": 0.0}
"""About what rows take of the height of a line: spaces, and points for their words."""


@dataclass(frozen=True, eq=False)
class Stacked:
    """A system put in order: its group, the path data of its glyphs, and their definitions."""

    group: etree._Element
    paths: Mapping[str, str]
    defs: Mapping[str, etree._Element]


@dataclass(frozen=True, eq=False)
class Score:
    """A score ready to be engraved in lines of any length.

    ``bars``: its bars as they are when nothing is drawn out; ``lead``: what clef and signature
    take of a line, in spaces.
    """

    root: etree._Element
    bars: tuple[BarShape, ...]
    lead: float

    @cached_property
    def staves(self) -> int:
        """How many staves a line has."""
        return len(self.root.findall("part"))

    @cached_property
    def rows(self) -> float:
        """About how much room rows over and under a line take beside their words, in spaces."""
        return sum(SPACES_OF[name] for name in self._has) + 6.0 * (self.staves - 1)

    @cached_property
    def words(self) -> float:
        """About how high their words are, in points."""
        return sum(POINTS_OF[name] for name in self._has)

    @cached_property
    def head(self) -> float:
        """About what tempo and swing take of the first line, in points."""
        return 16.0 if self.root.find(".//direction/*/metronome") is not None else 0.0

    @cached_property
    def _has(self) -> list[str]:
        return [name for name in SPACES_OF if self.root.find(f".//{name}") is not None]

    def engraved(
        self,
        lines: Sequence[int],
        width: float,
        *,
        point: float = POINT,
        stressed: Collection[str] = (),
    ) -> Engraving:
        """The score in lines of so many bars, each ``width`` spaces long.

        ``point``: units to a point, which words are measured in; ``stressed``: the ids of the
        notes that have the sign for stress.
        """
        return joined(self.stacked(lines, width, point, stressed), width * SPACE)

    def stacked(
        self, lines: Sequence[int], width: float, point: float, stressed: Collection[str]
    ) -> list[Stacked]:
        """The same as systems that are not yet joined."""
        full = len(lines) > 1 and 2 * lines[-1] > max(lines)
        pages = self._pages(lines, width, point, 0.0 if full else LEAST)
        bends = bends_of(self.root)
        return _stacked(pages, self._names, point, stressed, bends, self._numbers)

    def some_stacked(
        self, lines: Sequence[int], wanted: range, width: float, stressed: Collection[str]
    ) -> list[Stacked]:
        """Only some systems of lines of so many bars; their neighbours are engraved with them,
        for what goes from one into the next. The score is cut to these."""
        low, high = max(0, wanted.start - 1), min(len(lines), wanted.stop + 1)
        keep_run(self.root, sum(lines[:low]), sum(lines[:high]))
        full = len(lines) > 1 and 2 * lines[-1] > max(lines)
        pages = self._pages(lines[low:high], width, POINT, 0.0 if full else LEAST)
        kept = range(wanted.start - low, wanted.stop - low)
        bends = bends_of(self.root)
        return _stacked(pages, self._names, POINT, stressed, bends, self._numbers, kept)

    def _pages(
        self, lines: Sequence[int], width: float, point: float, least: float
    ) -> list[etree._Element]:
        """The engraver's pages, with these lines."""
        at = 0
        for line, measures in zip(lines, _starting(self.root, lines), strict=True):
            for measure in measures if at else ():
                measure.insert(0, measure.makeelement("print", {"new-system": "yes"}))
            at += line
        pages = _pages(self.root, "encoded", width, point, least)
        for print_ in list(self.root.iter("print")):
            print_.getparent().remove(print_)  # type: ignore[union-attr]
        return pages

    @property
    def _numbers(self) -> dict[str, str]:
        """The printed numbers of its bars but the first one, by their ids."""
        bars = self.root.iterfind("part[1]/measure")
        return {
            name: bar.get("number", "")
            for bar in bars
            if (name := bar.get("id", "")) != "bar-0"
        }

    @property
    def _names(self) -> set[str]:
        """The ids of its notes and bars."""
        return {n for e in self.root.iter("note", "measure") if (n := e.get("id"))}


def _starting(root: etree._Element, lines: Sequence[int]) -> Iterator[list[etree._Element]]:
    """The measures of all parts that begin each line."""
    parts = [list(part.iterfind("measure")) for part in root.iterfind("part")]
    at = 0
    for line in lines:
        yield [measures[at] for measures in parts if at < len(measures)]
        at += line


def without_breaks(musicxml: bytes) -> etree._Element:
    """A score ready to be broken into lines."""
    root = prepared(musicxml)
    for print_ in list(root.iter("print")):
        print_.getparent().remove(print_)  # type: ignore[union-attr]
    return root


def opened(musicxml: bytes) -> Score:
    """A MusicXML score, measured; ``PhrasingError`` where the engraver refuses it."""
    root = without_breaks(musicxml)
    (page,) = _pages(root, "none", 100.0, POINT)
    bars, lead = _measured_bars(page, root)
    return Score(root, bars, lead)


def engrave(
    musicxml: bytes,
    *,
    width: float = 110.0,
    bars_per_system: int | None = None,
    stressed: Collection[str] = (),
) -> Engraving:
    """Engrave a MusicXML score in systems ``width`` staff spaces wide.

    ``bars_per_system``: as many bars in each system where they fit, else half as many, and
    so on; None fills each system. ``stressed``: ids of the notes that get the sign for stress.
    Raises ``PhrasingError`` where the engraver refuses.
    """
    score = opened(musicxml)
    lines = evenly(score.bars, score.lead, width, bars_per_system)
    return score.engraved(lines, width, stressed=stressed)


def _pages(
    root: etree._Element, breaks: str, width: float, point: float, least: float = LEAST
) -> list[etree._Element]:
    """The engraver's pages as SVG trees."""
    import verovio
    from lxml import etree

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit(False)
    toolkit.setResourcePath(str(engravers_data()))
    lyrics = min(8.0, max(2.0, OPTIONS["lyricSize"] * LYRICS * point / WORD_SIZE))
    toolkit.setOptions(
        {
            **OPTIONS,
            "breaks": breaks,
            "pageWidth": round(width * ENGRAVER_SPACE),
            "lyricSize": lyrics,
            "minLastJustification": least,
        }
    )
    if not toolkit.loadData(etree.tostring(root, encoding="unicode")):
        raise PhrasingError("The score cannot be engraved: the engraver does not read it.")
    pages = range(1, toolkit.getPageCount() + 1)
    parser = etree.XMLParser(huge_tree=True)
    return [etree.fromstring(toolkit.renderToSVG(page).encode(), parser) for page in pages]


def _measured_bars(
    page: etree._Element, root: etree._Element
) -> tuple[tuple[BarShape, ...], float]:
    """The bars of a score engraved in one line, and what clef and signature take of it."""
    for words in list(page.iter(f"{{{SVG}}}text")):
        words.getparent().remove(words)  # type: ignore[union-attr]
    paths = definitions(page)
    measures = list(root.iterfind("part[1]/measure"))
    lead = 0.0
    bars: list[BarShape] = []
    for group in page.iter(f"{{{SVG}}}g"):
        name = group.get("id", "")
        if group.get("class") != "measure" or not name.startswith("bar-"):
            continue
        index = int(name[4:])
        lines = [line for staff in group for line in staff_lines(staff)]
        if not lines:
            raise PhrasingError("The score cannot be engraved: it has no bars.")
        left, right = min(line[0] for line in lines), max(line[1] for line in lines)
        if not bars:
            lead = _lead(group, paths, left)
        staves = [staff for staff in group if staff.get("class") == "staff"]
        box = _joined_box(staves, paths) or Box(left, lines[0][2], right, lines[-1][2])
        own = right - left - (0.0 if bars else lead)
        bars.append(
            BarShape(
                own / SPACE,
                (min(y for _, _, y in lines) - box.top) / SPACE,
                (box.bottom - max(y for _, _, y in lines)) / SPACE,
                ends=_ends_section(measures, index),
                pickup=measures[index].get("implicit") == "yes" and index == 0,
            )
        )
    return tuple(bars), lead / SPACE


def _joined_box(groups: Sequence[etree._Element], paths: Mapping[str, str]) -> Box | None:
    boxes = [box for group in groups if (box := box_of(drawn(group, paths)))]
    return reduce(Box.joined, boxes) if boxes else None


def _lead(measure: etree._Element, paths: Mapping[str, str], left: float) -> float:
    """What clef and signature take at the start of a line."""
    signs = [
        group
        for group in measure.iter(f"{{{SVG}}}g")
        if group.get("class") in ("clef", "keySig")
    ]
    box = _joined_box(signs, paths)
    return box.right - left + SPACE if box else 0.0


def _ends_section(measures: Sequence[etree._Element], index: int) -> bool:
    """Whether a bar ends with a double bar or a repeat, or a letter stands over the next."""
    lines = measures[index].iterfind("barline[@location='right']")
    if any(line.find("repeat") is not None or _is_double(line) for line in lines):
        return True
    if index + 1 == len(measures):
        return True
    after = measures[index + 1]
    opens = after.find("barline[@location='left']/repeat") is not None
    return opens or after.find("direction/direction-type/rehearsal") is not None


def _is_double(line: etree._Element) -> bool:
    return (line.findtext("bar-style") or "").strip() in ("light-light", "light-heavy")


def _stacked(
    pages: Sequence[etree._Element],
    names: Collection[str],
    point: float,
    stressed: Collection[str],
    bends: Mapping[str, str],
    numbers: Mapping[str, str],
    kept: range | None = None,
) -> list[Stacked]:
    """The systems of all pages (or those ``kept``), tidy and put in order.

    ``numbers`` of the bars but the first one, by their ids.
    """
    found = []
    for page in pages:
        paths = definitions(page)
        defs = glyphs(page)
        groups = tidied(page, names, point)
        for group in groups[kept.start : kept.stop] if kept else groups:
            draw_bends(group, paths, bends)
            add_number(group, numbers, point)
            stack(group, paths, stressed)
            found.append(Stacked(group, paths, defs))
    return found


def joined(systems_found: Sequence[Stacked], width: float) -> Engraving:
    """All systems in one picture, one below the other."""
    root = element("svg", version="1.1", overflow="visible")
    defs = element("defs", root)
    music = element("g", root, fill="currentColor", stroke="currentColor", stroke_width=0.0)
    taken: dict[str, etree._Element] = {}
    top = 0.0
    systems: list[System] = []
    notes: dict[str, NotePlace] = {}
    for found in systems_found:
        taken |= {name: glyph for name, glyph in found.defs.items() if name not in taken}
        music.append(found.group)
        settle(found.group)
        own = box_of(drawn(found.group, found.paths)) or Box(0.0, 0.0, 0.0, 0.0)
        top -= own.top
        system, heads = _measured(found.group, found.paths, top, len(systems))
        found.group.set("transform", f"translate(0, {short(top)})")
        systems.append(system)
        notes |= heads
        top = system.box.bottom + BETWEEN
    defs.extend(taken.values())
    for path in defs.iter(f"{{{SVG}}}path"):
        path.set("stroke", "none")
    bottom = max((system.box.bottom for system in systems), default=0.0)
    first = min((system.box.top for system in systems), default=0.0)
    left = min((system.box.left for system in systems), default=0.0)
    right = max((system.box.right for system in systems), default=width)
    whole = Box(min(left, 0.0), first, max(right, width), bottom)
    width, height = whole.right - whole.left, whole.bottom - whole.top
    root.set("viewBox", " ".join(short(edge) for edge in (whole.left, first, width, height)))
    return Engraving(root, whole, tuple(systems), notes)


def _measured(
    group: etree._Element, paths: Mapping[str, str], top: float, number: int
) -> tuple[System, dict[str, NotePlace]]:
    """A system's extents and its noteheads, moved down by ``top``."""
    box = box_of(drawn(group, paths)) or Box(0.0, 0.0, 0.0, 0.0)
    bars: list[BarPlace] = []
    notes: dict[str, NotePlace] = {}
    heights: list[float] = []
    for node in group.iter(f"{{{SVG}}}g"):
        name = node.get("id", "")
        if node.get("class") == "measure" and name.startswith("bar-"):
            lines = [line for staff in node for line in staff_lines(staff)]
            heights += [y for _, _, y in lines]
            left, right = min(line[0] for line in lines), max(line[1] for line in lines)
            bars.append(BarPlace(int(name[4:]), left, right))
        if node.get("class") == "note" and name:
            around = _head_box(node, paths)
            middle = (around.top + around.bottom) / 2 + top
            notes[name] = NotePlace(number, around.left, around.right, middle)
    if not heights:
        raise PhrasingError("The score cannot be engraved: it has no bars.")
    moved = Box(box.left, box.top + top, box.right, box.bottom + top)
    return System(moved, min(heights) + top, max(heights) + top, tuple(bars)), notes


def _head_box(note: etree._Element, paths: Mapping[str, str]) -> Box:
    """The extent of a note's head (with parentheses where it has them)."""
    heads = [part for part in note if part.get("class") == "notehead"]
    return box_of(drawn(heads[0] if heads else note, paths)) or Box(0.0, 0.0, 0.0, 0.0)
