"""What stands over and under a staff put in order, so that nothing touches anything else.

From the staff outwards, above: articulations and ornaments, the sign for stress, tuplet
numbers, dynamics, the bar number, chord symbols on one base line, directions, endings,
rehearsal marks, tempo and swing. Below: articulations, tuplet numbers, dynamics and wedges,
directions, lyrics. Notes, beams, slurs and ties stay where the engraver put them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from phrasing.paper.drawing import SVG, Box, Outline, box_of, drawn, element, item_box, short
from phrasing.paper.joining import join, stretch
from phrasing.paper.skyline import Skyline, slices

if TYPE_CHECKING:
    from lxml import etree


SPACE = 180.0
"""Units of the engraving to a staff space (the distance of two staff lines)."""

MARKS = ("artic", "fermata", "trill", "turn", "mordent", "breath", "caesura", "fing")
TUPLETS = ("tupletNum", "tupletBracket")
LOUDNESS = ("dynam", "hairpin")
ON_TOP = ("harm", "tempo", "reh", "mNum", "voltaBracket")
MOVED = (*MARKS, *TUPLETS, *LOUDNESS, *ON_TOP, "dir", "verse", "stress")
"""Groups that are moved; whatever else is drawn stays, and the others make room for it."""


@dataclass(frozen=True)
class Row:
    """One row of things around a staff: which, how far from what is under them, and how.

    ``gap`` and ``room`` (to either side) in staff spaces. ``level``: all on one height;
    ``pushed``: only moved where they would touch something, and never inwards.
    """

    kinds: tuple[str, ...]
    gap: float
    room: float = 0.3
    level: bool = False
    pushed: bool = False


ABOVE = (
    Row(MARKS, 0.25, 0.0, pushed=True),
    Row(("stress",), 0.3, 0.0),
    Row(TUPLETS, 0.25, 0.0, pushed=True),
    Row(LOUDNESS, 0.5),
    Row(("mNum",), 0.5),
    Row(("harm",), 0.7, 0.4, level=True),
    Row(("dir",), 0.6, 0.4),
    Row(("voltaBracket",), 0.6, level=True),
    Row(("reh",), 0.6, 0.4),
    Row(("tempo",), 0.8, 0.4, level=True),
)
BELOW = (
    Row(MARKS, 0.25, 0.0, pushed=True),
    Row(TUPLETS, 0.25, 0.0, pushed=True),
    Row(LOUDNESS, 0.5),
    Row(("dir",), 0.6, 0.4),
    Row(("verse",), 0.7, 0.0, level=True),
    Row(("harm",), 0.7, 0.4, level=True),
)
STAVES_APART = 2.0
"""Least distance, in spaces, of what hangs from one staff and what stands on the next."""
CLOSE = 3.0 * SPACE
"""Dynamics and wedges nearer to each other than this stand on one height."""
TRIMMED = 0.4 * SPACE
"""Room between a dynamic and a wedge."""
STAR = 0.62 * SPACE
"""Half the height of the sign for stress: a star of six points, which is no articulation of
any tradition (it is ours; the legend explains it)."""


@dataclass
class Item:
    """Something that is placed: its group (or groups that stay together) and its box."""

    kind: str
    nodes: list[etree._Element]
    box: Box
    line: int = 0

    def move(self, dy: float) -> None:
        """Move it down by so much."""
        dy = round(dy)
        for node in self.nodes:
            shift(node, dy)
        box = self.box
        self.box = Box(box.left, box.top + dy, box.right, box.bottom + dy)


@dataclass
class Strip:
    """One staff of a system with all that belongs to it."""

    top: float
    bottom: float
    fixed: list[etree._Element] = field(default_factory=list)
    heads: list[Box] = field(default_factory=list)
    over: list[Item] = field(default_factory=list)
    under: list[Item] = field(default_factory=list)

    @property
    def middle(self) -> float:
        """The height of its middle line."""
        return (self.top + self.bottom) / 2


def shift(node: etree._Element, dy: float) -> None:
    """Move a group down, by whole units."""
    own = node.get("transform", "")
    node.set("transform", f"translate(0, {round(dy)}) {own}".strip())


def star_path(x: float, y: float, radius: float) -> str:
    """The sign for stress around a point, as SVG path data."""
    from math import cos, pi, sin

    points = []
    for corner in range(12):
        far = radius if corner % 2 == 0 else radius * 0.42
        angle = pi * corner / 6 - pi / 2
        points.append(f"{x + far * cos(angle):.1f} {y + far * sin(angle):.1f}")
    return f"M{' L'.join(points)} Z"


def stack(
    system: etree._Element, paths: Mapping[str, str], stressed: Collection[str] = ()
) -> None:
    """Put everything around the staves of one tidy system in order.

    ``paths``: the glyphs' path data by id; ``stressed``: ids of notes that get the sign for
    stress.
    """
    strips = strips_of(system, paths)
    if not strips:
        return
    _collect(system, paths, strips, set(stressed))
    lines = [_stacked(strip, paths) for strip in strips]
    _set_apart(system, strips, lines)


def staff_lines(staff: etree._Element) -> list[tuple[float, float, float]]:
    """Left, right and height of the lines that a staff group begins with."""
    lines = []
    paths = staff.iterchildren(f"{{{SVG}}}path") if staff.get("class") == "staff" else ()
    for path in paths:
        numbers = path.get("d", "").replace("M", "").replace("L", "").split()
        x1, y1, x2, y2 = (float(number) for number in numbers)
        if y1 == y2:
            lines.append((x1, x2, y1))
    return lines


def _measures(system: etree._Element) -> Iterator[etree._Element]:
    return (g for g in system.iter(f"{{{SVG}}}g") if g.get("class") == "measure")


def strips_of(system: etree._Element, paths: Mapping[str, str]) -> list[Strip]:
    """The staves of a system."""
    for measure in _measures(system):
        staves = [g for g in measure if g.get("class") == "staff"]
        heights = [[y for _, _, y in staff_lines(staff)] for staff in staves]
        return [Strip(min(own), max(own)) for own in heights if own]
    return []


# What there is


def _collect(
    system: etree._Element,
    paths: Mapping[str, str],
    strips: Sequence[Strip],
    stressed: set[str],
) -> None:
    for child in system:
        if child.get("class") == "measure":
            _collect_measure(child, paths, strips, stressed)
        elif child.get("class"):
            _collect_control(child, paths, strips)


def _collect_measure(
    measure: etree._Element,
    paths: Mapping[str, str],
    strips: Sequence[Strip],
    stressed: set[str],
) -> None:
    staves = [g for g in measure if g.get("class") == "staff"]
    for child in list(measure):
        if child.get("class") == "staff":
            strip = strips[min(staves.index(child), len(strips) - 1)]
            strip.heads += _heads(child, paths) if len(strips) > 1 else []
            _collect_staff(child, paths, strip)
            _add_stars(measure, child, paths, strip, stressed)
        elif child.get("class") != "barLine":
            _collect_control(child, paths, strips)


def _heads(staff: etree._Element, paths: Mapping[str, str]) -> list[Box]:
    groups = staff.iter(f"{{{SVG}}}g")
    return [_box(group, paths) for group in groups if group.get("class") == "notehead"]


def _collect_staff(staff: etree._Element, paths: Mapping[str, str], strip: Strip) -> None:
    strip.fixed.append(staff)
    for node in staff.iter(f"{{{SVG}}}g"):
        kind = kind_of(node)
        if kind and not any(kind_of(over) for over in node.iterancestors(f"{{{SVG}}}g")):
            _add(strip, Item(kind, [node], _box(node, paths)))


def _collect_control(
    node: etree._Element, paths: Mapping[str, str], strips: Sequence[Strip]
) -> None:
    kind = kind_of(node) or next(
        (kind_of(inner) for inner in node.iter() if kind_of(inner)), ""
    )
    box = box_of(drawn(node, paths))
    if box is None:
        return
    strip = _strip_of(kind, box, strips)
    if kind:
        _add(strip, Item(kind, [node], box))
    else:
        strip.fixed.append(node)


def _strip_of(kind: str, box: Box, strips: Sequence[Strip]) -> Strip:
    """The staff that something in a bar belongs to.

    What is moved belongs to the last staff over its middle, so that what stands between two
    belongs to the upper one; a slur or a tie to the staff that has the nearest note.
    """
    middle = (box.top + box.bottom) / 2
    if len(strips) > 1 and not kind and any(strip.heads for strip in strips):
        return min(strips, key=lambda strip: _nearest(strip, box))
    return next((strip for strip in reversed(strips) if strip.top < middle), strips[0])


def _nearest(strip: Strip, box: Box) -> float:
    """How far the nearest note of a staff under or over a box is from it."""
    beside = [
        h for h in strip.heads if h.right > box.left - SPACE and h.left < box.right + SPACE
    ]
    return min(
        (max(head.top - box.bottom, box.top - head.bottom, 0.0) for head in beside),
        default=float("inf"),
    )


def kind_of(node: etree._Element) -> str:
    """Which of the things that are moved a group is, if any."""
    for name in node.get("class", "").split():
        if name in MOVED:
            return name
    return ""


def _box(node: etree._Element, paths: Mapping[str, str]) -> Box:
    return box_of(drawn(node, paths)) or Box(0.0, 0.0, 0.0, 0.0)


def _add(strip: Strip, item: Item) -> None:
    above = (item.box.top + item.box.bottom) / 2 < strip.middle
    if item.kind == "verse":
        above = False
        item.line = _verse_line(item)
    (strip.over if above else strip.under).append(item)


def _verse_line(item: Item) -> int:
    """Which verse a syllable is of, by its place under its note."""
    node = item.nodes[0]
    parent = node.getparent()
    verses = [] if parent is None else [n for n in parent if n.get("class") == "verse"]
    return verses.index(node) if node in verses else 0


def _add_stars(
    measure: etree._Element,
    staff: etree._Element,
    paths: Mapping[str, str],
    strip: Strip,
    stressed: set[str],
) -> None:
    for note in staff.iter(f"{{{SVG}}}g"):
        if note.get("class") == "note" and note.get("id") in stressed:
            heads = [part for part in note if part.get("class") == "notehead"]
            box = _box(heads[0] if heads else note, paths)
            x = (box.left + box.right) / 2
            group = element("g", measure, **{"class": "stress"})
            element("path", group, d=star_path(x, strip.top - STAR, STAR), stroke="none")
            around = Box(x - STAR, strip.top - 2 * STAR, x + STAR, strip.top)
            strip.over.append(Item("stress", [group], around))


# Where it goes


def _stacked(strip: Strip, paths: Mapping[str, str]) -> tuple[Skyline, Skyline]:
    """Move the items of a staff; returns how far up and down everything reaches then."""
    up, down = Skyline(strip.top, True), Skyline(strip.bottom, False)
    moved = {node for item in (*strip.over, *strip.under) for node in item.nodes}
    around = {over for node in moved for over in node.iterancestors()}
    for node in strip.fixed:
        for box in _fixed_boxes(node, paths, moved, around, strip):
            up.add(box)
            down.add(box)
    for rows, items, line in ((ABOVE, strip.over, up), (BELOW, strip.under, down)):
        for row in rows:
            _place(row, [item for item in items if item.kind in row.kinds], line, paths)
    return up, down


def _fixed_boxes(
    node: etree._Element,
    paths: Mapping[str, str],
    moved: Collection[etree._Element],
    around: Collection[etree._Element],
    strip: Strip,
) -> Iterator[Box]:
    """Boxes of all that is drawn under a group, but for what is moved and what lies between a
    staff's outer lines."""
    if node in moved:
        return
    if node in around:
        for child in node:
            yield from _fixed_boxes(child, paths, moved, around, strip)
        return
    for item in drawn(node, paths):
        box = item_box(item)
        if box is None or (box.top >= strip.top and box.bottom <= strip.bottom):
            continue
        yield from slices(item, box) if isinstance(item, Outline) else (box,)


