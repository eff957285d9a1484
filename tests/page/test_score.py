"""The picture of a line's shape: where its blocks stand, how tall and how wide they are."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from lxml import etree

from phrasing.app.folders import example
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.request import Request
from phrasing.lesson.versions import plain_version, shaped_version
from phrasing.page.score import (
    HEIGHT,
    Ruler,
    Scale,
    draw_blocks,
    draw_lane,
    draw_score,
    scale_for,
)
from phrasing.paper.drawing import SVG, element
from phrasing.paper.engraving import SPACE
from phrasing.performing.dynamics import Shape
from tests.lesson.test_versions import lesson_of

RULER = Ruler([0, 0, 960, 1920, 3840, 3840, 4800], [90, 100, 300, 500, 900, 950, 1200])
FLOOR = 2000.0


def test_a_note_begins_at_its_head_and_ends_before_a_bar_line():
    assert RULER.start(0) == 100
    assert RULER.start(3840) == 950
    assert RULER.end(3840) == 900
    assert RULER.end(1440) == 400
    assert RULER.end(3840 + 96) == pytest.approx(975)
    assert RULER.end(9999) == 1200


def test_scale_holds_every_level_and_shows_six_db_each_way_at_least():
    lesson = lesson_of("C5:1 D5:1 E5:1 F5:1")
    assert scale_for([plain_version(lesson)]) == Scale(-8.0, 6.0)
    loud = replace(shaped_version(lesson), shape=_shape([7.5, 0.0, -13.2, 0.0]))
    assert scale_for([loud]) == Scale(-16.0, 8.0)


def _shape(levels, gates=(0.9, 0.9, 0.9, 0.9)):
    return Shape(np.array(levels), np.array(gates), np.zeros(len(levels)))


def drawn(levels, gates):
    lesson = lesson_of("C5:2 D5:2 E5:2 F5:2")
    plain = replace(plain_version(lesson), shape=_shape([0.0] * 4))
    shaped = replace(shaped_version(lesson), shape=_shape(levels, gates))
    ruler = Ruler([0, 960, 1920, 2880, 3840], [100, 300, 500, 700, 900])
    root = element("g")
    back = element("g", root, **{"class": "back"})
    draw_blocks(back, lesson.melody, plain, Scale(-8.0, 6.0), ruler, FLOOR)
    draw_lane(root, lesson.melody, shaped, Scale(-8.0, 6.0), ruler, FLOOR)
    return {
        group.get("class"): [
            {key: float(rect.get(key)) for key in ("x", "y", "width", "height")}
            for rect in group
            if rect.tag.endswith("rect")
        ]
        for group in root
    }


def test_a_blocks_height_is_the_level_and_its_width_how_long_it_sounds():
    blocks = drawn([0.0, 6.0, -8.0, 3.0], [0.9, 0.5, 1.0, 1.1])
    plain, shaped = blocks["back"], blocks["front"]
    a_db = HEIGHT / 14
    assert [b["x"] for b in plain] == [b["x"] for b in shaped] == [100, 300, 500, 700]
    assert {round(b["height"], 1) for b in plain} == {round(8 * a_db, 1)}
    assert shaped[1]["height"] - shaped[0]["height"] == pytest.approx(6 * a_db, abs=0.1)
    assert 0 < shaped[2]["height"] < a_db
    assert [b["width"] for b in plain] == pytest.approx([180] * 4)
    assert [b["width"] for b in shaped] == pytest.approx([180, 100, 200, 200])
    assert all(b["y"] + b["height"] == pytest.approx(FLOOR) for b in plain + shaped)


def test_a_note_held_over_a_line_break_has_a_block_in_both_lines():
    lesson = lesson_of("C5:6 D5:4 E5:6")
    version = replace(shaped_version(lesson), shape=_shape([1.0, 2.0, 3.0], [1.0] * 3))
    found = []
    for ticks, xs in (([0, 2880, 3840], [100, 700, 900]), ([3840, 4800, 7680], [90, 290, 900])):
        root = element("g")
        ruler = Ruler(ticks, xs)
        draw_lane(root, lesson.melody, version, Scale(-8, 6), ruler, FLOOR)
        front = next(group for group in root if group.get("class") == "front")
        found.append({r.get("data-note"): (r.get("x"), r.get("width")) for r in front})
    assert found[0] == {"0": ("100", "600"), "1": ("700", "200")}
    assert found[1] == {"1": ("90", "200"), "2": ("290", "610")}


def test_a_slurred_note_leaves_no_splinter_in_the_next_line():
    """What sounds on into the next note by a hair stood at the next line's start as a post."""
    lesson = lesson_of("C5:8 D5:8")
    version = replace(shaped_version(lesson), shape=_shape([1.0, 2.0], [1.05, 1.0]))
    root = element("g")
    ruler = Ruler([3840, 3840, 7680], [90, 100, 900])
    draw_lane(root, lesson.melody, version, Scale(-8, 6), ruler, FLOOR)
    front = next(group for group in root if group.get("class") == "front")
    assert [rect.get("data-note") for rect in front] == ["1"]


