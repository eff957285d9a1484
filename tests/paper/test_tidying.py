"""Words set anew in the place of the engraver's."""

from __future__ import annotations

import pytest
from lxml import etree

from phrasing.paper.drawing import SVG
from phrasing.paper.fonts import ROMAN, text_width
from phrasing.paper.lettering import words_width
from phrasing.paper.tidying import Run, _set_lines, _set_syllable

SIZE = 405.0


def test_a_syllable_stays_under_the_middle_of_its_note():
    """It was centred by the engraver as wide as in his fount; ours is narrower."""
    group = etree.Element(f"{{{SVG}}}g")
    word = "wwwillow"
    theirs, ours = text_width(word, SIZE, ROMAN.spare), words_width(word, SIZE, ROMAN)
    assert ours < theirs
    _set_syllable(group, [Run(word, False, SIZE, ROMAN)], 1000.0, 0.0)
    (text,) = group
    assert float(text.get("x")) + ours / 2 == pytest.approx(1000 + theirs / 2, abs=1.0)


@pytest.mark.parametrize("anchor,share", [("start", 0.0), ("middle", 0.5), ("end", 1.0)])
def test_a_line_stands_at_its_place_by_its_start_middle_or_end(anchor, share):
    group = etree.Element(f"{{{SVG}}}g")
    run = Run("Swing", False, SIZE, ROMAN)
    _set_lines(group, [run], 1000.0, 0.0, anchor)
    (text,) = group
    assert float(text.get("x")) == pytest.approx(1000 - share * run.width, abs=1.0)
