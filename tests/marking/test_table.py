"""The marks as CSV and JSON."""

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import excerpt
from phrasing.marking.explaining import why
from phrasing.marking.precedence import RULE_NAMES, mark
from phrasing.marking.table import COLUMNS, marks_csv, marks_json, read_marks_table
from phrasing.score.melody import Key
from phrasing.style import STYLE
from tests.lines import melody
from tests.marking.lines import rules_of, words_of
from tests.marking.random_lines import melodies

TUNE = melody(
    "G4:1 C5:1 D5:1 E5:1 G5:1 D5:1 A5:1 B5:1 C6:2 r:1 B5:2 D6:2 A5:0.6666667 G5:0.6666667 "
    "E5:0.6666667 D5:1 C5:1 r:2 D5:8",
    pickup=1,
)


def written(tune=TUNE, marking=None):
    marking = marking or mark(tune)
    level = np.linspace(-9, 5, len(tune))
    return marks_csv(tune, marking, level, np.full(len(tune), 0.9))


def table_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def saved(rows, delimiter=",", columns=None):
    text = io.StringIO()
    out = csv.DictWriter(text, columns or rows[0].keys(), delimiter=delimiter)
    out.writeheader()
    out.writerows(rows)
    return text.getvalue()


def read(tmp_path, content, tune=TUNE):
    path = tmp_path / "marks.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_marks_table(path, tune).changed


def played(tmp_path, content, tune=TUNE):
    """The marking that the table in ``content`` asks for, as a lesson makes it."""
    path = tmp_path / "marks.csv"
    path.write_text(content)
    table = read_marks_table(path, tune)
    style = STYLE[table.style] if table.style else None
    author, shown = table.changed, table.marks
    return mark(tune, style=style, leave_out=table.left_out, author=author, shown=shown)


@pytest.fixture
def rows():
    return table_of(written())


def test_a_table_as_it_was_written_changes_nothing(tmp_path):
    assert read(tmp_path, written()) == {}


def test_a_changed_an_emptied_and_a_filled_cell_are_the_authors(tmp_path, rows):
    assert rows[8]["mark"] == "accent"
    assert rows[9]["mark"] == "marcato"
    rows[8]["mark"], rows[9]["mark"], rows[3]["mark"] = "tenuto", "", "ghost"
    assert read(tmp_path, saved(rows)) == {3: "ghost", 8: "tenuto", 9: None}


@pytest.mark.parametrize("cell", [" Ghost ", "GHOST", "ghost\u0020"])
def test_capitals_and_stray_spaces_do_not_matter(tmp_path, rows, cell):
    rows[3]["mark"] = cell
    assert read(tmp_path, saved(rows)) == {3: "ghost"}


@pytest.mark.parametrize("cell", ["", " ", "-", "–", "none", "None"])
def test_ways_to_say_no_mark(tmp_path, rows, cell):
    rows[8]["mark"] = cell
    assert read(tmp_path, saved(rows)) == {8: None}


def as_german(rows):
    comma = [{k: v.replace(".", ",") if k != "why" else v for k, v in r.items()} for r in rows]
    return "sep=;\r\n" + saved(comma, ";")


@pytest.mark.parametrize(
    "spreadsheet",
    [
        lambda rows: "\ufeff" + saved(rows),
        lambda rows: saved(rows).replace("\r\n", "\n"),
        lambda rows: saved(rows, ";"),
        lambda rows: saved(rows, "\t"),
        as_german,
        lambda rows: saved(rows, "\t").encode("utf-16"),
        lambda rows: saved([{**r, "Notiz": "schön"} for r in rows], ";").encode("cp1252"),
        lambda rows: saved(list(reversed(rows))),
        lambda rows: saved(rows[2:4]),
        lambda rows: saved(rows) + ",,,,,,,,,,,\r\n\r\n",
        lambda rows: saved([{k.upper(): v for k, v in r.items()} for r in rows]),
    ],
    ids=[
        "mark-of-order",
        "line-feeds",
        "semicolons",
        "tabs",
        "decimal-commas",
        "utf-16",
        "latin",
        "reordered",
        "rows-deleted",
        "blank-rows",
        "capital-header",
    ],
)
def test_what_spreadsheets_do_to_a_table_is_understood(tmp_path, rows, spreadsheet):
    rows[3]["mark"] = "ghost"
    assert read(tmp_path, spreadsheet(rows)) == {3: "ghost"}


