"""The small print of a sheet: what its marks mean, and why each note has the one it has."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from phrasing.errors import PhrasingError
from phrasing.marking.explaining import swell_reasons, why
from phrasing.marking.marking import Marking
from phrasing.paper.drawing import draw_glyph, element, set_words, words_width
from phrasing.paper.fonts import BOLD, ITALIC, ROMAN, Style
from phrasing.score.marks import MARK_NAMES, MARKS, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.words import bar_name

if TYPE_CHECKING:
    from lxml import etree


MILLIMETRE = 72 / 25.4
PAPERS = {"a4": (210 * MILLIMETRE, 297 * MILLIMETRE), "letter": (8.5 * 72, 11 * 72)}
"""Width and height: ISO 216 A4, and US letter (ANSI A)."""

MARGIN = 15 * MILLIMETRE
FOOT = 9.0
"""Size of the page number and the running head."""


@dataclass(frozen=True)
class Block:
    """Something ``height`` high that stays together, with room above it.

    ``draw`` puts it on a page, its top at the y given. ``gap`` is the least distance to what
    stands above on the same page; ``loose`` blocks (systems) take a share of the room left,
    up to so much each.
    ``with_next``: a heading that must not stand alone at the foot.
    """

    height: float
    draw: Callable[[etree._Element, float], None]
    gap: float = 0.0
    loose: float = 0.0
    with_next: bool = False


@dataclass
class Page:
    """A page that is being filled."""

    blocks: list[Block] = field(default_factory=list)

    def used(self) -> float:
        """How much of its height is taken."""
        gaps = sum(block.gap for block in self.blocks[1:])
        return gaps + sum(block.height for block in self.blocks)


def paper_size(name: str) -> tuple[float, float]:
    """Width and height of a paper; ``PhrasingError`` for one that is not known."""
    if name.lower() not in PAPERS:
        raise PhrasingError(f"There is no paper “{name}”; choose a4 or letter.")
    return PAPERS[name.lower()]


def fill_pages(sections: Iterable[Sequence[Block]], height: float) -> list[Page]:
    """The blocks on pages with ``height`` for them; each section begins a page."""
    pages: list[Page] = []
    for blocks in sections:
        pages.append(Page())
        for index, block in enumerate(blocks):
            needed = block.gap + block.height
            if block.with_next and index + 1 < len(blocks):
                needed += blocks[index + 1].gap + blocks[index + 1].height
            if pages[-1].blocks and pages[-1].used() + needed > height:
                pages.append(Page())
            pages[-1].blocks.append(block)
    return pages


def drawn_page(
    page: Page,
    size: tuple[float, float],
    defs: Sequence[etree._Element],
    head: str,
    foot: str,
) -> etree._Element:
    """One page as SVG."""
    from copy import deepcopy

    width, height = size
    root = element("svg", version="1.1", viewBox=f"0 0 {width:.3f} {height:.3f}", color="black")
    root.set("width", f"{width / MILLIMETRE:.2f}mm")
    root.set("height", f"{height / MILLIMETRE:.2f}mm")
    element("defs", root).extend(deepcopy(list(defs)))
    element("rect", root, width=width, height=height, fill="#ffffff", stroke="none")
    music = element("g", root, fill="currentColor", stroke="currentColor", stroke_width=0.0)
    share = _share_of_room(page, height - 2 * MARGIN)
    y = MARGIN
    for index, block in enumerate(page.blocks):
        y += (block.gap + share * block.loose) if index else 0.0
        block.draw(music, y)
        y += block.height
    set_words(music, head, MARGIN, MARGIN - 2 * FOOT, FOOT, ITALIC)
    base = height - MARGIN + 2 * FOOT
    set_words(music, foot, width / 2, base, FOOT, anchor="middle")
    return root


def _share_of_room(page: Page, height: float) -> float:
    """How much of the room that they may take the loose blocks of a page get, 0 to 1."""
    wanted = sum(block.loose for block in page.blocks[1:])
    return min(1.0, max(0.0, height - page.used()) / wanted) if wanted else 0.0


def wrapped(text: str, width: float, size: float, style: Style = ROMAN) -> list[str]:
    """The text in lines of at most ``width``; a word that is wider is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        for part in _cut(word, width, size, style):
            tried = f"{line} {part}".strip()
            if line and words_width(tried, size, style) > width:
                lines.append(line)
                tried = part
            line = tried
    return [*lines, line] if line else lines


