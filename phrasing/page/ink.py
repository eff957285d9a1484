"""One score in several versions: what all of them share is inked once, the rest in layers.

An engraved system is taken apart into strokes, each with the place that it has on the page and
the note that it belongs to. The marks are told from the rest: so nothing moves when a listener
switches, and only the marks come and go.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from functools import reduce
from html import unescape
from itertools import groupby
from typing import TYPE_CHECKING

from phrasing.paper.drawing import SVG, element, style_of, tag_of
from phrasing.paper.fonts import BOLD, ITALIC, PLAIN, ROMAN, SLANTED, STRONG, Style
from phrasing.paper.settling import lower

if TYPE_CHECKING:
    from lxml import etree


MARKS = {"artic", "hairpin", "slur", "stress"}
"""The engraver's groups that hold what one version has and another has not."""
PARENTHESES = ("#E26A", "#E26B")
"""Signs in a notehead's group that belong to a mark (SMuFL accidental parentheses)."""
HANDED_DOWN = ("fill", "stroke", "stroke-width", "font-family", "font-size", "font-weight")
CUTS = {
    "roman": ROMAN,
    "bold": BOLD,
    "italic": ITALIC,
    "plain": PLAIN,
    "strong": STRONG,
    "slanted": SLANTED,
}
"""The cuts that words of a score are set in, by the class that the page's style knows."""
WORDS = re.compile(r'<text [^>]*class="(\w+)"[^>]*>([^<]*)</text>')
LETTERING = ("font-family", "font-weight", "font-style", "lengthAdjust")
ROUNDED = ("x", "y", "x1", "x2", "y1", "y2", "font-size", "textLength")
USUAL = 0.72
"""The scale that most glyphs are drawn at: it stands in their definitions."""
PLACED = re.compile(r"translate\((-?[\d.]+),? (-?[\d.]+)\) ?scale\(0\.72, 0\.72\)")
LINE = re.compile(r'<path d="([^"]*)"( stroke-width="[\d.]+")?/>')
STRAIGHT = re.compile(r"M(\S+) (\S+) L(\S+) (\S+)")
Strokes = tuple["Stroke", ...]


@dataclass(frozen=True)
class Stroke:
    """One drawn thing as SVG text, and the note of the melody whose it is, if it is one's.

    ``mark``: it is a mark, or belongs to one.
    """

    note: int | None
    markup: str
    mark: bool = False


def strokes(
    group: etree._Element, lift: float, notes: Mapping[str, int], *, tempo: bool = True
) -> Strokes:
    """All that is drawn in an engraved system, moved up by ``lift``.

    ``notes``: the note of the melody for the ids of note groups. ``tempo``: the metronome mark
    too. The group's own place on its page is not regarded.
    """
    if not tempo:
        group = _without_tempo(group)
    return tuple(_inside(group, lift, notes, None, {}, False))


def _without_tempo(group: etree._Element) -> etree._Element:
    copy = deepcopy(group)
    for mark in [g for g in copy.iter(f"{{{SVG}}}g") if g.get("class") == "tempo"]:
        parent = mark.getparent()
        if parent is not None:
            parent.remove(mark)
    return copy


def _inside(
    group: etree._Element,
    lift: float,
    notes: Mapping[str, int],
    note: int | None,
    over: Mapping[str, str],
    mark: bool,
) -> Iterator[Stroke]:
    mark = mark or not MARKS.isdisjoint(group.get("class", "").split())
    note = notes.get(group.get("id", ""), note)
    own = {str(name): str(value) for name, value in group.items() if name in HANDED_DOWN}
    over = {**over, **own}
    for child in group.iterchildren("*"):
        if tag_of(child) == "g" and not child.get("transform"):
            yield from _inside(child, lift, notes, note, over, mark)
        else:
            yield Stroke(note, _written(child, lift, over), mark or _is_mark(child))


def _is_mark(drawn: etree._Element) -> bool:
    """Whether something that was not taken apart is a mark by itself."""
    classes = drawn.get("class", "").split()
    return not MARKS.isdisjoint(classes) or drawn.get("href", "").startswith(PARENTHESES)


def _written(drawn: etree._Element, lift: float, over: Mapping[str, str]) -> str:
    """One element as text, higher by ``lift``, with what its groups handed down to it."""
    from lxml import etree

    copy = etree.fromstring(etree.tostring(drawn))
    copy.tail = None
    for name in {"id", "class"} & set(copy.attrib):
        del copy.attrib[name]
    for name, value in over.items():
        if value not in ("currentColor", "0") and name not in copy.attrib:
            copy.set(name, value)
    if "stroke-width" not in copy.attrib:
        copy.set("stroke", "")
        del copy.attrib["stroke"]
    lower(copy, -lift)
    _shorten(copy)
    return etree.tostring(copy, encoding="unicode").replace(f' xmlns="{SVG}"', "")


