"""The sheet to print: a page for a student, as PDF or SVG.

Three layouts: ``marked`` (the melody with its marks), ``facing`` (each line plain, and marked
right below it), and ``exercise`` (the plain melody with room for a pencil; the answer begins
a new page).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from phrasing.errors import PhrasingError
from phrasing.files import write_whole
from phrasing.marking.marking import Marking
from phrasing.paper.arranging import Around, Paper, arranged
from phrasing.paper.drawing import element, short
from phrasing.paper.engraving import Engraving, Score, System, opened
from phrasing.paper.fonts import BOLD, ITALIC, PLAIN, STRONG
from phrasing.paper.lettering import set_words, words_width
from phrasing.paper.manuscript import Manuscript, manuscript
from phrasing.paper.musicxml import facing_score
from phrasing.paper.original import Original
from phrasing.paper.outlining import outlined
from phrasing.paper.pagination import MARGIN, Block, Page, drawn_page, paper_size
from phrasing.paper.pdf import pdf_of
from phrasing.paper.smallprint import (
    SIGNS,
    Reason,
    legend,
    numbered_reasons,
    printed_marks,
    reason_blocks,
    wrapped,
)
from phrasing.score.instruments import Instrument
from phrasing.score.marks import DECRESCENDO
from phrasing.score.melody import Melody

if TYPE_CHECKING:
    from lxml import etree


Layout = Literal["marked", "facing", "exercise"]

TITLE, SMALLER_TITLE = 22.0, 17.0
"""Sizes of the title, and of one that takes more than two lines."""
PART, CREDIT, NUMBER = 12.0, 11.0, 10.0
"""Sizes of the part's name, of who wrote it, and of the numbers of the reasons."""
GAP, ROOM = 8.0, 42.0
"""Least distance between two lines of music, and what a page with room adds to it."""
PENCIL_GAP, PENCIL_ROOM = 10.0, 64.0
"""The same where marks are to be pencilled in."""

ONE_PAGE = 32
"""Printed bars that are to be on one page."""

TASK = "Pencil the marks in; the answer {}."
EVERY_SIGN = (*SIGNS, DECRESCENDO)


@dataclass(frozen=True)
class Head:
    """What stands over the music of a section: ``lines`` for a name and a date, or none."""

    title: str
    part: str
    credits: tuple[str, ...]
    note: str = ""
    lines: bool = False


def write_sheet(
    melody: Melody,
    marking: Marking,
    path: Path,
    *,
    instrument: Instrument | None = None,
    swing: tuple[int, int] | None = None,
    paper: str = "a4",
    layout: Layout = "marked",
    reasons: bool = False,
    source: Path | Original | None = None,
    slurs: bool = False,
) -> tuple[Path, ...]:
    """Write the sheet: a PDF, or an SVG file a page (``name-2.svg``, ... from the second on),
    with its words as outlines.

    ``instrument`` gives key, clef and the name of the part; ``swing`` is the ratio to print,
    in whole numbers. ``reasons`` puts numbers under the notes and a list of why below.
    ``source``: the MusicXML file that the melody was read from, and what was changed since; its
    part is printed as its author wrote it, with its repeats, at the pitch that ``instrument``
    reads. ``slurs``: print the slurs that are heard, too.
    Returns what was written. Raises ``PhrasingError`` for another ending than .pdf or .svg,
    for an unknown paper, and where nothing can be engraved.
    """
    if path.suffix.lower() not in (".pdf", ".svg"):
        raise PhrasingError(f"{path}: a sheet ends in .pdf or .svg.")
    pages = sheet_pages(
        melody,
        marking,
        instrument=instrument,
        swing=swing,
        paper=paper,
        layout=layout,
        reasons=reasons,
        source=source,
        slurs=slurs,
    )
    if path.suffix.lower() == ".pdf":
        write_whole(path, pdf_of(pages, paper_size(paper), melody.title))
        return (path,)
    return _write_svgs(pages, path)


