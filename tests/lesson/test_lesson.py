"""From a file and a request to a lesson; some bars of a piece."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from phrasing.app.folders import example
from phrasing.errors import PhrasingError
from phrasing.feel import FEELS, Feel
from phrasing.feelfile import adjusted
from phrasing.lesson.handout import marked_score
from phrasing.lesson.lesson import bars_from_text, excerpt, feel_of, open_lesson, open_piece
from phrasing.lesson.request import Request
from phrasing.marking.precedence import mark
from phrasing.marking.table import marks_csv
from phrasing.paper.musicxml import new_score
from phrasing.score.melody import ChordSymbol, Grace, Key, Melody, Section
from phrasing.score.meters import Meter, TempoMap, bars_of_meters
from tests.band.charts import chart
from tests.lines import marking, melody
from tests.reading.scores import FOUR, notes, part, saved, score
from tests.smf import midi_file, track

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


def everything() -> Melody:
    """Four bars of quarters with something of every kind on each side of every bar line."""
    notes = np.arange(16)
    bars = bars_of_meters({0: Meter()}, 16 * 960)
    return Melody(
        notes * 960,
        np.full(16, 960),
        60 + notes,
        bars,
        chords=tuple(ChordSymbol(3840 * i + 960, f"C{i}") for i in range(4)),
        keys=(Key(0, 0), Key(3840, 1), Key(7680, 2), Key(11_520, 3)),
        sections=tuple(Section(3840 * i, "ABCD"[i]) for i in range(4)),
        slurs=((2, 3), (3, 4), (4, 5), (10, 11), (11, 12), (13, 14)),
        phrase_ends=(3, 4, 11, 12),
        graces=tuple(Grace(i, (59,)) for i in (3, 4, 11, 12)),
        marks=dict.fromkeys((3, 4, 11, 12), "accent"),
        ids=tuple(f"n{i}" for i in range(16)),
        tempos=TempoMap((0, 1920, 5760, 13_440), (100.0, 110.0, 120.0, 130.0)),
    )


def test_an_excerpt_has_all_that_lies_in_it_and_nothing_else():
    tune = everything()
    cut, _ = excerpt(tune, mark(tune), 1, 2)
    assert cut.pitch.tolist() == list(range(64, 72))
    assert cut.onset.tolist() == [960 * i for i in range(8)]
    assert [(bar.onset, bar.number) for bar in cut.bars] == [(0, 2), (3840, 3)]
    assert [(c.onset, c.text) for c in cut.chords] == [(0, "C0"), (960, "C1"), (4800, "C2")]
    assert [(key.onset, key.fifths) for key in cut.keys] == [(0, 1), (3840, 2)]
    assert [(s.onset, s.name) for s in cut.sections] == [(0, "B"), (3840, "C")]
    assert cut.slurs == ((0, 1), (6, 7))
    assert cut.phrase_ends == (0, 7)
    assert [grace.note for grace in cut.graces] == [0, 7]
    assert dict(cut.marks) == {0: "accent", 7: "accent"}
    assert cut.ids == tuple(f"n{i}" for i in range(4, 12))
    assert (cut.tempos.onsets, cut.tempos.tempos) == ((0, 1920), (110.0, 120.0))


def test_a_swell_and_a_phrase_are_cut_where_the_excerpt_ends():
    tune = everything()
    whole = marking(16, swells=((0, 2), (2, 6), (9, 13), (13, 15)), phrases=((0, 6, 5, 0),))
    _, cut = excerpt(tune, whole, 1, 2)
    assert cut.swell_rows.tolist() == [[0, 2], [5, 7]]
    assert cut.phrase_rows[:, :2].tolist() == [[0, 2]]


@pytest.mark.parametrize("asked,ratio", [("2", 2.0), ("3:2", 1.5), ("straight", 1.0)])
def test_a_ratio_that_is_asked_for_is_played(asked, ratio):
    assert open_lesson(example(), Request(swing=asked)).ratio == pytest.approx(ratio)


def test_auto_leaves_the_ratio_to_the_tempo():
    usual = open_lesson(example(), Request()).ratio
    assert open_lesson(example(), Request(swing="auto")).ratio == usual
    assert 1.5 < usual < 2.0


def test_only_some_bars_of_a_file_are_taken_with_the_marks_of_the_whole():
    whole = open_lesson(example(), Request())
    cut = open_lesson(example(), Request(only="2-3"))
    assert {bar.number for bar in cut.melody.bars} == {2, 3}
    inside = np.isin(whole.melody.bar_number, (2, 3))
    assert cut.marking.mark.tolist() == whole.marking.mark[inside].tolist()
    assert cut.shape.level.tolist() == whole.shape.level[inside].tolist()


def test_played_is_a_feel_with_a_clock_that_wanders(tmp_path, monkeypatch):
    """A file of that name is a file."""
    monkeypatch.chdir(tmp_path)
    assert feel_of(Request(feel=Path("played"))) == adjusted(Feel(), FEELS["played"])
    assert feel_of(Request()).wander.time == 0
    Path("played").write_text("strength = 0.5\n")
    assert feel_of(Request(feel=Path("played"))).strength == 0.5


NO_TEMPO = "The score gives no tempo; 120 quarter notes a minute are taken."


@pytest.mark.parametrize(
    "wish,tempo,said",
    [
        ({}, 120.0, NO_TEMPO),
        ({"style": "ballad"}, 66.0, "The score gives no tempo; 66 is usual for “ballad”."),
        ({"style": "swing"}, 120.0, NO_TEMPO),
        ({"style": "ballad", "tempo": 54.0}, 54.0, None),
        ({"tempo": 54.0}, 54.0, None),
    ],
)
def test_where_nobody_gives_a_tempo_the_style_asked_for_does(tmp_path, wish, tempo, said):
    path = saved(tmp_path, score(part(notes("C5:4 D5:4"))))
    lesson = open_lesson(path, Request(**wish))
    assert lesson.tempo == tempo
    assert [w for w in lesson.melody.reading.warnings if "tempo" in w] == (
        [said] if said else []
    )


def test_a_tempo_that_the_file_gives_is_kept_whatever_the_style():
    path = Path(__file__).parents[2] / "examples" / "caretakers_keys.musicxml"
    plain, ballad = (open_lesson(path, Request(style=style)) for style in (None, "ballad"))
    assert ballad.tempo == plain.tempo != 66.0


def test_a_chart_without_a_tempo_takes_the_style_asked_for(tmp_path):
    path = tmp_path / "slow.chart"
    path.write_text("| C | Am | F | G |")
    lesson = open_piece(path, Request(style="ballad"))
    assert lesson.tempo == 66.0
    assert any("bar 1; 66 is usual for “ballad”." in w for w in lesson.melody.reading.warnings)


def test_a_tempo_that_a_chart_gives_later_is_kept(tmp_path):
    path = tmp_path / "late.chart"
    path.write_text("| C | Am |\ntempo: 150\n| F | G |")
    assert open_piece(path, Request(style="ballad")).melody.tempos.tempos == (120.0, 150.0)


def test_a_midi_file_without_a_tempo_takes_the_style_asked_for(tmp_path):
    path = tmp_path / "slow.mid"
    rows = ((i, 1, 60 + i % 5) for i in range(12))
    path.write_bytes(midi_file(track(*rows), tempo=None))
    lesson = open_lesson(path, Request(style="ballad"))
    assert lesson.tempo == 66.0