def test_a_beat_that_became_a_date_is_passed_over(tmp_path, rows):
    for row in rows:
        row["beat"] = "02. Mai"
    rows[3]["mark"] = "ghost"
    assert read(tmp_path, saved(rows)) == {3: "ghost"}


def test_rounded_thirds_still_fit(tmp_path, rows):
    for row in rows:
        row["beat"] = f"{float(row['beat']):.2f}"
    assert read(tmp_path, saved(rows)) == {}


def test_a_table_of_note_and_mark_alone_is_taken_at_its_word(tmp_path):
    assert read(tmp_path, "note,mark\n4,ghost\n9,\n") == {3: "ghost", 8: None}


class TestTheAuthorsEarlierMarks:
    def test_an_edited_table_written_again_keeps_what_was_edited(self, tmp_path):
        edits = {3: "ghost", 8: None, 9: "accent"}
        again = written(TUNE, mark(TUNE, author=edits))
        assert read(tmp_path, again) == edits

    def test_a_mark_of_the_score_set_back_to_what_the_rules_say_is_set_back(self, tmp_path):
        scored = replace(TUNE, marks={8: "tenuto"})
        rows = table_of(written(scored))
        assert (rows[8]["mark"], rows[8]["rules say"]) == ("tenuto", "accent")
        rows[8]["mark"] = "accent"
        author = read(tmp_path, saved(rows), scored)
        assert words_of(mark(scored, author=author))[8] == "accent"


class TestWhatIsPlayedIsWhatTheTableShows:
    """Stages that add one thing at a time: a rule left out stays out until it is asked for."""

    @pytest.mark.parametrize("name", RULE_NAMES)
    def test_a_rule_left_out_when_it_was_written_stays_out(self, tmp_path, name):
        without = mark(TUNE, leave_out=[name])
        again = played(tmp_path, written(TUNE, without))
        for column in ("mark", "rule", "joined", "flow", "repeated", "tongued", "swell_rows"):
            assert np.array_equal(getattr(again, column), getattr(without, column)), column
        assert again.left_out == (name,)

    def test_a_cell_left_as_it_was_stays_though_the_rules_have_changed(self, tmp_path):
        rows = table_of(written())
        for row in rows:
            row["mark"] = row["rules say"] = ""
        assert set(words_of(played(tmp_path, saved(rows)))) == {None}

    def test_a_cell_that_the_rules_say_too_is_the_rules(self, tmp_path):
        assert rules_of(played(tmp_path, written())) == rules_of(mark(TUNE))

    def test_an_edited_stage_has_its_edits_and_nothing_else(self, tmp_path):
        without = mark(TUNE, leave_out=["on-beat-quarter", "off-beat-quarter"])
        rows = table_of(written(TUNE, without))
        rows[3]["mark"] = "ghost"
        expected = words_of(without)
        expected[3] = "ghost"
        assert words_of(played(tmp_path, saved(rows))) == expected

    def test_the_style_comes_with_the_table(self, tmp_path):
        ballad = mark(TUNE, style=STYLE["ballad"])
        again = played(tmp_path, written(TUNE, ballad))
        assert again.style is STYLE["ballad"]
        assert words_of(again) == words_of(ballad)

    def test_a_style_or_a_rule_that_there_is_not_is_named_with_the_file(self, tmp_path):
        for column, word in (("style", "polka"), ("left out", "turns")):
            rows = table_of(written())
            rows[0][column] = word
            with pytest.raises(PhrasingError, match=f"marks.csv: There is no .* “{word}”"):
                read(tmp_path, saved(rows))

    def test_the_second_reading_stands_in_its_own_column(self):
        rows = table_of(written(melody("r:1 C5:2 D5:2 r:3")))
        assert [row["second reading"] for row in rows] == ["accent (both held)", ""]