def _shorten(drawn: etree._Element) -> None:
    """Say the same in fewer words: by classes, whole numbers, and what a glyph brings along."""
    if tag_of(drawn) == "text":
        style = style_of({str(name): str(value) for name, value in drawn.items()})
        known = next((name for name, cut in CUTS.items() if cut == style), None)
        for name in LETTERING if known else ():
            drawn.attrib.pop(name, "")
        if known:
            drawn.set("class", known)
    if tag_of(drawn) == "use":
        drawn.set("href", f"#{glyph_name(drawn.get('href', '')[1:])}")
        place = PLACED.fullmatch(drawn.get("transform", ""))
        if place:
            del drawn.attrib["transform"]
            drawn.attrib.update({"x": place[1], "y": place[2]})
        elif drawn.get("transform"):
            drawn.set("transform", f"{drawn.get('transform')} scale({1 / USUAL:.4f})")
    for name in ROUNDED:
        if name in drawn.attrib:
            drawn.set(name, f"{float(drawn.get(name, '0')):.0f}")


def glyph_name(name: str) -> str:
    """The name of a glyph's definition on a page: its SMuFL code alone.

    >>> glyph_name("E0A4-l19nj5e9")
    'E0A4'
    """
    return name.partition("-")[0]


def glyph(definition: etree._Element) -> str:
    """A glyph's definition as a page has it, at the usual scale."""
    from lxml import etree

    copy = deepcopy(definition)
    copy.set("id", glyph_name(copy.get("id", "")))
    copy.set("transform", f"scale({USUAL})")
    return etree.tostring(copy, encoding="unicode").replace(f' xmlns="{SVG}"', "")


def layered(versions: Sequence[Strokes], first: int = 0) -> tuple[Strokes, tuple[Strokes, ...]]:
    """What all versions share, and the marks that each has besides.

    All but the marks is inked as the version ``first`` has it: the notes are the same in every
    version, and where marks push them about by a hair they are to stay where they are.

    >>> note, tie = Stroke(0, "note"), Stroke(None, "tie")
    >>> accent, line = Stroke(0, "accent", True), Stroke(0, "line", True)
    >>> layered([(note, tie, line), (note, line, accent)])[0] == (note, tie, line)
    True
    >>> layered([(note, tie, line), (note, line, accent)])[1] == ((), (accent,))
    True
    """
    still = tuple(stroke for stroke in versions[first] if not stroke.mark)
    marks = [tuple(stroke for stroke in each if stroke.mark) for each in versions]
    shared = reduce(lambda one, other: one & other, map(Counter, marks))
    common = tuple(_taken(marks[first], Counter(shared), kept=True))
    own = tuple(tuple(_taken(each, Counter(shared), kept=False)) for each in marks)
    return (*still, *common), own


def _taken(drawn: Strokes, shared: Counter[Stroke], *, kept: bool) -> Iterator[Stroke]:
    """The strokes that are among the shared ones (or are not), each as often as it is there."""
    for stroke in drawn:
        among = shared[stroke] > 0
        shared[stroke] -= among
        if among == kept:
            yield stroke


def words_in(systems: Iterable[str]) -> dict[Style, str]:
    """What is said in drawn systems in each cut of the text founts, in a fixed order.

    >>> words_in(['<text class="bold" x="1">late</text>'])
    {Style(bold=True, italic=False, signs=False, family='Alegreya'): 'late'}
    """
    said: dict[Style, str] = {}
    for name, text in WORDS.findall("".join(systems)):
        said[CUTS[name]] = said.get(CUTS[name], "") + unescape(text)
    return dict(sorted(said.items(), key=lambda item: item[0].name))


def inked(parent: etree._Element, drawn: Strokes) -> None:
    """Put strokes into a group, each note's in one of its own."""
    from lxml import etree

    for note, run in groupby(drawn, key=lambda stroke: stroke.note):
        text = _drawn_together(stroke.markup for stroke in run)
        number = "" if note is None else f' data-note="{note}"'
        parent.append(etree.fromstring(f'<g xmlns="{SVG}"{number}>{text}</g>'))


def _drawn_together(markups: Iterable[str]) -> str:
    """Strokes as text, lines of one width that follow each other as one path."""
    text = ""
    for width, run in groupby(map(_line, markups), key=lambda line: line[0]):
        if width is None:
            text += "".join(markup for _, markup in run)
        else:
            text += f'<path d="{"".join(line for _, line in run)}"{width}/>'
    return text


def _line(markup: str) -> tuple[str | None, str]:
    """A straight line's width and path data; None and the markup for all else."""
    line = LINE.fullmatch(markup)
    straight = STRAIGHT.fullmatch(line[1]) if line else None
    if line is None or straight is None:
        return None, markup
    x, y, right, down = straight.groups()
    end = f"H{right}" if y == down else f"V{down}" if x == right else f"L{right} {down}"
    return line[2] or "", f"M{x} {y}{end}"


def layer(parent: etree._Element, version: int, shown: int) -> etree._Element:
    """A group that is seen only while its version is heard."""
    names = "layer" if version == shown else "layer off"
    return element("g", parent, **{"class": names, "data-version": version})
