"""The engraver's SVG made tidy: no nested pictures, styles or placeholders; words as runs.

Nested text spans become one ``text`` element a run, placed by the widths of the text fount;
what is set in the music fount becomes paths. Ids that nobody asked for are dropped.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from phrasing.paper.chordsigns import set_symbol
from phrasing.paper.drawing import SVG, XLINK, element, tag_of
from phrasing.paper.fonts import (
    ITALIC,
    MUSIC,
    PLAIN,
    ROMAN,
    SLANTED,
    STRONG,
    Style,
    music_glyph,
    text_width,
)
from phrasing.paper.lettering import draw_glyph, set_words, words_width

if TYPE_CHECKING:
    from lxml import etree


LETTERING: dict[str, tuple[Style, float]] = {
    "harm": (STRONG, 14.0),
    "tempo": (STRONG, 12.0),
    "reh": (STRONG, 12.0),
    "ending": (STRONG, 10.0),
    "mNum": (SLANTED, 10.0),
    "dir": (ITALIC, 11.0),
    "dynam": (ITALIC, 11.0),
    "verse": (ROMAN, 11.0),
    "label": (SLANTED, 11.0),
    "fing": (PLAIN, 10.0),
}
"""The cut and the size in points of the words in each of the engraver's groups."""
OTHER_WORDS = (ROMAN, 11.0)
WORD_SIZE = 405.0
"""The size that the engraver gives words, in units."""
FRAME, FRAME_LINE = 0.3, 0.08
"""Ems of room between a rehearsal mark and its frame, and the frame's width."""


READ_AS = {"\uea64": "♭", "\uea65": "♮", "\uea66": "♯"}
"""Figured-bass accidentals (SMuFL), which the engraver sets in words, and what they mean."""
NOTE_VALUES = {chr(code) for code in range(0xECA0, 0xECB8)}
"""Note values and dots of metronome marks (SMuFL)."""
NOTE_SIZE, NOTE_RAISED, NOTE_BEFORE = 0.8, 0.13, 0.25
"""How they are set: smaller than the engraver has them, raised to the base line, with room
before them (ems)."""
SIGN_TO_WORDS = 405 / 720
"""The size of the engraver's words to that of the signs in them."""


@dataclass(frozen=True)
class Run:
    """A piece of a line of words in one fount and size."""

    text: str
    music: bool
    size: float
    style: Style

    @property
    def before(self) -> float:
        """Room before a metronome's note value."""
        return NOTE_BEFORE * self.size if self.is_note_value else 0.0

    @property
    def is_note_value(self) -> bool:
        """Whether it is a note value of a metronome mark."""
        return self.music and all(sign in NOTE_VALUES for sign in self.text)

    @property
    def width(self) -> float:
        """How wide it is set."""
        if self.music:
            glyphs = sum(music_glyph(sign).advance for sign in self.text) * self.size / 1000
            return glyphs + self.before
        return words_width(self.text, self.size, self.style)


def tidied(page: etree._Element, wanted: Collection[str], point: float) -> list[etree._Element]:
    """The systems of one engraved page, tidy, with only the ids that are ``wanted``.

    ``point``: how many units of the engraving a point is.
    """
    systems = [g for g in page.iter(f"{{{SVG}}}g") if g.get("class") == "system"]
    for system in systems:
        _drop_placeholders(system)
        for note in system.iter(f"{{{SVG}}}g"):
            if note.get("class") == "note":
                _make_room_for_parenthesis(note)
        for text in list(system.iter(f"{{{SVG}}}text")):
            _set_as_runs(text, point)
        for node in list(system.iter("*")):
            _clean(node, wanted)
        _drop_empty(system)
    return systems


def add_number(system: etree._Element, numbers: Mapping[str, str], point: float) -> None:
    """Give a line the number of its first bar where the engraver gave a letter the place."""
    groups = (g for g in system.iter(f"{{{SVG}}}g") if g.get("class") == "measure")
    measure = next(groups, None)
    number = "" if measure is None else numbers.get(measure.get("id", ""), "")
    if measure is None or not number.isdecimal() or number == "0":
        return
    if any("mNum" in g.get("class", "").split() for g in measure.iter(f"{{{SVG}}}g")):
        return
    style, size = LETTERING["mNum"]
    group = element("g", measure, **{"class": "mNum"})
    top = next(float(d[2]) for d in _starts(measure))
    set_words(group, number, 0.0, top - size * point, size * point, style, anchor="middle")


def _starts(measure: etree._Element) -> Iterator[list[str]]:
    """Where the lines of a bar's staves begin, the top one first."""
    for path in measure.iter(f"{{{SVG}}}path"):
        if path.get("d", "").startswith("M"):
            yield ["", *path.get("d", "")[1:].replace(",", " ").split()]


def glyphs(page: etree._Element) -> dict[str, etree._Element]:
    """The page's glyph definitions by id."""
    return {
        group.get("id", ""): group for defs in page.iter(f"{{{SVG}}}defs") for group in defs
    }


def _drop_placeholders(system: etree._Element) -> None:
    for node in list(system.iter("*")):
        if "placeholder" in node.get("class", "").split():
            _remove(node)


def _make_room_for_parenthesis(note: etree._Element) -> None:
    """Move a note's accidental left by half of how far a parenthesis stands before its head.

    The engraver leaves the other half free already.
    """
    parts = {part.get("class"): part for part in note}
    head, sign = parts.get("notehead"), parts.get("accid")
    if head is None or sign is None or len(head) < 2:
        return
    lefts = [_across(use) for use in head]
    sign.set("transform", f"translate({(min(lefts) - lefts[0]) / 2:.0f}, 0)")


