"""What stands where on some sheets is what was looked at.

Where things come to stand is also the engraver's doing: with another one, nothing is known.
"""

from __future__ import annotations

from collections import defaultdict
from importlib.metadata import version
from pathlib import Path

import pytest
from lxml import etree

from phrasing.lesson.handout import original_of
from phrasing.lesson.lesson import lesson_on, read_as_asked
from phrasing.lesson.request import Request
from phrasing.marking.precedence import mark
from phrasing.paper.drawing import definitions, drawn, item_box
from phrasing.paper.musicxml import new_score
from phrasing.paper.sheet import sheet_pages
from phrasing.score.instruments import BY_KEY
from tests.known import lines
from tests.paper.boxes import things

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "examples"
SHEETS = {
    "marked": (EXAMPLES / "caretakers_keys.musicxml", {"reasons": True}),
    "facing": (HERE / "late_evening.musicxml", {"layout": "facing"}),
    "exercise": (EXAMPLES / "late_bus_home.mid", {"layout": "exercise", "paper": "letter"}),
    "waltz": (EXAMPLES / "folding_chairs_waltz.mid", {"slurs": True}),
}
ENGRAVER = f"verovio {version('verovio')}"
TENTH = 1
"""Decimals of a point that make a difference."""


def places(pages: list[etree._Element]) -> dict[str, object]:
    """The boxes of all that is drawn on each page, by what it is."""
    found = defaultdict(list)
    for number, page in enumerate(pages, 1):
        boxes = [(thing.kind, thing.boxes) for thing in things(page)]
        rest = [item_box(item) for item in drawn(page, definitions(page))]
        for kind, each in [*boxes, *(("drawn", (box,)) for box in rest if box)]:
            corners = [(b.left, b.top, b.right, b.bottom) for b in each]
            found[f"page {number} {kind}"] += [
                round(at, TENTH) for corner in corners for at in corner
            ]
    return dict(found)


def test_known_pages(known):
    """Of a line that takes several, with all its reasons."""
    (line,) = lines(1, notes=300)
    pages = sheet_pages(line, mark(line), instrument=BY_KEY["trumpet"], reasons=True)
    assert len(pages) > 2
    known("paper-pages", places(pages), made_by=ENGRAVER)


def test_known_lines_with_chords(known):
    found = {}
    for i, line in enumerate(lines(3, notes=20)):
        pages = sheet_pages(line, mark(line), instrument=BY_KEY["alto-sax"])
        found |= {f"line {i} {place}": boxes for place, boxes in places(pages).items()}
    known("paper-lines", found, made_by=ENGRAVER)


@pytest.mark.parametrize("name", SHEETS)
def test_known_sheets(name, known):
    path, how = SHEETS[name]
    lesson = lesson_on(read_as_asked(path, Request()), path, Request())
    pages = sheet_pages(
        lesson.melody, lesson.marking, instrument=lesson.instrument, swing=(2, 1),
        source=original_of(lesson), **how,
    )  # fmt: skip
    known(f"paper-{name}", places(pages), made_by=ENGRAVER)


def test_known_scores(known):
    horns = ("alto-sax", "trumpet", "trombone", "part-in-c")
    found = {}
    for i, line in enumerate(lines(24)):
        score = new_score(line, mark(line), instrument=BY_KEY[horns[i % len(horns)]])
        found[f"line {i}"] = etree.canonicalize(etree.fromstring(score))
    known("paper-scores", found)