def _place(row: Row, items: Sequence[Item], line: Skyline, paths: Mapping[str, str]) -> None:
    gap, room = row.gap * SPACE, row.room * SPACE
    for run in _runs(row, items, line):
        moves = [line.move_for(item.box, gap, room) for item in run]
        outwards = min(moves) if line.above else max(moves)
        if row.pushed:
            outwards = min(outwards, 0.0) if line.above else max(outwards, 0.0)
        for item in run:
            item.move(outwards)
        for item in run:
            _take(item, line, paths)


def _take(item: Item, line: Skyline, paths: Mapping[str, str]) -> None:
    for node in item.nodes:
        for part in drawn(node, paths):
            box = item_box(part)
            if box is not None:
                for piece in slices(part, box) if isinstance(part, Outline) else (box,):
                    line.add(piece)


def _runs(row: Row, items: Sequence[Item], line: Skyline) -> Iterable[list[Item]]:
    """Which items move together, innermost first."""
    if row.level:
        in_order = sorted(items, key=lambda item: item.line)
        lines = [list(run) for _, run in groupby(in_order, key=lambda item: item.line)]
        return [layer for run in lines for layer in _layers(run)]
    if row.kinds == LOUDNESS:
        return _neighbours(items)
    inner = [(line.out(i.box.bottom if line.above else i.box.top), i) for i in items]
    return [[item] for _, item in sorted(inner, key=lambda pair: (pair[0], pair[1].box.left))]


