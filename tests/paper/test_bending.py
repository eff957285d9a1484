"""The strokes of bent notes: which side they are on, and which way they go."""

import re
from dataclasses import replace

import pytest
from lxml import etree

from phrasing.paper.bending import STROKES, bends_of, stroke
from phrasing.paper.drawing import Box
from phrasing.paper.engraving import engrave
from phrasing.paper.musicxml import new_score
from tests.lines import melody

HEAD = Box(100.0, 0.0, 110.0, 10.0)


def far_end(name: str) -> tuple[float, float]:
    numbers = [float(n) for n in re.findall(r"-?\d+\.\d", stroke(HEAD, *STROKES[name]))]
    return numbers[4], numbers[5]


@pytest.mark.parametrize("name", STROKES)
def test_a_stroke_before_the_head_leads_to_it_and_one_behind_it_away(name):
    x, y = far_end(name)
    assert (x < HEAD.left) == (name in ("scoop", "plop"))
    assert (x > HEAD.right) == (name in ("falloff", "doit"))
    assert (y > HEAD.bottom) == (name in ("scoop", "falloff"))
    assert (y < HEAD.top) == (name in ("plop", "doit"))


def test_every_bent_note_of_a_score_has_its_stroke():
    """The engraver had read them and printed nothing."""
    bends = dict(enumerate(STROKES))
    line = melody("C5:2 D5:2 E5:2 F5:2")
    plain, bent = new_score(line), new_score(replace(line, inflections=bends))
    assert bends_of(etree.fromstring(plain)) == {}
    assert sorted(bends_of(etree.fromstring(bent)).values()) == sorted(STROKES)
    strokes = [engrave(score).svg.count(" Q") for score in (plain, bent)]
    assert strokes[1] - strokes[0] == 2 * len(STROKES)
