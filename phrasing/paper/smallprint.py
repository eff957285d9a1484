"""The small print of a sheet: what its marks mean, and why each note has the one it has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phrasing.marking.explaining import swell_reasons, why
from phrasing.marking.marking import Marking
from phrasing.paper.drawing import element
from phrasing.paper.fonts import PLAIN, ROMAN, STRONG, Style, music_glyph
from phrasing.paper.lettering import draw_glyph, set_words, words_width
from phrasing.paper.pagination import Block
from phrasing.paper.stacking import star_path
from phrasing.score.marks import (
    DECRESCENDO,
    DECRESCENDO_MEANS,
    MARK_NAMES,
    MARKS,
    UNMARKED,
)
from phrasing.score.melody import Melody
from phrasing.score.words import bar_name

if TYPE_CHECKING:
    from lxml import etree


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


SMALL = 10.0
"""Size of the small print."""
LINE = 12.5
"""Its distance from line to line."""
HEADING = 11.0
COLUMN_GAP = 16.0
SIGN_WIDTH = 28.0
"""Room for a mark's sign before its name."""
SIGN_SIZE = 24.0
"""The em of the signs: a staff of this height."""
MIDDLE = 0.23
"""Ems of the small print by which the middle of its letters is over the base line."""

ACCENT, MARCATO, DOT, LINE_SIGN = "\ue4a0", "\ue4ac", "\ue4a2", "\ue4a4"
HEAD, OPENS, CLOSES = "\ue0a4", "\ue26a", "\ue26b"
SIGNS: dict[str, tuple[tuple[str, float], ...]] = {
    "marcato": ((MARCATO, 0.0),),
    "accent": ((ACCENT, 0.0),),
    "staccato": ((DOT, 0.0),),
    "clipped": ((ACCENT, 0.08), (DOT, -0.13)),
    "tenuto": ((LINE_SIGN, 0.0),),
    "stress": (),
    "ghost": ((OPENS, 0.0), (HEAD, 0.0), (CLOSES, 0.0)),
}
"""Each printed mark as signs of the music fount (SMuFL), and how far up they are in ems;
several on one height stand side by side. The sign for stress is our own."""


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
    """A block with the signs, names and meanings of these marks, read down two columns."""
    if not names:
        return []
    column = (width - COLUMN_GAP) / 2
    entries = [_entry(name, column) for name in names]
    first = entries[: -(-len(entries) // 2)]
    columns = [part for part in (first, entries[len(first) :]) if part]
    heights = [sum(len(lines) * LINE + 3 for _, lines in part) for part in columns]

    def draw(parent: etree._Element, top: float) -> None:
        _rule(parent, left, top, width)
        set_words(parent, heading, left, top + 14, HEADING, STRONG)
        for place, part in enumerate(columns):
            y = top + 19.0
            for name, lines in part:
                _draw_entry(parent, name, lines, left + place * (column + COLUMN_GAP), y + LINE)
                y += len(lines) * LINE + 3

    return [Block(19.0 + max(heights), draw, gap=14.0, at_foot=True)]


def _rule(parent: etree._Element, left: float, top: float, width: float) -> None:
    path = f"M{left:.2f} {top:.2f} L{left + width:.2f} {top:.2f}"
    element("path", parent, d=path, stroke_width=0.5)


def _entry(name: str, column: float) -> tuple[str, list[str]]:
    room = column - SIGN_WIDTH - words_width(f"{name}  ", SMALL, STRONG)
    return name, wrapped(meaning(name), room, SMALL, PLAIN)


def _draw_entry(
    parent: etree._Element, name: str, lines: Sequence[str], x: float, y: float
) -> None:
    draw_sign(parent, name, x + (SIGN_WIDTH - 8) / 2, y - MIDDLE * SMALL)
    at = x + SIGN_WIDTH
    set_words(parent, name, at, y, SMALL, STRONG)
    at += words_width(f"{name}  ", SMALL, STRONG)
    for index, line in enumerate(lines):
        set_words(parent, line, at, y + index * LINE, SMALL, PLAIN)


def draw_sign(parent: etree._Element, name: str, x: float, y: float) -> None:
    """Draw a mark as it stands at a note, its middle at (x, y)."""
    if name == DECRESCENDO:
        points = f"{x - 10:.2f},{y - 3:.2f} {x + 10:.2f},{y:.2f} {x - 10:.2f},{y + 3:.2f}"
        element("polyline", parent, points=points, fill="none", stroke_width=0.6)
    if name == "stress":
        element("path", parent, d=star_path(x, y, 3.8), stroke="none")
    signs = SIGNS.get(name, ())
    beside = len(signs) > 1 and signs[0][1] == signs[1][1]
    widths = [glyph_box(sign)[2] - glyph_box(sign)[0] for sign, _ in signs]
    at = x - (sum(widths) if beside else 0.0) * SIGN_SIZE / 2
    for (sign, up), width in zip(signs, widths, strict=True):
        across, foot, _right, top = glyph_box(sign)
        start = at if beside else x - width * SIGN_SIZE / 2
        base = y + ((foot + top) / 2 - up) * SIGN_SIZE
        draw_glyph(parent, sign, start - across * SIGN_SIZE, base, SIGN_SIZE)
        at += width * SIGN_SIZE


def glyph_box(sign: str) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of a sign of the music fount, in ems (y up)."""
    from fontTools.pens.boundsPen import BoundsPen
    from fontTools.svgLib.path import parse_path

    pen = BoundsPen(None)
    parse_path(music_glyph(sign).path, pen)
    left, bottom, right, top = pen.bounds or (0.0, 0.0, 0.0, 0.0)
    return left / 1000, bottom / 1000, right / 1000, top / 1000


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
    """The numbered sentences with the bars they hold for, one below the other."""
    if not reasons:
        return []
    rows = [_reason_row(reason, melody, left, width) for reason in reasons]
    return [_heading("Why", left, width), *rows]


def _heading(text: str, left: float, width: float) -> Block:
    def draw(parent: etree._Element, top: float) -> None:
        _rule(parent, left, top, width)
        set_words(parent, text, left, top + 14, HEADING, STRONG)

    return Block(19.0, draw, gap=12.0, with_next=True)


def _reason_row(reason: Reason, melody: Melody, left: float, width: float) -> Block:
    indent = words_width("000 ", SMALL, STRONG)
    text = f"{reason.text} ({_bars(melody, reason)})"
    lines = wrapped(text, width - indent, SMALL, PLAIN)

    def draw(parent: etree._Element, top: float) -> None:
        base = top + LINE - 3
        x = left + indent
        set_words(parent, str(reason.number), x - 6, base, SMALL, STRONG, anchor="end")
        for index, line in enumerate(lines):
            set_words(parent, line, x, base + index * LINE, SMALL, PLAIN)

    return Block(len(lines) * LINE + 1.0, draw)


def _bars(melody: Melody, reason: Reason) -> str:
    names = dict.fromkeys(bar_name(melody.bars[int(melody.bar_index[i])]) for i in reason.notes)
    numbers = [name.removeprefix("bar ") for name in names if name.startswith("bar ")]
    others = [name for name in names if not name.startswith("bar ")]
    bars = [("bars " if len(numbers) > 1 else "bar ") + ", ".join(numbers)] if numbers else []
    return ", ".join([*others, *bars])