def _layers(items: Sequence[Item]) -> list[list[Item]]:
    """Items side by side; one that has no place beside them in a row of its own."""
    layers: list[list[Item]] = []
    for item in sorted(items, key=lambda item: item.box.left):
        free = (row for row in layers if row[-1].box.right < item.box.left)
        row = next(free, None)
        if row is None:
            row = []
            layers.append(row)
        row.append(item)
    return layers


def _neighbours(items: Sequence[Item]) -> list[list[Item]]:
    """Dynamics and wedges that follow each other closely, with their middles on one height."""
    _trim([item for item in items if item.kind == "hairpin"], items)
    runs: list[list[Item]] = []
    for item in sorted(items, key=lambda item: item.box.left):
        for run in runs:
            apart = item.box.left - max(other.box.right for other in run)
            if 0.0 < apart < CLOSE:
                first, own = run[0].box, item.box
                item.move((first.top + first.bottom - own.top - own.bottom) / 2)
                run.append(item)
                break
        else:
            runs.append([item])
    return runs


def _trim(wedges: Sequence[Item], items: Sequence[Item]) -> None:
    """Begin a wedge after the dynamic that it would run into, and end it before the next."""
    for wedge in wedges:
        for other in items:
            if other.kind != "dynam":
                continue
            box, sign = wedge.box, other.box
            after, before = sign.right + TRIMMED, sign.left - TRIMMED
            if sign.left <= box.left + TRIMMED < after < box.right - 2 * SPACE:
                _cut(wedge, after, box.right)
            elif box.left + 2 * SPACE < before < box.right <= sign.right + TRIMMED:
                _cut(wedge, box.left, before)


