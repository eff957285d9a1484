"""The author's part alone, and sheets made of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

from phrasing.marking.precedence import mark
from phrasing.paper.annotating import (
    _add_slur,
    annotated_score,
    own_part,
    part_name,
    written_above,
)
from phrasing.paper.drawing import SVG
from phrasing.paper.musicxml import new_score
from phrasing.paper.sheet import sheet_pages
from phrasing.reading.musicxml.file import open_score
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.instruments import BY_KEY
from phrasing.score.melody import Key
from phrasing.score.transposing import Move
from tests.lines import marking, melody
from tests.paper.stripping import additions_removed, canonical
from tests.paper.test_sheet import words
from tests.schema import faults

AUTHOR = (Path(__file__).parent / "late_evening.musicxml").read_text(encoding="utf-8")


@pytest.fixture
def author(tmp_path: Path) -> Path:
    path = tmp_path / "late_evening.musicxml"
    path.write_text(AUTHOR, encoding="utf-8")
    return path


def ruled(count: int, marks: dict[int, str], swells: tuple[tuple[int, int], ...] = ()):
    """A marking whose marks were given by a rule, not by the author."""
    made = marking(count, marks, swells=swells)
    return replace(made, rule=made.mark.clip(-1, 0))


def test_with_the_additions_removed_it_is_the_authors_file_again(author: Path) -> None:
    line = read_musicxml(author)
    made = ruled(4, {0: "marcato", 1: "ghost", 2: "accent", 3: "tenuto"}, ((0, 2),))
    content = annotated_score(author, line, made, swing=(2, 1))
    assert faults(content) == []
    assert additions_removed(author, content) == canonical(open_score(author))
    for kept in (
        b"<!-- copied out for the second evening -->",
        b"<?rehearsal-room three?>",
        b"<!DOCTYPE",
    ):
        assert kept in content
    assert author.read_text(encoding="utf-8") == AUTHOR


def test_marks_stand_where_the_schema_wants_them(author: Path) -> None:
    made = ruled(4, {0: "marcato", 1: "ghost", 2: "accent", 3: "clipped"})
    root = etree.fromstring(annotated_score(author, read_musicxml(author), made))
    notes = [note for note in root.find("part").iter("note") if note.find("grace") is None]
    signs = [[s.tag for s in note.iterfind("notations/articulations/*")] for note in notes]
    assert signs == [["strong-accent"], [], ["staccato", "accent"], ["accent", "staccato"], []]
    assert notes[1].find("notehead").get("parentheses") == "yes"
    assert [note.get("id") for note in notes] == ["n2", "n3", "mine", "n5", None]


def test_parentheses_stand_before_beams_and_lyrics(author: Path) -> None:
    made = ruled(4, dict.fromkeys(range(4), "ghost"))
    content = annotated_score(author, read_musicxml(author), made)
    assert faults(content) == []
    assert content.count(b'parentheses="yes"') == 4


def test_a_wedge_opens_before_the_grace_note_and_closes_after_the_last(author: Path) -> None:
    made = ruled(4, {}, ((0, 2),))
    root = etree.fromstring(annotated_score(author, read_musicxml(author), made))
    # In MusicXML 4.0 what fades is a diminuendo; it was once written as a crescendo.
    assert [wedge.get("type") for wedge in root.iter("wedge")] == ["diminuendo", "stop"]
    bar = [child.tag for child in root.find("part/measure") if isinstance(child.tag, str)]
    assert bar == [
        "attributes",
        "direction",
        "note",
        "note",
        "note",
        "note",
        "direction",
        "note",
    ]


def test_the_authors_swing_stays(author: Path) -> None:
    said = AUTHOR.replace(
        '      <note default-x="12.5">',
        "      <sound><swing><first>3</first><second>2</second></swing></sound>\n"
        '      <note default-x="12.5">',
    )
    author.write_text(said, encoding="utf-8")
    content = annotated_score(author, read_musicxml(author), ruled(4, {}), swing=(2, 1))
    assert content.count(b"<swing>") == 1
    assert b"<first>3</first>" in content


def test_the_authors_own_marks_are_not_doubled(author: Path) -> None:
    line = read_musicxml(author)
    made = mark(line)
    assert line.marks == {2: "staccato"}
    content = annotated_score(author, line, made)
    assert content.count(b"<staccato/>") == 1
    more = annotated_score(author, line, marking(4, {2: "clipped"}))  # an accent and a dot
    assert (more.count(b"<accent/>"), more.count(b"<staccato/>")) == (1, 1)


def test_a_marked_score_that_is_marked_again_is_the_same(tmp_path: Path) -> None:
    """Each decrescendo had two wedges."""
    line = melody("C6:1 B5:1 A5:1 G5:1 F5:1 E5:1 D5:4 " * 2)
    path = tmp_path / "marked.musicxml"
    path.write_bytes(new_score(line, mark(line)))
    assert path.read_bytes().count(b'"diminuendo"') == 2
    again = read_musicxml(path)
    marked = annotated_score(path, again, mark(again))
    assert marked.count(b'"diminuendo"') == marked.count(b"<wedge") / 2 == 2


def test_marks_from_an_edited_table_are_put_in_though_they_are_the_authors(
    author: Path,
) -> None:
    made = marking(4, {0: "accent", 2: "staccato"})  # every mark counts as the author's here
    content = annotated_score(author, read_musicxml(author), made)
    assert content.count(b"<accent/>") == 1
    assert content.count(b"<staccato/>") == 1


def test_a_repeat_has_the_marks_of_its_first_playing(tmp_path: Path) -> None:
    content = new_score(melody("C5:2 D5:2 E5:2 F5:2"))
    repeated = content.replace(
        b"<bar-style>light-heavy</bar-style>",
        b'<bar-style>light-heavy</bar-style><repeat direction="backward"/>',
    )
    path = tmp_path / "twice.musicxml"
    path.write_bytes(repeated)
    line = read_musicxml(path)
    assert len(line) == 8
    made = ruled(8, {0: "accent", 4: "ghost", 5: "marcato"}, ((3, 5),))
    root = etree.fromstring(annotated_score(path, line, made))
    assert [sign.tag for sign in root.iterfind(".//articulations/*")] == ["accent"]
    assert root.find(".//notehead") is None
    assert root.find(".//wedge") is None


def test_other_encodings_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "wide.musicxml"
    path.write_bytes(AUTHOR.replace('encoding="UTF-8"', 'encoding="UTF-16"').encode("utf-16"))
    content = annotated_score(path, read_musicxml(path), ruled(4, {0: "accent"}))
    assert "<accent/>" in content.decode("utf-16")
    assert additions_removed(path, content) == canonical(open_score(path))


def test_a_new_score_annotated_is_the_new_marked_score(tmp_path: Path) -> None:
    line = melody("C5:1 D5:1 E5:1 F5:1 G5:2 E5:2 Eb5:1 D5:1 C5:2 r:4")
    made = mark(line)
    path = tmp_path / "plain.musicxml"
    path.write_bytes(new_score(line))
    annotated = etree.fromstring(annotated_score(path, read_musicxml(path), made))
    marked = etree.fromstring(new_score(line, made))
    for name in ("articulations", "notehead", "wedge"):
        assert len(list(annotated.iter(name))) == len(list(marked.iter(name)))


REPEAT = b'<bar-style>light-heavy</bar-style><repeat direction="backward"/>'


@pytest.fixture
def own_score(tmp_path: Path) -> Path:
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


def test_only_the_melodys_part_is_left(own_score: Path) -> None:
    line = read_musicxml(own_score)
    content = own_part(annotated_score(own_score, line, mark(line)), line.ids)
    root = etree.fromstring(content)
    assert faults(content) == []
    assert [part.get("id") for part in root.iter("part", "score-part")] == ["P1", "P1"]
    assert part_name(content) == "Band"


def test_the_written_pitch_is_the_files(twice: Path, own_score: Path) -> None:
    assert written_above(twice.read_bytes()) == Move(9, 3)
    assert written_above(own_score.read_bytes()) == Move(0, 0)


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
    ] == [2, 2]
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


def test_a_slur_over_a_note_that_is_not_on_the_page_is_left_out() -> None:
    notes = {i: etree.Element("note") for i in (0, 1, 3)}
    _add_slur(notes, 0, 3)
    assert not any(len(note) for note in notes.values())
    _add_slur(notes, 0, 1)
    assert [notes[i].find("notations/slur").get("type") for i in (0, 1)] == ["start", "stop"]
