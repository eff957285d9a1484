"""The author's part alone, and sheets made of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

from phrasing.instruments import BY_KEY
from phrasing.marking import mark
from phrasing.melody import Key
from phrasing.publishing.score.annotating import annotated_score
from phrasing.publishing.score.musicxml import new_score
from phrasing.publishing.score.ownpart import own_part, part_name, written_above
from phrasing.publishing.sheet.pages import sheet_pages
from phrasing.publishing.sheet.vectors import SVG
from phrasing.reading.musicxml import read_musicxml
from phrasing.transposing import Move
from tests.lines import melody
from tests.publishing.test_annotating import AUTHOR
from tests.publishing.test_sheet import words
from tests.schema import faults

REPEAT = b'<bar-style>light-heavy</bar-style><repeat direction="backward"/>'


@pytest.fixture
def author(tmp_path: Path) -> Path:
    path = tmp_path / "late_evening.musicxml"
    path.write_text(AUTHOR, encoding="utf-8")
    return path


@pytest.fixture
def twice(tmp_path: Path) -> Path:
    """An alto part of two bars that is played twice."""
    line = replace(melody("C5:1 D5:1 E5:1 F5:1 G5:4 A5:1 C5:1 D5:2 E5:4"), keys=(Key(0, 0),))
    content = new_score(line, instrument=BY_KEY["alto-sax"])
    path = tmp_path / "twice.musicxml"
    path.write_bytes(content.replace(b"<bar-style>light-heavy</bar-style>", REPEAT))
    return path


def test_only_the_melodys_part_is_left(author: Path) -> None:
    line = read_musicxml(author)
    content = own_part(annotated_score(author, line, mark(line)), line.ids)
    root = etree.fromstring(content)
    assert faults(content) == []
    assert [part.get("id") for part in root.iter("part", "score-part")] == ["P1", "P1"]
    assert part_name(content) == "Band"


def test_the_written_pitch_is_the_files(twice: Path, author: Path) -> None:
    assert written_above(twice.read_bytes()) == Move(9, 3)
    assert written_above(author.read_bytes()) == Move(0, 0)


@pytest.mark.parametrize("layout", ["marked", "facing", "exercise"])
def test_a_repeat_is_printed_as_a_repeat(twice: Path, layout: str) -> None:
    line = read_musicxml(twice)
    assert len(line.bars) == 4
    pages = sheet_pages(line, mark(line), source=twice, layout=layout, reasons=True)
    bars = list(pages[-1].iterfind(f".//{{{SVG}}}g[@class='measure']"))
    assert len(bars) == 2
    assert "Alto saxophone in E ♭" in words(pages[0])


def test_reasons_name_notes_as_the_authors_part_has_them(tmp_path: Path) -> None:
    line = melody("C5:1 A4:1 B4:2 r:4")
    path = tmp_path / "trumpet.musicxml"
    path.write_bytes(new_score(line, instrument=BY_KEY["trumpet"]))
    read = read_musicxml(path)
    assert "D5 and B4 close in on" in words(
        sheet_pages(read, mark(read), source=path, reasons=True)[0]
    )


def test_another_instrument_has_a_part_of_its_own(twice: Path) -> None:
    line = read_musicxml(twice)
    (same,) = sheet_pages(line, mark(line), source=twice, instrument=BY_KEY["alto-sax"])
    (other,) = sheet_pages(line, mark(line), source=twice, instrument=BY_KEY["trumpet"])
    assert [
        len(list(p.iterfind(f".//{{{SVG}}}g[@class='measure']"))) for p in (same, other)
    ] == [2, 4]
    assert "Trumpet in B ♭" in words(other)


@pytest.mark.parametrize("line,sign", [("C5:2 D5:2 E5:4", "G"), ("C3:2 D3:2 E3:4", "F")])
def test_a_part_without_a_clef_is_not_printed_without_one(line: str, sign: str) -> None:
    """A score whose program left the clef out was engraved on a bare staff."""
    root = etree.fromstring(new_score(melody(line)))
    for clef in list(root.iter("clef")):
        clef.getparent().remove(clef)
    own = own_part(etree.tostring(root), ["n1"])
    assert etree.fromstring(own).findtext("part/measure/attributes/clef/sign") == sign
    assert not faults(own)


def test_a_part_keeps_its_own_clef() -> None:
    score = new_score(melody("C5:2 D5:2 E5:4"), instrument=BY_KEY["trombone"])
    own = etree.fromstring(own_part(score, ["n1"]))
    signs = [clef.findtext("sign") for clef in own.iter("clef")]
    assert signs == ["F"]