def _cut(wedge: Item, left: float, right: float) -> None:
    """Let a wedge reach from left to right."""
    for line in wedge.nodes[0].iter(f"{{{SVG}}}polyline"):
        pairs = [pair.split(",") for pair in line.get("points", "").split()]
        cut = [(min(max(float(x), left), right), y) for x, y in pairs]
        line.set("points", " ".join(f"{short(x)},{y}" for x, y in cut))
    wedge.box = Box(left, wedge.box.top, right, wedge.box.bottom)


# Staves of a system


def _set_apart(
    system: etree._Element, strips: Sequence[Strip], lines: Sequence[tuple[Skyline, Skyline]]
) -> None:
    """Move each staff below the first so far down that nothing of it meets the one above."""
    moved = 0.0
    for (upper, lower), (above, below) in zip(pairwise(strips), pairwise(lines), strict=True):
        down, up = above[1].taken, below[0].taken
        shared = set(down) | set(up)
        reach = max((down.get(c, 0.0) + up.get(c, 0.0) for c in shared), default=0.0)
        wanted = reach + STAVES_APART * SPACE
        before, moved = moved, moved + wanted - (lower.top - upper.bottom)
        _move_strip(system, lower, moved)
        join(system, upper.bottom, lower.top, before, moved)
    if moved:
        stretch(system, strips[0].top, strips[-1].bottom, moved)


def _move_strip(system: etree._Element, strip: Strip, dy: float) -> None:
    for node in strip.fixed:
        shift(node, dy)
    for item in (*strip.over, *strip.under):
        inside = any(
            over in strip.fixed for node in item.nodes for over in node.iterancestors()
        )
        if not inside:
            item.move(dy)
    for group in system.iter(f"{{{SVG}}}g"):
        if group.get("class") in ("barLine", "label"):
            for part in group.iter("*"):
                _move_part(part, strip, dy)


def _move_part(part: etree._Element, strip: Strip, dy: float) -> None:
    """Move the piece of a bar line, or a name, that belongs to a staff."""
    if part.tag == f"{{{SVG}}}g":
        return
    box = box_of(drawn(part, {}))
    at = None if box is None else (box.top + box.bottom) / 2
    if at is None and part.get("transform"):
        at = float(part.get("transform", "").partition(",")[2].partition(")")[0])
    if at is not None and strip.top - SPACE <= at <= strip.bottom + SPACE:
        shift(part, dy)
