"""MusicXML engraved: one long tidy SVG of systems, and where its notes and bars lie.

One staff space is ``SPACE`` units of the SVG. Every note has its MusicXML ``id`` as the ``id``
of its group; bars are the groups of class "measure", systems those of class "system". All
signs are paths, and words are single runs, so that any program shows them alike.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from phrasing.errors import PhrasingError
from phrasing.paper.drawing import SVG, Box, box_of, definitions, drawn, element, short
from phrasing.paper.fonts import MUSIC
from phrasing.paper.musicxml import swing_words
from phrasing.paper.notes import parsed
from phrasing.paper.tidying import glyphs, tidied

if TYPE_CHECKING:
    from lxml import etree


SPACE = 180.0
"""Units of the SVG to a staff space (the distance of two staff lines)."""

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
    "breaksSmartSb": 0.0,
}


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


def engrave(
    musicxml: bytes, *, width: float = 110.0, bars_per_system: int | None = None
) -> Engraving:
    """Engrave a MusicXML score in systems ``width`` staff spaces wide.

    ``bars_per_system``: as many bars in each system where they fit, else half as many, and
    so on; None fills each system. Raises ``PhrasingError`` where the engraver refuses.
    """
    tree = _numbered(musicxml)
    wanted = [n for e in tree.iter("note", "measure") if (n := e.get("id"))]
    tries = [bars_per_system] if bars_per_system else []
    while tries and tries[-1] > 1:
        tries.append(tries[-1] // 2)
    for count in (*tries, None):
        pages = _pages(tree, width, count)
        if count is None or _holds(pages, count, tree):
            break
    return _joined(pages, wanted, width * SPACE)


def _numbered(musicxml: bytes) -> etree._Element:
    """The score with an id for each bar of its first part, and without its own line breaks."""
    root = parsed(musicxml)
    for index, measure in enumerate(root.iterfind("part[1]/measure")):
        measure.set("id", f"bar-{index}")
    names = list(root.iter("part-name"))
    if len(names) == 1:
        names[0].set("print-object", "no")
    for swing in root.iterfind("part[1]//swing"):
        _say(swing)
    for words in root.iterfind(".//swing/../../direction-type/words"):
        words.set("halign", "left")
    for print_ in list(root.iter("print")):
        print_.attrib.pop("new-system", "")
        print_.attrib.pop("new-page", "")
    return root


def _say(swing: etree._Element) -> None:
    """Print the ratio of a swing of eighths for which its author wrote no words."""
    sound = swing.getparent()
    numbers = [swing.findtext(name, "1").strip() for name in ("first", "second")]
    if swing.findtext("swing-type", "eighth") != "eighth" or not _are_counts(numbers):
        return
    place = None if sound is None else sound.getparent()
    if sound is None or place is None or place.find("direction-type/words") is not None:
        return
    if place.tag != "direction":
        place = place.makeelement("direction", {"placement": "above"})
        sound.addprevious(place)
        place.append(sound)
    kind = place.makeelement("direction-type", {})
    place.insert(0, kind)
    words = place.makeelement("words", {})
    words.text = swing_words((int(numbers[0]), int(numbers[1])))
    kind.append(words)


def _are_counts(numbers: list[str]) -> bool:
    return all(number.isdecimal() and int(number) > 0 for number in numbers)


def _pages(root: etree._Element, width: float, count: int | None) -> list[etree._Element]:
    """The engraver's pages as SVG trees, with a line break after every ``count`` bars."""
    import verovio
    from lxml import etree

    broken = etree.fromstring(etree.tostring(root))
    if count:
        _break_lines(broken, count)
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {
            **OPTIONS,
            "breaks": "smart" if count else "auto",
            "pageWidth": round(width * ENGRAVER_SPACE),
        }
    )
    if not toolkit.loadData(etree.tostring(broken, encoding="unicode")):
        raise PhrasingError("The score cannot be engraved: the engraver does not read it.")
    pages = range(1, toolkit.getPageCount() + 1)
    parser = etree.XMLParser(huge_tree=True)
    return [etree.fromstring(toolkit.renderToSVG(page).encode(), parser) for page in pages]


def _break_lines(root: etree._Element, count: int) -> None:
    for part in root.iterfind("part"):
        full = 0
        for measure in part.iterfind("measure"):
            if full and full % count == 0 and measure.get("implicit") != "yes":
                measure.insert(0, measure.makeelement("print", {"new-system": "yes"}))
            full += measure.get("implicit") != "yes"


def _holds(pages: list[etree._Element], count: int, root: etree._Element) -> bool:
    """Whether every system but the last got its ``count`` bars (and a pickup)."""
    bars = [m.get("implicit") == "yes" for m in root.iterfind("part[1]/measure")]
    systems = [
        sum(g.get("class") == "measure" for g in system.iter(f"{{{SVG}}}g"))
        for page in pages
        for system in page.iter(f"{{{SVG}}}g")
        if system.get("class") == "system"
    ]
    full = sum(not pickup for pickup in bars)
    return len(systems) <= -(-full // count)


def _joined(pages: list[etree._Element], wanted: list[str], width: float) -> Engraving:
    """All systems of all pages in one picture."""
    root = element("svg", version="1.1", overflow="visible")
    defs = element("defs", root)
    music = element("g", root, fill="currentColor", stroke="currentColor", stroke_width=0.0)
    taken: dict[str, etree._Element] = {}
    top, names = 0.0, set(wanted)
    systems: list[System] = []
    notes: dict[str, NotePlace] = {}
    for page in pages:
        taken |= {name: glyph for name, glyph in glyphs(page).items() if name not in taken}
        paths = definitions(page)
        for group in tidied(page, names):
            music.append(group)
            system, heads = _measured(group, paths, top, len(systems))
            group.set("transform", f"translate(0, {short(top)})")
            systems.append(system)
            notes |= heads
        top += _page_height(page)
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


def _page_height(page: etree._Element) -> float:
    inner = page.find(f"{{{SVG}}}svg")
    assert inner is not None
    return float(inner.get("viewBox", "0 0 0 0").split()[3])


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
            lines = [line for staff in node for line in _staff_lines(staff)]
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


def _staff_lines(staff: etree._Element) -> list[tuple[float, float, float]]:
    """Left, right and height of the lines that a staff group begins with."""
    lines = []
    paths = staff.iterchildren(f"{{{SVG}}}path") if staff.get("class") == "staff" else ()
    for path in paths:
        numbers = path.get("d", "").replace("M", "").replace("L", "").split()
        x1, y1, x2, y2 = (float(number) for number in numbers)
        if y1 == y2:
            lines.append((x1, x2, y1))
    return lines
