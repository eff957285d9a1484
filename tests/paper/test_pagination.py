"""Pages and lines chosen together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from phrasing.marking.precedence import mark
from phrasing.paper.arranging import Paper
from phrasing.paper.breaking import BarShape, broken, evenly
from phrasing.paper.drawing import SVG, box_of, definitions, drawn
from phrasing.paper.pagination import MARGIN, PAPERS, Block, paged
from phrasing.paper.sheet import sheet_pages
from phrasing.paper.stacking import SPACE
from phrasing.score.melody import Melody
from tests.lines import marking, melody
from tests.paper.test_sheet import words

BARS = "C5:1 D5:1 E5:1 G5:1 r:1 A4:1 C5:2 A5:1 G5:1 F5:1 E5:1 D5:1 C5:1 B4:1 A4:1 "


def tune(bars: int) -> Melody:
    return replace(melody(BARS * (bars // 2)), title="Umbrella Stand")


def systems(page) -> list:
    return [g for g in page.iter(f"{{{SVG}}}g") if g.get("class") == "system"]


def blocks(heights: list[float], kind: str = "music") -> list[Block]:
    return [Block(height, lambda _, __: None, kind=kind) for height in heights]


def test_no_line_of_music_is_left_alone_on_a_page() -> None:
    pages, _ = paged(blocks([100.0] * 7), 650.0)
    assert [page.music for page in pages] in ([5, 2], [4, 3], [3, 4])


def test_a_legend_takes_music_along_to_its_page() -> None:
    pages, _ = paged([*blocks([100.0] * 6), *blocks([120.0], "print")], 650.0)
    assert len(pages) == 2
    assert pages[1].music >= 2


def test_what_is_higher_than_a_page_costs_more_than_what_fits() -> None:
    fits, high = (paged(blocks([height]), 650.0)[1] for height in (640.0, 700.0))
    assert high > fits + 1.0


def test_a_heading_does_not_stand_at_the_foot() -> None:
    heading = replace(blocks([30.0], "print")[0], with_next=True)
    pages, _ = paged([*blocks([100.0] * 6), heading, *blocks([20.0] * 20, "print")], 640.0)
    assert heading not in [page.blocks[-1] for page in pages]


def test_four_bars_to_a_line_and_sections_kept_together() -> None:
    assert broken([BarShape(20.0)] * 12, 6.0, 100.0, 4)[0] == [4, 4, 4]
    section = [BarShape(16.0)] * 4 + [BarShape(16.0, ends=True)]
    assert broken(section * 2, 6.0, 100.0, 4)[0] == [5, 5]


def test_a_pickup_is_not_counted() -> None:
    bars = [BarShape(8.0, pickup=True), *[BarShape(20.0)] * 8]
    assert broken(bars, 6.0, 100.0, 4)[0] == [5, 4]
    assert evenly(bars, 6.0, 100.0, 4) == [5, 4]


def test_bars_that_do_not_fit_stand_by_fewer() -> None:
    assert evenly([BarShape(40.0)] * 8, 6.0, 100.0, 4) == [2, 2, 2, 2]
    assert broken([BarShape(200.0)] * 2, 6.0, 100.0, 4)[0] == [1, 1]


@pytest.mark.long
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("bars,pages", [(8, 1), (16, 1), (32, 1)])
def test_up_to_32_bars_are_one_page_and_fill_it(paper: str, bars: int, pages: int) -> None:
    line = tune(bars)
    made = sheet_pages(line, mark(line), paper=paper)
    assert len(made) == pages
    paths = definitions(made[0])
    height = PAPERS[paper][1] - 2 * MARGIN
    boxes = [box_of(drawn(system, paths)) for system in systems(made[0])]
    whole = box_of(drawn(made[0][2], paths))
    assert len(boxes) >= 2
    assert whole.bottom - whole.top > 0.85 * height


@pytest.mark.long
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("bars", [4, 8, 12, 16, 24, 32])
def test_an_exercise_is_one_page_and_its_answer_another(paper: str, bars: int) -> None:
    line = tune(bars)
    task, answer = sheet_pages(line, mark(line), paper=paper, layout="exercise")
    assert "the answer is on the next page" in words(task)
    assert "Name" in words(task)
    assert "Answer" in words(answer)


@pytest.mark.long
@pytest.mark.parametrize("bars", [20, 36, 40, 52, 64, 70, 96])
@pytest.mark.parametrize("layout", ["marked", "facing", "exercise"])
def test_no_page_has_a_lone_line_or_only_a_legend(bars: int, layout: str) -> None:
    line = tune(bars)
    for page in sheet_pages(line, mark(line), layout=layout):
        assert len(systems(page)) >= 2


def test_a_slur_of_the_lower_staff_moves_with_its_notes() -> None:
    """Slurs over high notes of the lower staff stayed where the upper staff had been."""
    line = melody("C6:1 D6:1 E6:1 F6:1 G6:1 F6:1 E6:1 D6:1 " * 4)
    slurred = replace(line, slurs=((1, 2), (3, 4), (9, 10), (17, 18)))
    (page,) = sheet_pages(slurred, marking(len(line)), layout="facing")
    paths = definitions(page)
    seen = 0
    for group in page.iter(f"{{{SVG}}}g"):
        if group.get("class") == "measure":
            staves = [g for g in group if g.get("class") == "staff"]
            slurs = [g for g in group if (g.get("class") or "").startswith("slur")]
            staff_tops = [round(box_of(drawn(g, paths)).top) for g in staves]
            tops = sorted(round(box_of(drawn(slur, paths)).top) for slur in slurs)
            upper, lower = tops[: len(tops) // 2], tops[len(tops) // 2 :]
            apart = [b - a for a, b in zip(upper, lower, strict=True)]
            assert all(abs(a - staff_tops[1] + staff_tops[0]) < SPACE / 8 for a in apart)
            seen += len(slurs)
    assert seen == 8


@pytest.mark.parametrize(
    "name,millimetres", [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))]
)
def test_what_is_printed_and_its_margins_are_the_sheet(name, millimetres):
    """ISO 216 and ANSI Y14.1; a point is a 72nd of an inch. Printers need 5 mm at least of
    margin (common practice, no source)."""
    paper = Paper(PAPERS[name])
    for room, whole, length in zip(
        (paper.width, paper.height), paper.size, millimetres, strict=True
    ):
        assert whole == pytest.approx(length / 25.4 * 72, abs=0.5)
        assert whole - room == pytest.approx(2 * MARGIN)
    assert MARGIN >= 5 / 25.4 * 72


def test_a_line_twice_as_full_as_the_others_costs_more_than_small_staves() -> None:
    """On a page with room for seven lines, one had eight bars, and all others had four."""
    bars = [BarShape(10.0, ends=index % 8 == 7) for index in range(32)]
    full = broken(bars[:8], 6.0, 80.0, 4)
    assert full[0] == [4, 4]
    crowded = [BarShape(10.0, ends=index == 7) for index in range(8)]
    alone = broken(crowded, 6.0, 200.0, 4)
    assert alone[0] == [4, 4]


@pytest.mark.parametrize("count,lines", [(2, [2, 2, 2, 2]), (4, [4, 4])])
def test_lines_have_the_bars_that_are_asked_for_where_both_fit(count, lines):
    assert broken([BarShape(20.0)] * 8, 5.0, 100.0, count)[0] == lines
