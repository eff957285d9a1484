"""An edited marks table comes back as what its author changed, from any spreadsheet."""

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from phrasing.errors import PhrasingError
from phrasing.excerpts import excerpt
from phrasing.marking import mark
from phrasing.marking.table import read_marks_table
from phrasing.publishing.tables import marks_csv
from tests.lines import melody
from tests.marking.lines import words_of

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
    return read_marks_table(path, tune)


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

    def test_a_rule_left_out_when_it_was_written_comes_back(self, tmp_path):
        without = mark(TUNE, leave_out=["dip"])
        assert read(tmp_path, written(TUNE, without)) == {}


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