class TestWhichMelody:
    def test_the_table_of_an_excerpt_fits(self, tmp_path):
        cut, marking = excerpt(TUNE, mark(TUNE), 2, 3)
        rows = table_of(written(cut, marking))
        assert rows[0]["note"] == "1"
        rows[1]["mark"] = "accent"
        first = int(np.flatnonzero(TUNE.bar_number == 2)[0])
        assert read(tmp_path, saved(rows)) == {first + 1: "accent"}

    def test_the_table_of_a_transposition_fits(self, tmp_path, rows):
        rows[3]["mark"] = "ghost"
        assert read(tmp_path, saved(rows), TUNE.transposed(-3)) == {3: "ghost"}

    def test_another_melody_is_refused_with_the_first_row_that_does_not_fit(self, tmp_path):
        other = melody("G4:1 C5:1 D5:1 E5:2 G5:1 D5:1 A5:1 B5:8 C5:8 D5:8 E5:8", pickup=1)
        with pytest.raises(
            PhrasingError, match=r"row 6: says bar 1, beat 2\.5, pitch 79, but "
        ):
            read(tmp_path, written(), other)

    def test_one_wrong_pitch_is_refused(self, tmp_path, rows):
        rows[5]["pitch"] = "75"
        with pytest.raises(
            PhrasingError, match="row 7: says bar 1, beat 3, pitch 75, but note 6"
        ):
            read(tmp_path, saved(rows))

    def test_a_shorter_melody_is_refused(self, tmp_path):
        with pytest.raises(PhrasingError, match="row 4: there is no note 3; the melody has 2"):
            read(tmp_path, written(), melody("G4:1 C5:1", pickup=1))


class TestMistakes:
    def test_an_unknown_word_is_named_with_its_row_and_the_nearest_mark(self, tmp_path, rows):
        rows[3]["mark"] = "gost"
        with pytest.raises(PhrasingError) as error:
            read(tmp_path, saved(rows))
        message = str(error.value)
        assert "marks.csv, row 5: there is no mark “gost”. Did you mean “ghost”?" in message
        assert "marcato, accent, staccato, clipped, tenuto, stress, ghost" in message
        assert "\n" not in message

    def test_one_note_with_two_marks(self, tmp_path, rows):
        with pytest.raises(PhrasingError, match="rows 5 and 19: two marks for note 4"):
            read(tmp_path, saved([*rows, {**rows[3], "mark": "ghost"}]))

    def test_a_note_without_its_number(self, tmp_path, rows):
        rows[3]["note"] = "four"
        with pytest.raises(PhrasingError, match="row 5: “four” is no number of a note"):
            read(tmp_path, saved(rows))

    @pytest.mark.parametrize("content", ["", "\n\n", "a,b\n1,2\n", "bar,mark\n1,ghost\n"])
    def test_a_file_without_the_columns(self, tmp_path, content):
        with pytest.raises(PhrasingError, match="has no column “note”"):
            read(tmp_path, content)

    def test_a_workbook(self, tmp_path):
        with pytest.raises(PhrasingError, match="save the table as CSV"):
            read(tmp_path, b"PK\x03\x04" + bytes(30))

    def test_a_file_that_is_not_there_and_a_folder(self, tmp_path):
        for path in (tmp_path / "none.csv", tmp_path):
            with pytest.raises(PhrasingError, match="cannot be read"):
                read_marks_table(path, TUNE)

    @pytest.mark.parametrize(
        "content", [bytes(range(256)), b"note,mark\n\x00\n", b'note,mark\n1,"a\nb"']
    )
    def test_rubbish_ends_in_one_line(self, tmp_path, content):
        with pytest.raises(PhrasingError) as error:
            read(tmp_path, content)
        assert "\n" not in str(error.value)


LISTED = replace(
    melody("G4:1 C5:2 Bb4:2 E5:0.6666667 F#5:0.6666667 G5:0.6666667 A5:2 r:1 C5:8", pickup=1),
    title='=HYPERLINK("x"), a "title"',
    keys=(Key(0, -1),),
)
LEVEL = np.array([0.0, 4.5, -0.0, 1.23456, 0, 0, -9, 5])
GATE = np.array([0.9, 0.55, 0.6004, 1.06789, 1, 1, 1, 1])


def as_json(tune=LISTED, author=None):
    return marks_json(tune, mark(tune, author=author), LEVEL, GATE)


def as_rows(tune=LISTED, author=None):
    text = marks_csv(tune, mark(tune, author=author), LEVEL, GATE)
    return list(csv.DictReader(io.StringIO(text)))


