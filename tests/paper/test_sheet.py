"""The sheet: pages, header, legend, reasons, exercise and hand-out."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from lxml import etree

from phrasing.errors import PhrasingError
from phrasing.marking.precedence import mark
from phrasing.paper import fonts
from phrasing.paper.drawing import SVG, Words, box_of, definitions, drawn
from phrasing.paper.lettering import words_width
from phrasing.paper.pagination import MARGIN, PAPERS
from phrasing.paper.sheet import sheet_pages, write_sheet
from phrasing.paper.smallprint import (
    meaning,
    numbered_reasons,
    printed_marks,
    wrapped,
)
from phrasing.score.instruments import BY_KEY
from phrasing.score.melody import ChordSymbol, Melody
from tests.lines import marking, melody

BARS = "C5:1 D5:1 E5:1 G5:1 r:1 A4:1 C5:2 A5:1 G5:1 F5:1 E5:1 D5:1 C5:1 B4:1 A4:1 G4:2 r:6 "


def tune(times: int = 3, title: str = "Last Bus to Quarry Hill") -> Melody:
    return replace(melody(BARS * times), title=title)


def words(page: etree._Element) -> str:
    """All that is written on a page, in order, accidentals too."""
    found = [
        node.text or node.get("aria-label") or ""
        for node in page.iter(f"{{{SVG}}}text", f"{{{SVG}}}path")
    ]
    return " ".join(filter(None, found))


@pytest.mark.long
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("layout", ["marked", "facing", "exercise"])
@pytest.mark.parametrize("times", [1, 4, 14])
def test_everything_is_inside_the_paper_and_no_line_of_music_touches_another(
    paper: str, layout: str, times: int
) -> None:
    line = tune(times, "A Title That Goes On and On for the Spring Concert of the Evening Band")
    pages = sheet_pages(line, mark(line), paper=paper, layout=layout, reasons=True)
    width, height = PAPERS[paper]
    for page in pages:
        paths = definitions(page)
        boxes = [
            box_of(drawn(part, paths)) for part in page[2] if part.get("transform") is not None
        ]
        whole = box_of(drawn(page[2], paths))
        assert whole.left > MARGIN / 2
        assert whole.right < width - MARGIN / 2
        assert whole.top > 10
        assert whole.bottom < height - 10
        systems = [box for box in boxes if box.right - box.left > 100]
        for upper, lower in pairwise(systems):
            assert upper.bottom < lower.top


def test_the_header_says_title_part_tempo_and_swing() -> None:
    (page,) = sheet_pages(tune(), mark(tune()), instrument=BY_KEY["alto-sax"], swing=(2, 1))
    said = words(page)
    for part in ("Last Bus to Quarry Hill", "Alto saxophone in E", "Swing 2 : 1", "= 120"):
        assert part in said


def test_the_legend_has_the_marks_that_are_used_and_no_others() -> None:
    line = tune(1)
    made = marking(len(line), {0: "ghost", 1: "marcato", 2: "stress"})
    assert printed_marks(made) == ["marcato", "stress", "ghost"]
    said = words(sheet_pages(line, made)[0])
    assert meaning("marcato") in said
    assert meaning("ghost") in said
    assert meaning("stress") in said
    assert meaning("tenuto") not in said
    assert "decrescendo" not in said


def test_a_sheet_without_marks_has_no_legend() -> None:
    line = tune(1)
    assert "Marks" not in words(sheet_pages(line, marking(len(line)))[0])


def test_every_number_under_the_notes_leads_to_a_reason() -> None:
    line = tune()
    made = mark(line)
    reasons = numbered_reasons(line, made)
    marked = {int(i) for i in (made.mark >= 0).nonzero()[0]}
    assert marked <= {note for reason in reasons for note in reason.notes}
    said = words(sheet_pages(line, made, reasons=True)[0])
    for reason in reasons:
        assert re.search(rf"\b{reason.number}\b", said)
    assert len({reason.text for reason in reasons}) == len(reasons)
    assert "Why" not in words(sheet_pages(line, made)[0])


def test_reasons_name_the_notes_as_the_player_reads_them() -> None:
    line = melody("C5:1 A4:1 B4:2 r:4")
    made = mark(line)
    assert "C5 and A4 close in on" in " ".join(r.text for r in numbered_reasons(line, made))
    said = words(sheet_pages(line, made, instrument=BY_KEY["trumpet"], reasons=True)[0])
    assert "D5 and B4 close in on" in said


def test_an_exercise_is_plain_first_and_the_answer_begins_a_new_page() -> None:
    line = tune()
    first, *_, answer = sheet_pages(line, mark(line), layout="exercise")
    assert "Pencil the marks in" in words(first)
    assert "answer" not in words(first).replace("the answer is on the next page", "")
    assert "Answer" in words(answer)
    hairpins = [list(p.iterfind(f".//{{{SVG}}}g[@class='hairpin']")) for p in (first, answer)]
    assert [len(found) > 0 for found in hairpins] == [False, True]
    artics = [list(p.iterfind(f".//{{{SVG}}}g[@class='artic']")) for p in (first, answer)]
    assert [len(found) > 0 for found in artics] == [False, True]


def test_a_hand_out_has_each_line_plain_and_shaped() -> None:
    line = tune()
    (page,) = sheet_pages(line, mark(line), layout="facing")[:1]
    measures = list(page.iterfind(f".//{{{SVG}}}g[@class='measure']"))
    assert all(len(bar.findall(f"{{{SVG}}}g[@class='staff']")) == 2 for bar in measures)
    assert "plain" in words(page)
    assert "shaped" in words(page)


def test_pages_are_numbered_and_carry_the_title() -> None:
    line = tune(24)
    pages = sheet_pages(line, mark(line))
    assert len(pages) > 1
    for number, page in enumerate(pages, 1):
        assert f"{number} / {len(pages)}" in words(page)
        assert "Last Bus to Quarry Hill" in words(page)


def test_svg_pages_are_files_of_their_own(tmp_path: Path) -> None:
    line = tune(24)
    files = write_sheet(line, mark(line), tmp_path / "sheet.svg")
    assert [file.name for file in files][:2] == ["sheet.svg", "sheet-2.svg"]
    for file in files:
        assert etree.parse(file).getroot().get("width") == "210.00mm"


@pytest.mark.long
def test_the_same_sheet_has_the_same_bytes(tmp_path: Path) -> None:
    line = tune()
    first, second = (tmp_path / name for name in ("a.pdf", "b.pdf"))
    for file in (first, second):
        write_sheet(line, mark(line), file, reasons=True, swing=(2, 1))
    assert first.read_bytes() == second.read_bytes()
    assert first.read_bytes().startswith(b"%PDF")


def test_the_founts_of_a_sheet_do_not_hold_the_time_of_day(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A sheet printed a second later had other bytes."""
    founts = []
    for now in ("1000000000", "1500000000"):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", now)
        fonts.text_font_file.cache_clear()
        fonts.text_font.cache_clear()
        founts.append(
            [fonts.text_font_file(style) for style in (fonts.ACCIDENTALS, fonts.BOLD)]
        )
    assert founts[0] == founts[1]


