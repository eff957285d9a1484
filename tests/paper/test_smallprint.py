"""The legend at the foot of a sheet."""

from __future__ import annotations

from itertools import pairwise

from lxml import etree

from phrasing.paper.drawing import SVG
from phrasing.paper.smallprint import DECRESCENDO, LINE, draw_sign, legend
from phrasing.score.marks import MARKS


def test_the_entries_of_a_legend_stand_below_each_other_and_inside_its_room() -> None:
    (block,) = legend([mark.name for mark in MARKS], 40.0, 500.0, "Marks")
    drawn = etree.Element(f"{{{SVG}}}g")
    block.draw(drawn, 100.0)
    lines: dict[float, list[float]] = {}
    for text in drawn.iter(f"{{{SVG}}}text"):
        lines.setdefault(round(float(text.get("x"))), []).append(float(text.get("y")))
    columns = [sorted(ys) for ys in lines.values() if len(ys) >= 3]
    assert len(columns) >= 2
    for ys in columns:
        gaps = [below - above for above, below in pairwise(ys)]
        assert min(gaps) >= LINE
        assert ys[-1] <= 100.0 + block.height


def test_a_decrescendos_sign_is_a_wedge_and_no_other_marks_is() -> None:
    for name in (DECRESCENDO, *(mark.name for mark in MARKS)):
        drawn = etree.Element(f"{{{SVG}}}g")
        draw_sign(drawn, name, 50.0, 50.0)
        wedges = [list(node) for node in drawn if node.tag.endswith("polyline")]
        assert len(wedges) == (name == DECRESCENDO)
