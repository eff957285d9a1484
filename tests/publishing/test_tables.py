"""The marks as CSV and JSON."""

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from phrasing.marking import mark
from phrasing.marking.explaining import why
from phrasing.melody import Key
from phrasing.publishing.tables import COLUMNS, marks_csv, marks_json
from tests.lines import melody
from tests.marking.lines import rules_of, words_of
from tests.marking.random_lines import melodies

TUNE = replace(
    melody("G4:1 C5:2 Bb4:2 E5:0.6666667 F#5:0.6666667 G5:0.6666667 A5:2 r:1 C5:8", pickup=1),
    title='=HYPERLINK("x"), a "title"',
    keys=(Key(0, -1),),
)
LEVEL = np.array([0.0, 4.5, -0.0, 1.23456, 0, 0, -9, 5])
GATE = np.array([0.9, 0.55, 0.6004, 1.06789, 1, 1, 1, 1])


def as_json(tune=TUNE, author=None):
    return marks_json(tune, mark(tune, author=author), LEVEL, GATE)


def as_rows(tune=TUNE, author=None):
    text = marks_csv(tune, mark(tune, author=author), LEVEL, GATE)
    return list(csv.DictReader(io.StringIO(text)))


class TestJson:
    def test_the_piece(self):
        piece = as_json()
        assert list(piece) == ["title", "tempo", "meter", "pickup", "notes"]
        assert piece["title"] == TUNE.title
        assert (piece["tempo"], piece["meter"], piece["pickup"]) == (120, "4/4", 0.5)

    def test_each_note_has_its_fields_in_order(self):
        for note in as_json()["notes"]:
            assert list(note) == [
                "bar", "beat", "pitch", "length", "mark", "rule", "why", "level", "gate",
            ]  # fmt: skip

    def test_a_note_with_a_mark(self):
        tune = mark(TUNE)
        assert as_json()["notes"][1] == {
            "bar": 1, "beat": 1, "pitch": 72, "length": 1, "mark": "marcato",
            "rule": "on-beat-quarter", "why": why(TUNE, tune, 1), "level": 4.5, "gate": 0.55,
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
        assert "the rules would have it marcato" in notes[1]["why"]

    def test_it_is_json(self):
        assert json.loads(json.dumps(as_json(), allow_nan=False)) == as_json()


class TestCsv:
    def test_it_has_a_row_for_each_note_with_its_place(self):
        rows = as_rows()
        assert list(rows[0]) == list(COLUMNS)
        assert [row["note"] for row in rows] == [str(i + 1) for i in range(len(TUNE))]
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
        text = marks_csv(TUNE, mark(TUNE), LEVEL, GATE)
        assert text.isascii()
        assert "\r" not in text

    def test_the_title_cannot_become_a_formula_as_it_is_in_no_cell(self):
        text = marks_csv(TUNE, mark(TUNE), LEVEL, GATE)
        assert "HYPERLINK" not in text
        assert not [v for row in as_rows() for v in row.values() if v[:1] in "=+@" and v]


def test_an_excerpts_reasons_may_be_those_of_the_whole():
    reasons = ["because"] * len(TUNE)
    assert marks_json(TUNE, mark(TUNE), LEVEL, GATE, reasons)["notes"][0]["why"] == "because"


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