def _across(use: etree._Element) -> float:
    """The x to which a glyph is moved."""
    return float(use.get("transform", "translate(0,").partition("(")[2].partition(",")[0])


def _remove(node: etree._Element) -> None:
    parent = node.getparent()
    if parent is not None:
        node.tail = None
        parent.remove(node)


def _drop_empty(system: etree._Element) -> None:
    """Groups with nothing in them, from the inside out."""
    for node in reversed(list(system.iter(f"{{{SVG}}}g"))):
        if not len(node) and node is not system:
            _remove(node)


def _clean(node: etree._Element, wanted: Collection[str]) -> None:
    node.text = node.text if tag_of(node) == "text" else None
    node.tail = None
    own = node.attrib
    if own.get("id", "") not in wanted and "id" in own:
        del own["id"]
    if "fill-opacity" in own:
        del own["fill-opacity"]
        node.set("fill", "none")
    if XLINK in own:
        node.set("href", str(own.pop(XLINK)))
    if tag_of(node) in ("use", "polygon"):
        node.set("stroke", "none")


# Words


def _set_as_runs(text: etree._Element, point: float) -> None:
    """Put a group of runs in the place of one ``text`` element."""
    kind, start, size = _lettering(text)
    size *= point
    group = element("g")
    x, y = float(text.get("x", 0)), float(text.get("y", 0))
    runs = [_resized(run, size) for run in _spans(text, 0.0, start, kind == "dir")]
    if kind == "harm":
        set_symbol(group, "".join(run.text for run in runs), x, y, size)
    elif kind == "verse":
        _set_syllable(group, runs, x, y)
    else:
        _set_lines(group, runs, x, y, text.get("text-anchor", "start"))
    parent = text.getparent()
    assert parent is not None
    if kind == "reh":
        _frame(parent, runs, x, y, size, text.get("text-anchor", "start"))
    parent.replace(text, group)


def _resized(run: Run, size: float) -> Run:
    """A run in our size instead of the engraver's; dynamics keep theirs."""
    if not run.music:
        return replace(run, size=size)
    return replace(run, size=run.size * size / WORD_SIZE) if run.is_note_value else run


def _set_syllable(group: etree._Element, runs: list[Run], x: float, y: float) -> None:
    """A syllable in the middle of the room that the engraver gave it."""
    words = "".join(run.text for run in runs)
    for run in runs[:1]:
        given = text_width(words, run.size, ROMAN.spare)
        x += max(0.0, given - words_width(words, run.size, run.style)) / 2
        set_words(group, words, x, y, run.size, run.style)


def _set_lines(group: etree._Element, runs: list[Run], x: float, y: float, anchor: str) -> None:
    for line in _lines(runs):
        width = sum(run.width for run in line)
        at = x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
        for run in line:
            _set_run(group, run, at, y)
            at += run.width
        y += max((run.size for run in line), default=0.0) * 1.2


def _frame(
    parent: etree._Element, runs: list[Run], x: float, y: float, size: float, anchor: str
) -> None:
    """Our own frame around a rehearsal mark, in the place of the engraver's."""
    for rect in list(parent.iterchildren(f"{{{SVG}}}rect")):
        parent.remove(rect)
    width = sum(run.width for run in runs)
    left = x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] - FRAME * size
    right, top, foot = left + width + 2 * FRAME * size, y - 0.85 * size, y + 0.25 * size
    path = f"M{left:.0f} {top:.0f} L{right:.0f} {top:.0f} L{right:.0f} {foot:.0f} "
    path += f"L{left:.0f} {foot:.0f} Z"
    element("path", parent, d=path, fill="none", stroke_width=FRAME_LINE * size)


def _lines(runs: list[Run]) -> Iterator[list[Run]]:
    line: list[Run] = []
    for run in runs:
        if run.text == "\n":
            yield line
            line = []
        else:
            line.append(run)
    yield line


def _set_run(group: etree._Element, run: Run, x: float, y: float) -> None:
    if not run.music:
        set_words(group, run.text, x, y, run.size, run.style)
        return
    x += run.before
    y -= NOTE_RAISED * run.size if run.is_note_value else 0.0
    for sign in run.text:
        draw_glyph(group, sign, x, y, run.size)
        x += music_glyph(sign).advance * run.size / 1000


def _lettering(text: etree._Element) -> tuple[str, Style, float]:
    """The group that a text stands in, and its cut and size in points."""
    for node in text.iterancestors():
        for name in node.get("class", "").split():
            if name in LETTERING:
                return name, *LETTERING[name]
    return "", *OTHER_WORDS


def _spans(
    node: etree._Element, size: float, style: Style, free: bool, music: bool = False
) -> Iterator[Run]:
    """The runs under a text element or span; if ``free``, bold where the author says so."""
    size = float(node.get("font-size", str(size)).removesuffix("px"))
    if free and node.get("font-weight") == "bold":
        style = STRONG
    music = node.get("font-family") == MUSIC or (music and not node.get("font-family"))
    if music and node.text in READ_AS:
        yield Run(READ_AS[node.text], False, size * SIGN_TO_WORDS, style)
    elif node.text and (len(node) == 0 or node.text.strip()):
        is_note = music and all(sign in NOTE_VALUES for sign in node.text)
        yield Run(node.text, music, size * NOTE_SIZE if is_note else size, style)
    for child in node.iterchildren("*"):
        yield from _spans(child, size, style, free, music)