def _cut(word: str, width: float, size: float, style: Style) -> list[str]:
    parts = [""]
    for sign in word:
        if parts[-1] and words_width(parts[-1] + sign, size, style) > width:
            parts.append("")
        parts[-1] += sign
    return parts


SMALL = 8.0
"""Size of the small print."""
LINE = 10.5
"""Its distance from line to line."""
HEADING = 10.0
COLUMN_GAP = 14.0
SIGN_WIDTH = 26.0
"""Room for a mark's sign before its name."""
SIGN_SIZE = 24.0
"""The em of the signs: a staff of this height."""

ACCENT, MARCATO, DOT, LINE_SIGN = "\ue4a0", "\ue4ac", "\ue4a2", "\ue4a4"
HEAD, OPENS, CLOSES = "\ue0a4", "\ue26a", "\ue26b"
SIGNS: dict[str, tuple[tuple[str, float, float], ...]] = {
    "marcato": ((MARCATO, 0.3, 0.0),),
    "accent": ((ACCENT, 0.25, 0.1),),
    "staccato": ((DOT, 0.4, 0.1),),
    "clipped": ((ACCENT, 0.25, 0.14), (DOT, 0.36, -0.08)),
    "tenuto": ((LINE_SIGN, 0.3, 0.1),),
    "ghost": ((OPENS, 0.05, 0.2), (HEAD, 0.26, 0.2), (CLOSES, 0.64, 0.2)),
}
"""Each printed mark as signs of the music fount (SMuFL), right and up in ems."""

DECRESCENDO = "decrescendo"
DECRESCENDO_MEANS = "get softer from the first note under it to the last"


@dataclass(frozen=True)
class Reason:
    """A numbered sentence and the notes it explains (indices)."""

    number: int
    text: str
    notes: tuple[int, ...]


def printed_marks(marking: Marking) -> list[str]:
    """The marks that can be seen on a sheet of this marking, in the table's order."""
    used = {MARK_NAMES[code] for code in set(marking.mark.tolist()) if code != UNMARKED}
    names = [name for name in MARK_NAMES if name in used and name in SIGNS]
    return [*names, DECRESCENDO] if len(marking.swell_rows) else names


def meaning(name: str) -> str:
    """What a printed mark asks of the player."""
    sounds = {mark.name: mark.sound for mark in MARKS}
    return sounds.get(name, DECRESCENDO_MEANS)


# Legend


def legend(names: Sequence[str], left: float, width: float, heading: str) -> list[Block]:
    """A block with the signs, names and meanings of these marks, in two columns."""
    if not names:
        return []
    column = (width - COLUMN_GAP) / 2
    entries = [_entry(name, column) for name in names]
    rows = [entries[at : at + 2] for at in range(0, len(entries), 2)]
    heights = [max(len(lines) for _, lines in row) * LINE + 5 for row in rows]

    def draw(parent: etree._Element, top: float) -> None:
        _rule(parent, left, top, width)
        set_words(parent, heading, left, top + 14, HEADING, BOLD)
        y = top + 19.0
        for row, height in zip(rows, heights, strict=True):
            for place, (name, lines) in enumerate(row):
                _draw_entry(parent, name, lines, left + place * (column + COLUMN_GAP), y + LINE)
            y += height

    return [Block(19.0 + sum(heights), draw, gap=16.0)]


def _rule(parent: etree._Element, left: float, top: float, width: float) -> None:
    element(
        "path",
        parent,
        d=f"M{left:.2f} {top:.2f} L{left + width:.2f} {top:.2f}",
        stroke_width=0.5,
    )


def _entry(name: str, column: float) -> tuple[str, list[str]]:
    room = column - SIGN_WIDTH - words_width(f"{name}  ", SMALL, BOLD)
    return name, wrapped(meaning(name), room, SMALL)


