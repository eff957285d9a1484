"""From a file and a request to a lesson; some bars of a piece."""

from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

from phrasing.app.folders import example
from phrasing.errors import PhrasingError
from phrasing.lesson.handout import marked_score
from phrasing.lesson.lesson import bars_from_text, excerpt, open_lesson
from phrasing.lesson.request import Request
from phrasing.marking.precedence import mark
from phrasing.marking.table import marks_csv
from phrasing.paper.musicxml import new_score
from phrasing.score.melody import ChordSymbol, Grace, TempoMap
from tests.band.charts import chart
from tests.lines import marking, melody
from tests.reading.scores import FOUR, notes, part, saved, score

FOUR_BARS = " ".join(["C5:2 D5:2 E5:2 F5:2"] * 4)


def test_bars_are_read_as_printed():
    tune = melody(FOUR_BARS)
    assert bars_from_text("2-3", tune) == (1, 2)
    assert bars_from_text(" 4 ", tune) == (3, 3)
    assert bars_from_text("1 – 2", tune) == (0, 1)


def test_the_pickup_is_bar_0():
    tune = melody("C5:2 " + FOUR_BARS, pickup=2)
    assert bars_from_text("0-1", tune) == (0, 1)


@pytest.mark.parametrize("text", ["5", "3-2", "x", "", "1-9", "0-1"])
def test_bars_that_are_not_there_are_refused(text):
    with pytest.raises(PhrasingError, match=f"^Bars “{text}”"):
        bars_from_text(text, melody(FOUR_BARS))


def test_an_excerpt_starts_at_zero_and_keeps_numbers_marks_chords_and_tempo():
    tune = replace(
        melody(FOUR_BARS),
        tempos=TempoMap((0, 3840), (120.0, 90.0)),
        chords=(ChordSymbol(0, "C6"), ChordSymbol(9600, "G7")),
        graces=(Grace(8, (71,)),),
        slurs=((8, 9),),
    )
    marks = marking(16, {8: "ghost", 15: "accent"}, swells=((2, 6), (8, 11)))
    cut, cut_marks = excerpt(tune, marks, 2, 2)
    assert cut.onset.tolist() == [0, 960, 1920, 2880]
    assert [bar.number for bar in cut.bars] == [3]
    assert cut.chords == (ChordSymbol(0, "C6"), ChordSymbol(1920, "G7"))
    assert cut.tempos.tempos == (90.0,)
    assert cut.graces == (Grace(0, (71,)),)
    assert cut.slurs == ((0, 1),)
    assert cut_marks.mark.tolist() == marks.mark[8:12].tolist()
    assert [(s.first, s.last) for s in cut_marks.swells] == [(0, 3)]


def test_a_note_held_over_the_end_is_cut_there():
    tune = melody("r:4 C5:8 D5:4")
    cut, _ = excerpt(tune, marking(2), 0, 0)
    assert cut.length.tolist() == [1920]


def test_bars_of_rest_hold_no_excerpt():
    tune = melody("C5:8 r:8 D5:8")
    with pytest.raises(PhrasingError, match="no note starts there"):
        excerpt(tune, marking(2), 1, 1)


def test_bars_of_a_chart_without_notes_were_refused():
    song = chart("| C6 | G7 | Am7 | D7 |")
    cut, _ = excerpt(song, mark(song), 1, 2)
    assert [bar.number for bar in cut.bars] == [2, 3]
    assert [c.text for c in cut.chords] == ["G7", "Am7"]


def lead_sheet(folder: Path, name: str, attributes: str = FOUR) -> Path:
    content = score(part(notes("E5:1 F5:1 G5:2"), attributes=attributes), names=(name,))
    return saved(folder, content)


def test_a_score_that_names_no_instrument_stays_at_concert_pitch(tmp_path):
    lesson = open_lesson(lead_sheet(tmp_path, "Melody"), Request())
    assert lesson.instrument.key == "part-in-c"
    said = [text for text in lesson.warnings if "concert pitch" in text]
    assert said == [
        "No instrument is named, so the part stays at concert pitch and sounds as a trumpet; "
        "name one with --instrument."
    ]
    for content in (
        marked_score(lesson),
        new_score(lesson.melody, instrument=lesson.instrument),
    ):
        root = etree.fromstring(content)
        assert root.find(".//transpose") is None
        assert [step.text for step in root.iter("step")] == ["E", "F", "G"]


def test_a_named_instrument_is_not_spoken_of(tmp_path):
    for lesson in (
        open_lesson(lead_sheet(tmp_path, "Flute"), Request()),
        open_lesson(lead_sheet(tmp_path, "Melody"), Request(instrument="alto-sax")),
    ):
        assert not any("concert pitch" in text for text in lesson.warnings)


@pytest.mark.parametrize(
    "left_out", [("dip",), ("descending-run", "line-flow"), ("on-beat-quarter", "turn")]
)
def test_a_stage_written_as_a_table_plays_as_it_shows(tmp_path, left_out):
    stage = open_lesson(example(), Request(leave_out=left_out, style="ballad"))
    table = tmp_path / "stage.csv"
    table.write_text(marks_csv(*stage.table))
    again = open_lesson(example(), Request(marks=table))
    one, two = stage.shaped().parts[0], again.shaped().parts[0]
    for column in ("onset", "release", "velocity", "brightness"):
        assert getattr(one, column).tolist() == getattr(two, column).tolist()
