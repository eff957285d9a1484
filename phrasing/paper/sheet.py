"""The sheet to print: a page for a student, as PDF or SVG.

Three layouts: ``marked`` (the melody with its marks), ``facing`` (each line plain, and marked
right below it), and ``exercise`` (the plain melody with room for a pencil; the answer begins
a new page). Staves are 7 mm high, as parts usually are (common practice).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.files import write_whole
from phrasing.marking.marking import Marking
from phrasing.paper.annotating import annotated_score, own_part, part_name, written_above
from phrasing.paper.drawing import element, set_words, short
from phrasing.paper.engraving import SPACE, Engraving, System, engrave
from phrasing.paper.fonts import BOLD, ITALIC
from phrasing.paper.layout import (
    DECRESCENDO,
    MARGIN,
    MILLIMETRE,
    SIGNS,
    Block,
    Reason,
    drawn_page,
    fill_pages,
    legend,
    numbered_reasons,
    paper_size,
    printed_marks,
    reason_blocks,
    wrapped,
)
from phrasing.paper.musicxml import facing_score, new_score, note_ids
from phrasing.paper.pdf import pdf_of
from phrasing.score.instruments import Instrument
from phrasing.score.marks import UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.transposing import as_written, moved

if TYPE_CHECKING:
    from lxml import etree


@dataclass(frozen=True)
class Manuscript:
    """One part as MusicXML, without its marks and with them.

    ``ids``: each note's id in both; ``read``: the melody at the pitch it is written at, so
    many semitones above the sounding one; ``part``: the name to print.
    """

    plain: bytes
    marked: bytes
    ids: Sequence[str]
    read: Melody
    part: str
    written_above: int = 0


def manuscript(
    melody: Melody,
    marking: Marking,
    instrument: Instrument | None,
    swing: tuple[int, int] | None,
    source: Path | None = None,
) -> Manuscript:
    """The author's own part in ``source`` if the instrument reads it so, else a new one."""
    if source is not None:
        own = from_author(source, melody, marking, swing)
        if instrument is None or instrument.transposition == -own.written_above:
            return own
    return newly_written(melody, marking, instrument, swing)


def newly_written(
    melody: Melody,
    marking: Marking,
    instrument: Instrument | None,
    swing: tuple[int, int] | None,
) -> Manuscript:
    """The melody written down for an instrument, or as it sounds."""
    return Manuscript(
        plain=new_score(melody, instrument=instrument, swing=swing),
        marked=new_score(melody, marking, instrument=instrument, swing=swing),
        ids=note_ids(melody),
        read=as_written(melody, instrument) if instrument else melody,
        part=instrument.name
        if instrument
        else (melody.instrument or "").replace("-", " ").capitalize(),
        written_above=-instrument.transposition if instrument else 0,
    )


def from_author(
    source: Path, melody: Melody, marking: Marking, swing: tuple[int, int] | None
) -> Manuscript:
    """The melody's part of the MusicXML file that it was read from."""
    nothing = np.full(len(marking), UNMARKED)
    blank = replace(marking, mark=nothing, swell_rows=marking.swell_rows[:0])
    plain, marked = (
        own_part(annotated_score(source, melody, marks, swing=swing), melody.ids)
        for marks in (blank, marking)
    )
    move = written_above(plain)
    read = moved(melody, move)
    return Manuscript(plain, marked, melody.ids, read, part_name(plain), move.semitones)


Layout = Literal["marked", "facing", "exercise"]

STAFF_SPACE = 1.75 * MILLIMETRE
SCALE = STAFF_SPACE / SPACE
"""Points to a unit of the engraving."""
BARS = 4
"""Bars in a line where they fit, as on a lead sheet (common practice)."""

TITLE, PART, NUMBER = 20.0, 11.0, 8.0
"""Sizes of the title, the part's name and the numbers of the reasons."""
LINE_GAP, LINE_ROOM = 12.0, 10.0
"""Least distance between two lines of music, and what a page with room adds to it."""
PENCIL_GAP, PENCIL_ROOM = 26.0, 24.0
"""The same where marks are to be pencilled in."""

TASK = "Pencil the marks in; the answer is on the next page."
EVERY_SIGN = (*SIGNS, DECRESCENDO)