@pytest.mark.parametrize(
    "title",
    [
        "",
        "Grüße aus Łódź",
        "Ἀθῆναι ♭ and ♯",
        "雨の夜 🎷",
        "a" * 300,
        "<b>&</b> \"x\" 'y'",
        "\x00\x07",
    ],
)
def test_no_title_stops_a_sheet(title: str, tmp_path: Path) -> None:
    line = tune(1, title)
    for name in ("t.pdf", "t.svg"):
        write_sheet(line, mark(line), tmp_path / name)
        assert (tmp_path / name).stat().st_size > 10_000


def test_a_chart_without_notes_can_be_printed(tmp_path: Path) -> None:
    line = tune(1)
    empty = Melody([], [], [], line.bars, title="Only Bars")
    write_sheet(empty, mark(empty), tmp_path / "chart.pdf", reasons=True)


def test_an_unknown_paper_or_ending_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    line = tune(1)
    with pytest.raises(PhrasingError, match="choose a4 or letter"):
        write_sheet(line, mark(line), tmp_path / "x.pdf", paper="b5")
    with pytest.raises(PhrasingError, match=r"ends in .pdf or .svg"):
        write_sheet(line, mark(line), tmp_path / "x.png")
    assert list(tmp_path.iterdir()) == []


def test_wrapped_lines_are_as_wide_as_asked() -> None:
    text = "pencil the marks in and compare them with the answer on the next page " * 3
    lines = wrapped(text + "x" * 200, 150, 10)
    assert " ".join(lines).replace(" ", "") == (text + "x" * 200).replace(" ", "")
    assert all(words_width(line, 10) <= 150 for line in lines)


@pytest.mark.long
@pytest.mark.parametrize("layout", ["marked", "facing", "exercise"])
@pytest.mark.parametrize("times", [1, 4, 24])
def test_no_words_are_smaller_than_ten_points(layout: str, times: int) -> None:
    line = tune(times)
    chords = [ChordSymbol(bar.onset, "C♯m7♭5♭9/E") for bar in line.bars]
    line = replace(line, chords=tuple(chords))
    pages = sheet_pages(
        line,
        mark(line),
        layout=layout,
        reasons=True,
        swing=(2, 1),
        instrument=BY_KEY["trumpet"],
    )
    for page in pages:
        for item in drawn(page, definitions(page)):
            if isinstance(item, Words) and not item.style.signs:
                assert item.size * item.matrix[0] > 9.99, item.text