def _write_svgs(pages: Sequence[etree._Element], path: Path) -> tuple[Path, ...]:
    from lxml import etree

    later = [path.with_stem(f"{path.stem}-{n}") for n in range(2, len(pages) + 1)]
    for page, file in zip(pages, (path, *later), strict=True):
        picture = outlined(page)
        write_whole(file, etree.tostring(picture, xml_declaration=True, encoding="UTF-8"))
    return (path, *later)


def sheet_pages(
    melody: Melody,
    marking: Marking,
    *,
    instrument: Instrument | None = None,
    swing: tuple[int, int] | None = None,
    paper: str = "a4",
    layout: Layout = "marked",
    reasons: bool = False,
    source: Path | Original | None = None,
    slurs: bool = False,
) -> list[etree._Element]:
    """The sheet's pages as tidy SVG, in points; see ``write_sheet``."""
    sheet = Paper(paper_size(paper))
    music = manuscript(melody, marking, instrument, swing, source, slurs=slurs)
    told = numbered_reasons(music.read, marking) if reasons else []
    answer = _answer(music, marking, sheet, told, layout)
    if layout != "exercise":
        return _drawn([answer], sheet, melody.title)
    return _drawn([_task(music, sheet), answer], sheet, melody.title)


Section = tuple[list[Page], Engraving]


def _drawn(sections: Sequence[Section], sheet: Paper, title: str) -> list[etree._Element]:
    count = sum(len(pages) for pages, _ in sections)
    drawn: list[etree._Element] = []
    for pages, engraving in sections:
        for index, page in enumerate(pages):
            foot = f"{len(drawn) + 1} / {count}" if count > 1 else ""
            head = title if index else ""
            drawn.append(drawn_page(page, sheet.size, list(engraving.root[0]), head, foot))
    return drawn


def _task(music: Manuscript, sheet: Paper) -> Section:
    """The plain melody with room between its lines, and the marks there are."""
    score = opened(music.plain)
    signs = legend(EVERY_SIGN, MARGIN, sheet.width, "The marks")

    def section(where: str) -> Section:
        head = Head(music.read.title, music.part, music.credits, TASK.format(where), True)
        around = Around(_header(head, sheet), signs, PENCIL_GAP, PENCIL_ROOM, page_cost=2.0)
        return _arranged(score, sheet, around, {}, ())

    made = section("is on the next page")
    if len(made[0]) > 1:
        return section(f"begins on page {len(made[0]) + 1}")
    return made


def _answer(
    music: Manuscript,
    marking: Marking,
    sheet: Paper,
    reasons: Sequence[Reason],
    layout: Layout,
) -> Section:
    part = music.part
    if layout == "exercise":
        part = f"{part}: answer" if part else "Answer"
    marked = facing_score(music.plain, music.marked) if layout == "facing" else music.marked
    head = Head(music.read.title, part, music.credits, lines=layout == "facing")
    after = [
        *legend(printed_marks(marking), MARGIN, sheet.width, "Marks"),
        *reason_blocks(reasons, music.read, MARGIN, sheet.width),
    ]
    row = NUMBER + 4 if reasons else 0.0
    score = opened(marked)
    one_page = 2.0 if layout == "exercise" or len(score.bars) <= ONE_PAGE else 1.0
    around = Around(_header(head, sheet), after, GAP, ROOM, row, one_page)
    return _arranged(
        score, sheet, around, _numbers(music.ids, reasons), music.stressed(marking)
    )


def _arranged(
    score: Score,
    sheet: Paper,
    around: Around,
    numbers: Mapping[str, str],
    stressed: Sequence[str],
) -> Section:
    def blocks(engraving: Engraving, scale: float) -> list[Block]:
        return _systems(engraving, scale, numbers, around)

    return arranged(score, sheet, around, blocks, stressed)


def _numbers(ids: Sequence[str], reasons: Sequence[Reason]) -> dict[str, str]:
    """The numbers to stand under each note, by its id; of a repeated note the first ones."""
    first: dict[str, int] = {}
    for index, name in enumerate(ids):
        first.setdefault(name, index)
    numbers: dict[str, list[str]] = {}
    for reason in reasons:
        for note in reason.notes:
            if first[ids[note]] == note:
                numbers.setdefault(ids[note], []).append(str(reason.number))
    return {name: ",".join(own) for name, own in numbers.items()}