class TestJson:
    def test_the_piece(self):
        piece = as_json()
        assert list(piece) == [
            "title",
            "style",
            "decrescendos",
            "tempo",
            "meter",
            "pickup",
            "notes",
        ]
        assert piece["title"] == LISTED.title
        assert (piece["tempo"], piece["meter"], piece["pickup"]) == (120, "4/4", 0.5)

    def test_each_note_has_its_fields_in_order(self):
        for note in as_json()["notes"]:
            assert list(note) == [
                "bar", "beat", "pitch", "length", "mark", "rule", "why", "level", "gate",
                "slurred",
            ]  # fmt: skip

    def test_a_note_with_a_mark(self):
        tune = mark(LISTED)
        assert as_json()["notes"][1] == {
            "bar": 1, "beat": 1, "pitch": 72, "length": 1, "mark": "marcato",
            "rule": "on-beat-quarter", "why": why(LISTED, tune, 1), "level": 4.5, "gate": 0.55,
            "slurred": False,
        }  # fmt: skip

    def test_a_pickup_without_a_mark(self):
        note = as_json()["notes"][0]
        assert (note["bar"], note["beat"], note["length"]) == (0, 4.5, 0.5)
        assert note["mark"] is note["rule"] is note["why"] is None

    def test_thirds_and_levels_are_rounded_and_nothing_is_minus_zero(self):
        notes = as_json()["notes"]
        assert (notes[4]["beat"], notes[3]["length"]) == (3.333333, 0.333333)
        assert (notes[3]["level"], notes[3]["gate"]) == (1.23, 1.068)
        assert str(notes[2]["level"]) == "0"

    def test_the_authors_marks_say_so(self):
        notes = as_json(author={1: None, 2: "ghost"})["notes"]
        assert (notes[1]["mark"], notes[1]["rule"]) == (None, "author")
        assert (notes[2]["mark"], notes[2]["rule"]) == ("ghost", "author")
        assert "the usual mark would be marcato" in notes[1]["why"]

    def test_it_is_json(self):
        assert json.loads(json.dumps(as_json(), allow_nan=False)) == as_json()


class TestCsv:
    def test_it_has_a_row_for_each_note_with_its_place(self):
        rows = as_rows()
        assert list(rows[0]) == list(COLUMNS)
        assert [row["note"] for row in rows] == [str(i + 1) for i in range(len(LISTED))]
        assert rows[2]["place"] == "bar 1, beat 2, Bb4"
        assert rows[0]["place"] == "pickup, and of 4, G4"

    def test_it_says_the_same_as_the_json(self):
        for row, note in zip(as_rows(), as_json()["notes"], strict=True):
            for name, value in note.items():
                assert row[name] == ("" if value is None else str(value)).replace("♭", "b")

    def test_what_the_rules_say_stands_beside_the_authors_mark(self):
        row = as_rows(author={1: "accent"})[1]
        assert (row["mark"], row["rules say"], row["rule"]) == ("accent", "marcato", "author")

    def test_every_program_can_show_it(self):
        text = marks_csv(LISTED, mark(LISTED), LEVEL, GATE)
        assert text.isascii()
        assert "\r" not in text

    def test_the_title_cannot_become_a_formula_as_it_is_in_no_cell(self):
        text = marks_csv(LISTED, mark(LISTED), LEVEL, GATE)
        assert "HYPERLINK" not in text
        assert not [v for row in as_rows() for v in row.values() if v[:1] in "=+@" and v]


def test_an_excerpts_reasons_may_be_those_of_the_whole():
    reasons = ["because"] * len(LISTED)
    assert (
        marks_json(LISTED, mark(LISTED), LEVEL, GATE, reasons)["notes"][0]["why"] == "because"
    )


@given(melodies())
@settings(max_examples=60, deadline=None)
def test_every_note_is_in_the_table_in_order_of_time(tune):
    marking = mark(tune)
    zeros = np.zeros(len(tune))
    notes = marks_json(tune, marking, zeros, zeros)["notes"]
    assert [note["pitch"] for note in notes] == tune.pitch.tolist()
    assert [note["mark"] for note in notes] == words_of(marking)
    assert [note["rule"] for note in notes] == rules_of(marking)
    places = [(note["bar"], note["beat"]) for note in notes]
    assert places == sorted(places)
    assert sum(note["length"] for note in notes) == pytest.approx(tune.length.sum() / 960)
