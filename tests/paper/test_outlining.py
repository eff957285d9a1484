"""A sheet's pictures need no founts: their words are outlines, in their places."""

from __future__ import annotations

from pathlib import Path

import pytest
from lxml import etree

from phrasing.marking.precedence import mark
from phrasing.paper.drawing import SVG, box_of, drawn, element
from phrasing.paper.fonts import BOLD, PLAIN, text_width
from phrasing.paper.lettering import set_words
from phrasing.paper.outlining import outlined
from phrasing.paper.sheet import write_sheet
from tests.lines import melody


@pytest.mark.parametrize("style", [BOLD, PLAIN])
def test_outlines_lie_where_the_words_stood_and_are_as_wide(style) -> None:
    page = element("svg", None)
    set_words(page, "HoH", 30.0, 50.0, 12.0, style)
    picture = outlined(page)
    for path in picture:
        assert path.attrib.pop("aria-label") == "HoH"
    box = box_of(drawn(picture, {}))
    assert box is not None
    assert box.bottom == pytest.approx(50.0, abs=0.3)
    assert box.left == pytest.approx(30.0, abs=1.2)  # a letter's own margin
    assert box.right == pytest.approx(30.0 + text_width("HoH", 12.0, style), abs=1.2)


def test_a_picture_of_a_sheet_has_no_words_that_ask_for_a_fount(tmp_path: Path) -> None:
    line = melody("C5:2 D5:2 E5:4 G5:1 E5:1 D5:2 C5:4")
    (file,) = write_sheet(line, mark(line), tmp_path / "sheet.svg", swing=(2, 1))
    root = etree.parse(file).getroot()
    assert not list(root.iter(f"{{{SVG}}}text"))
    assert "font-family" not in file.read_text(encoding="utf-8")
    labels = {path.get("aria-label") for path in root.iter(f"{{{SVG}}}path")}
    assert {"Marks", "marcato"} <= labels


def test_words_that_were_moved_stay_where_they_are() -> None:
    """The name of a lower staff stood on its head, far away."""
    line = element("svg", None)
    element(
        "text", line, x=1.0, y=2.0, font_size=10.0, transform="translate(0, 568)"
    ).text = "a"
    assert outlined(line)[0].get("transform", "").startswith("translate(0, 568) translate(1")