# The head of a section


def _header(head: Head, sheet: Paper) -> list[Block]:
    """Title, the part's name at the left, who wrote it at the right, and what else is said."""
    size = TITLE
    if len(wrapped(head.title, sheet.width, TITLE, BOLD)) > 2:
        size = SMALLER_TITLE
    lines = wrapped(head.title, sheet.width, size, BOLD)
    rows = max(len(head.credits), 1 if head.part else 0)
    foot = len(lines) * size * 1.15 + rows * 15.0
    height = foot + (22.0 if head.lines or head.note else 0.0) + 4.0

    def draw(parent: etree._Element, top: float) -> None:
        right = sheet.size[0] - MARGIN
        for index, line in enumerate(lines):
            y = top + (index + 1) * size * 1.15 - 6
            set_words(parent, line, sheet.size[0] / 2, y, size, BOLD, anchor="middle")
        base = top + len(lines) * size * 1.15 + 10
        set_words(parent, head.part, MARGIN, base, PART, STRONG)
        for index, credit in enumerate(head.credits):
            set_words(parent, credit, right, base + index * 15, CREDIT, ITALIC, anchor="end")
        if head.note or head.lines:
            _task_line(parent, head, MARGIN, right, top + foot + 18)

    return [Block(height, draw, kind="head")]


def _task_line(
    parent: etree._Element, head: Head, left: float, right: float, base: float
) -> None:
    """What is to be done, and lines to write a name and a date on."""
    set_words(parent, head.note, left, base, CREDIT, ITALIC)
    if not head.lines:
        return
    at = right
    for label, room in (("Date", 70.0), ("Name", 150.0)):
        at -= room
        path = f"M{short(at)} {short(base + 2)} H{short(at + room)}"
        element("path", parent, d=path, stroke_width=0.6)
        at -= words_width(f"{label} ", CREDIT, PLAIN)
        set_words(parent, label, at, base, CREDIT, PLAIN)
        at -= 14.0


# Lines of music


def _systems(
    engraving: Engraving, scale: float, numbers: Mapping[str, str], around: Around
) -> list[Block]:
    rows: list[list[tuple[float, str]]] = [[] for _ in engraving.systems]
    for name, place in engraving.notes.items():
        if name in numbers:
            middle = (place.left + place.right) / 2 * scale
            rows[place.system].append((middle, numbers[name]))
    return [
        _system_block(system, group, _spread(row), scale, around)
        for system, group, row in zip(engraving.systems, engraving.groups, rows, strict=True)
    ]


def _spread(row: Sequence[tuple[float, str]]) -> list[tuple[float, int, str]]:
    """Numbers with their places, those that would touch the one before on the next row."""
    ends: list[float] = []
    placed = []
    for x, number in sorted(row):
        half = words_width(number, NUMBER, PLAIN) / 2
        free = (at for at, end in enumerate(ends) if end < x - half - 2)
        line = next(free, len(ends))
        ends[line : line + 1] = [x + half]
        placed.append((x, line, number))
    return placed


def _system_block(
    system: System,
    group: etree._Element,
    numbers: Sequence[tuple[float, int, str]],
    scale: float,
    around: Around,
) -> Block:
    """A line of music, with the numbers of its reasons in rows below."""
    music = (system.box.bottom - system.box.top) * scale
    rows = max((line for _, line, _ in numbers), default=-1) + 1

    def draw(parent: etree._Element, top: float) -> None:
        move = f"translate({short(MARGIN)}, {short(top)}) scale({scale:.6f})"
        outer = element("g", parent, transform=move)
        inner = element("g", outer, transform=f"translate(0, {short(-system.box.top)})")
        inner.append(deepcopy(group))
        for x, line, number in numbers:
            base = top + music + (NUMBER + 1) * (line + 1) + 1
            set_words(parent, number, MARGIN + x, base, NUMBER, PLAIN, anchor="middle")

    height = music + rows * (NUMBER + 1) + (3 if rows else 0)
    return Block(height, draw, around.gap, around.loose, kind="music")