def test_a_decrescendo_is_a_line_down_over_its_blocks():
    lesson = lesson_of("C6:1 A5:1 G5:1 F5:1 D5:1 C5:1 A4:1 G4:1")
    assert len(lesson.marking.swells) == 1
    version = shaped_version(lesson)
    root = element("g")
    ruler = Ruler(list(range(0, 3841, 480)), [100.0 + 100 * k for k in range(9)])
    draw_lane(root, lesson.melody, version, Scale(-8, 6), ruler, FLOOR)
    line = next(e for e in root if e.get("class") == "fall")
    points = [tuple(map(float, p.split(","))) for p in line.get("points").split()]
    assert len(points) >= 4
    assert all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(points))
    assert points[-1][1] < FLOOR - 0.25 * SPACE


def test_what_all_versions_share_is_inked_once_though_places_differ_by_a_thousandth():
    """A whole line of the example was drawn in the colour of its marks."""
    lesson = open_lesson(example(), Request())
    versions = [plain_version(lesson), shaped_version(lesson)]
    score = draw_score(lesson, lesson.melody, versions, only="broad")
    for system in score.layouts["broad"]:
        root = etree.fromstring(system)
        staff = root.find(f".//{{{SVG}}}g[@class='staff']")
        own = [len(list(group.iter())) for group in staff.iterfind("*[@data-version]")]
        assert sum(own) < len(list(staff.iter())) / 2


def test_all_that_is_drawn_of_a_line_lies_inside_its_picture():
    """High notes over the staff, low ones under it, and the blocks below."""
    lesson = lesson_of("C7:1 B6:1 A6:2 C4:1 E4:1 G3:2 " * 12)
    versions = [plain_version(lesson), shaped_version(lesson)]
    score = draw_score(lesson, lesson.melody, versions, only="broad")
    assert len(score.layouts["broad"]) > 1
    for text in score.layouts["broad"]:
        picture = etree.fromstring(text)
        left, top, width, height = map(float, picture.get("viewBox").split())
        blocks = [
            [float(rect.get(key)) for key in ("x", "y", "width", "height")]
            for rect in picture.iterfind(f".//{{{SVG}}}g[@class='front']/{{{SVG}}}rect")
        ]
        assert len(blocks) >= 6
        for x, y, wide, high in blocks:
            assert left <= x < x + wide <= left + width
            assert top <= y < y + high <= top + height
            assert y + high >= top + height - 2 * SPACE, "the lane is not at the foot"


def test_lines_alike_are_equally_high():
    """The first line is no nearer to its blocks than those further down the page."""
    lesson = lesson_of("B4:1 C5:1 D5:1 E5:1 D5:1 C5:1 B4:2 " * 16)
    versions = [plain_version(lesson), shaped_version(lesson)]
    lines = draw_score(lesson, lesson.melody, versions, only="broad").layouts["broad"]
    heights = [float(etree.fromstring(line).get("viewBox").split()[3]) for line in lines]
    assert len(heights) >= 3
    assert max(heights[1:]) - min(heights[1:]) <= 2 * SPACE
    assert max(heights) <= 2 * min(heights)
