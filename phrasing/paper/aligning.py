"""Versions of one system made alike in all that belongs to none of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from phrasing.paper.drawing import SVG, box_of, drawn
from phrasing.paper.stacking import Strip, kind_of, shift, strips_of

if TYPE_CHECKING:
    from lxml import etree


ALIKE = ("mNum", "harm", "dir", "voltaBracket", "reh", "tempo", "verse")
"""What stands on the same height in all versions of a melody: it belongs to none of them."""


def align(systems: Sequence[tuple[etree._Element, Mapping[str, str]]]) -> None:
    """Put what versions of one system share on one height, the outermost of them all.

    What stands further out in a version has been moved out at least as far in the version
    where it stands furthest, so nothing comes to touch.
    """
    rows: dict[tuple[str, int], list[tuple[etree._Element, float, bool]]] = {}
    for system, paths in systems:
        (first, *_) = strips_of(system, paths) or [Strip(0.0, 0.0)]
        counts: dict[str, int] = {}
        for group in system.iter(f"{{{SVG}}}g"):
            kind = kind_of(group)
            box = box_of(drawn(group, paths)) if kind in ALIKE else None
            if box is not None:
                counts[kind] = counts.get(kind, 0) + 1
                above = (box.top + box.bottom) / 2 < first.middle
                row = rows.setdefault((kind, counts[kind]), [])
                row.append((group, box.top - first.top, above))
    for row in rows.values():
        if len(row) == len(systems):
            choose = min if row[0][2] else max
            outermost = choose(top for _, top, _ in row)
            for group, top, _ in row:
                if abs(outermost - top) >= 0.5:
                    shift(group, outermost - top)