@dataclass(frozen=True)
class Paper:
    """The sheet's size and the width between its margins, in points."""

    size: tuple[float, float]

    @property
    def width(self) -> float:
        """From margin to margin."""
        return self.size[0] - 2 * MARGIN

    @property
    def height(self) -> float:
        """The same downwards."""
        return self.size[1] - 2 * MARGIN

    @property
    def spaces(self) -> float:
        """The width in staff spaces."""
        return self.width / STAFF_SPACE


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
    source: Path | None = None,
) -> tuple[Path, ...]:
    """Write the sheet: a PDF, or an SVG file a page (``name-2.svg``, ... from the second on).

    ``instrument`` gives key, clef and the name of the part; ``swing`` is the ratio to print,
    in whole numbers. ``reasons`` puts numbers under the notes and a list of why below.
    ``source``: the MusicXML file that the melody was read from, and not changed since; its
    part is printed as its author wrote it, with its repeats, unless ``instrument`` is written
    at another pitch.
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
    )
    if path.suffix.lower() == ".pdf":
        write_whole(path, pdf_of(pages, paper_size(paper), melody.title))
        return (path,)
    return _write_svgs(pages, path)


def _write_svgs(pages: Sequence[etree._Element], path: Path) -> tuple[Path, ...]:
    from lxml import etree

    later = [path.with_stem(f"{path.stem}-{n}") for n in range(2, len(pages) + 1)]
    for page, file in zip(pages, (path, *later), strict=True):
        write_whole(file, etree.tostring(page, xml_declaration=True, encoding="UTF-8"))
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
    source: Path | None = None,
) -> list[etree._Element]:
    """The sheet's pages as tidy SVG, in points; see ``write_sheet``."""
    sheet = Paper(paper_size(paper))
    music = manuscript(melody, marking, instrument, swing, source)
    marked = facing_score(music.plain, music.marked) if layout == "facing" else music.marked
    answer = engrave(marked, width=sheet.spaces, bars_per_system=BARS)
    told = numbered_reasons(music.read, marking) if reasons else []
    defs = list(answer.root[0])
    sections = [_answer_blocks(music, marking, answer, sheet, told, layout)]
    if layout == "exercise":
        task = engrave(music.plain, width=sheet.spaces, bars_per_system=BARS)
        known = {glyph.get("id") for glyph in defs}
        defs += [glyph for glyph in task.root[0] if glyph.get("id") not in known]
        sections.insert(0, _task_blocks(music, task, sheet))
    return _drawn(sections, sheet, defs, melody.title)


def _drawn(
    sections: Sequence[Sequence[Block]],
    sheet: Paper,
    defs: Sequence[etree._Element],
    title: str,
) -> list[etree._Element]:
    pages = fill_pages(sections, sheet.height)
    titled = [blocks[0] for blocks in sections]
    return [
        drawn_page(
            page,
            sheet.size,
            defs,
            head="" if page.blocks[0] in titled else title,
            foot=f"{number} / {len(pages)}" if len(pages) > 1 else "",
        )
        for number, page in enumerate(pages, 1)
    ]


def _task_blocks(music: Manuscript, task: Engraving, sheet: Paper) -> list[Block]:
    """The plain melody with room between its lines, and the marks there are."""
    return [
        *_header(music.read.title, music.part, TASK, sheet),
        *_systems(task, {}, PENCIL_GAP, PENCIL_ROOM),
        *legend(EVERY_SIGN, MARGIN, sheet.width, "The marks"),
    ]


def _answer_blocks(
    music: Manuscript,
    marking: Marking,
    engraving: Engraving,
    sheet: Paper,
    reasons: Sequence[Reason],
    layout: Layout,
) -> list[Block]:
    part = music.part
    if layout == "exercise":
        part = f"{part}: answer" if part else "Answer"
    return [
        *_header(music.read.title, part, "", sheet),
        *_systems(engraving, _numbers(music.ids, reasons), LINE_GAP, LINE_ROOM),
        *legend(printed_marks(marking), MARGIN, sheet.width, "Marks"),
        *reason_blocks(reasons, music.read, MARGIN, sheet.width),
    ]


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


def _header(title: str, part: str, note: str, sheet: Paper) -> list[Block]:
    """Title, the part's name at the left, a note at the right."""
    size = TITLE if len(wrapped(title, sheet.width, TITLE, BOLD)) < 3 else TITLE * 0.7
    lines = wrapped(title, sheet.width, size, BOLD)
    below = 18.0 if part or note else 4.0

    def draw(parent: etree._Element, top: float) -> None:
        for index, line in enumerate(lines):
            y = top + (index + 1) * size * 1.15 - 4
            set_words(parent, line, sheet.size[0] / 2, y, size, BOLD, anchor="middle")
        base = top + len(lines) * size * 1.15 + 11
        set_words(parent, part, MARGIN, base, PART, ITALIC)
        set_words(parent, note, sheet.size[0] - MARGIN, base, PART, ITALIC, anchor="end")

    return [Block(len(lines) * size * 1.15 + below, draw)]


def _systems(
    engraving: Engraving, numbers: Mapping[str, str], gap: float, room: float
) -> list[Block]:
    blocks = []
    for index, (system, group) in enumerate(
        zip(engraving.systems, engraving.groups, strict=True)
    ):
        row = [
            ((place.left + place.right) / 2, numbers[name])
            for name, place in engraving.notes.items()
            if place.system == index and name in numbers
        ]
        blocks.append(_system_block(system, group, row, gap, room))
    return blocks


def _system_block(
    system: System,
    group: etree._Element,
    numbers: Sequence[tuple[float, str]],
    gap: float,
    room: float,
) -> Block:
    """A line of music, with the numbers of its reasons in a row below."""
    music = (system.box.bottom - system.box.top) * SCALE
    height = music + (NUMBER + 4 if numbers else 0.0)

    def draw(parent: etree._Element, top: float) -> None:
        move = f"translate({short(MARGIN)}, {short(top)}) scale({SCALE:.6f})"
        outer = element("g", parent, transform=move)
        inner = element("g", outer, transform=f"translate(0, {short(-system.box.top)})")
        inner.append(deepcopy(group))
        for x, number in numbers:
            at = MARGIN + x * SCALE
            set_words(parent, number, at, top + music + NUMBER + 2, NUMBER, anchor="middle")

    return Block(height, draw, gap=gap, loose=room)
