"""Two staves of one part: what joins them reaches from the upper one to the lower one."""

from __future__ import annotations

from itertools import pairwise

from phrasing.paper.drawing import SVG, box_of, drawn
from phrasing.paper.engraving import engrave
from tests.reading.scores import backup, note, part, score

ATTRIBUTES = (
    "<time><beats>4</beats><beat-type>4</beat-type></time><staves>2</staves>"
    "<clef number='1'><sign>G</sign><line>2</line></clef>"
    "<clef number='2'><sign>F</sign><line>4</line></clef>"
)


def test_bar_lines_and_the_brace_go_over_both_staves() -> None:
    """The lower staff moves down to make room; the lines ended half way to it."""
    bars = [
        note("C4", 2, voice=1, staff=1)
        + note("A3", 2, voice=1, staff=1)
        + backup(4)
        + note("F4", 4, voice=5, staff=2)
    ] * 2
    engraving = engrave(score(part(*bars, attributes=ATTRIBUTES)), width=60.0)
    (system,), (group,) = engraving.systems, engraving.groups
    moved = float(group.get("transform", "").partition(",")[2].rstrip(" )"))
    lines = [g for g in group.iter(f"{{{SVG}}}g") if g.get("class") == "barLine"]
    assert lines
    for line in lines:
        boxes = sorted(
            (box for path in line if (box := box_of(drawn(path, {})))), key=lambda box: box.top
        )
        assert abs(boxes[0].top + moved - system.staff_top) < 30
        assert abs(boxes[-1].bottom + moved - system.staff_bottom) < 30
        for upper, lower in pairwise(boxes):
            assert lower.top <= upper.bottom + 1
    (brace,) = (g for g in group.iter(f"{{{SVG}}}g") if g.get("class") == "grpSym")
    box = box_of(drawn(brace, {}))
    assert box is not None
    assert abs(box.bottom + moved - system.staff_bottom) < 60