def _draw_entry(
    parent: etree._Element, name: str, lines: Sequence[str], x: float, y: float
) -> None:
    draw_sign(parent, name, x, y)
    at = x + SIGN_WIDTH
    set_words(parent, name, at, y, SMALL, BOLD)
    at += words_width(f"{name}  ", SMALL, BOLD)
    for index, line in enumerate(lines):
        set_words(parent, line, at, y + index * LINE, SMALL)


def draw_sign(parent: etree._Element, name: str, x: float, y: float) -> None:
    """Draw a mark as it stands at a note, on a base line of words."""
    if name == DECRESCENDO:
        points = f"{x:.2f},{y - 6:.2f} {x + 20:.2f},{y - 3:.2f} {x:.2f},{y:.2f}"
        element("polyline", parent, points=points, fill="none", stroke_width=0.6)
    for sign, right, up in SIGNS.get(name, ()):
        draw_glyph(parent, sign, x + right * SIGN_SIZE, y - up * SIGN_SIZE, SIGN_SIZE)


# Reasons


def numbered_reasons(melody: Melody, marking: Marking) -> list[Reason]:
    """Every different reason with a number, in the order in which the notes come.

    Pitches are named as ``melody`` has them: give the written melody of a transposing
    instrument. What weaker rules would have done is left out.
    """
    said: dict[str, list[int]] = {}
    swells = dict(
        zip(marking.swell_rows[:, 0].tolist(), swell_reasons(melody, marking), strict=True)
    )
    for index, code in enumerate(marking.mark.tolist()):
        sentence = why(melody, marking, index) if code != UNMARKED else None
        if sentence:
            said.setdefault(_shortened(sentence.partition("; ")[0]), []).append(index)
        if index in swells:
            said.setdefault(_shortened(swells[index].partition(": ")[2]), []).append(index)
    return [
        Reason(number, text, tuple(notes))
        for number, (text, notes) in enumerate(said.items(), 1)
    ]


def _shortened(sentence: str) -> str:
    return sentence.replace(", because ", ": ", 1)


def reason_blocks(
    reasons: Sequence[Reason], melody: Melody, left: float, width: float
) -> list[Block]:
    """The numbered sentences with the bars they hold for, two in a row."""
    if not reasons:
        return []
    column = (width - COLUMN_GAP) / 2
    rows = [reasons[at : at + 2] for at in range(0, len(reasons), 2)]
    return [
        _heading("Why", left, width),
        *(_reason_row(row, melody, left, column) for row in rows),
    ]


def _heading(text: str, left: float, width: float) -> Block:
    def draw(parent: etree._Element, top: float) -> None:
        _rule(parent, left, top, width)
        set_words(parent, text, left, top + 14, HEADING, BOLD)

    return Block(19.0, draw, gap=16.0, with_next=True)


def _reason_row(row: Sequence[Reason], melody: Melody, left: float, column: float) -> Block:
    indent = words_width("000", SMALL, BOLD)
    texts = [
        wrapped(f"{reason.text} ({_bars(melody, reason)})", column - indent, SMALL)
        for reason in row
    ]

    def draw(parent: etree._Element, top: float) -> None:
        base = top + LINE - 2
        for place, (reason, lines) in enumerate(zip(row, texts, strict=True)):
            x = left + place * (column + COLUMN_GAP) + indent
            set_words(parent, str(reason.number), x - 5, base, SMALL, BOLD, anchor="end")
            for index, line in enumerate(lines):
                set_words(parent, line, x, base + index * LINE, SMALL)

    return Block(max(map(len, texts)) * LINE + 1.0, draw)


def _bars(melody: Melody, reason: Reason) -> str:
    names = dict.fromkeys(bar_name(melody.bars[int(melody.bar_index[i])]) for i in reason.notes)
    numbers = [name.removeprefix("bar ") for name in names if name.startswith("bar ")]
    others = [name for name in names if not name.startswith("bar ")]
    bars = [("bars " if len(numbers) > 1 else "bar ") + ", ".join(numbers)] if numbers else []
    return ", ".join([*others, *bars])
