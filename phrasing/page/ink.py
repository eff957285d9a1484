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
from phrasing.paper.fonts import Style
from phrasing.paper.settling import lower

if TYPE_CHECKING:
    from lxml import etree


MARKS = {"artic", "hairpin", "slur", "stress"}
"""The engraver's groups that hold what one version has and another has not."""
PARENTHESES = ("#E26A", "#E26B")
"""Signs in a notehead's group that belong to a mark (SMuFL accidental parentheses)."""
HANDED_DOWN = ("fill", "stroke", "stroke-width", "font-family", "font-size", "font-weight")
WORDS = re.compile(r"<text ([^>]*font-family=[^>]*)>([^<]*)</text>")
ATTRIBUTE = re.compile(r'([\w-]+)="([^"]*)"')
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
    text = etree.tostring(copy, encoding="unicode")
    return text.replace(f' xmlns="{SVG}"', "").replace(") scale(0.72, 0.72)", ")scale(.72)")


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

    >>> words_in(['<text font-family="Alegreya" font-weight="bold">late</text>'])
    {Style(bold=True, italic=False, signs=False, family='Alegreya'): 'late'}
    """
    said: dict[Style, str] = {}
    for attributes, text in WORDS.findall("".join(systems)):
        style = style_of(dict(ATTRIBUTE.findall(attributes)))
        said[style] = said.get(style, "") + unescape(text)
    return dict(sorted(said.items(), key=lambda item: item[0].name))


def inked(parent: etree._Element, drawn: Strokes) -> None:
    """Put strokes into a group, each note's in one of its own."""
    from lxml import etree

    for note, run in groupby(drawn, key=lambda stroke: stroke.note):
        text = "".join(stroke.markup for stroke in run)
        number = "" if note is None else f' data-note="{note}"'
        parent.append(etree.fromstring(f'<g xmlns="{SVG}"{number}>{text}</g>'))


def layer(parent: etree._Element, version: int, shown: int) -> etree._Element:
    """A group that is seen only while its version is heard."""
    names = "layer" if version == shown else "layer off"
    return element("g", parent, **{"class": names, "data-version": version})
