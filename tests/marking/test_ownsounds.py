"""What a teacher wants of one note's sound is heard there, nowhere else, and kept."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from phrasing.errors import PhrasingError
from phrasing.feel import Feel
from phrasing.marking.explaining import why
from phrasing.marking.ownsounds import OwnSound
from phrasing.marking.precedence import mark
from phrasing.marking.table import marks_csv, read_marks_table
from phrasing.performing.dynamics import joins, velocities
from phrasing.performing.performance import perform
from tests.lines import melody

LINE = "C5:1 D5:1 E5:1 F5:1 G5:2 A5:2 G5:1 F5:1 E5:2"
OWN = {2: OwnSound(level=3.0), 5: OwnSound(level=-6.5, gate=0.25), 6: OwnSound(gate=0.5)}


def performed(own=OWN, strength=1.0):
    tune = melody(LINE)
    return perform(tune, mark(tune, own=own), Feel(strength=strength)).parts[0]


def test_level_and_length_are_heard_in_these_notes_alone():
    before, after = performed({}), performed()
    lasts = [part.release - part.onset for part in (before, after)]
    assert after.level[[2, 5]].tolist() == [3.0, -6.5]
    assert after.velocity[[2, 5]].tolist() == velocities([3.0, -6.5], Feel()).tolist()
    other = np.setdiff1d(np.arange(len(after.level)), [2, 5])
    assert (after.level[other] == before.level[other]).all()
    assert lasts[1][5] == pytest.approx(0.25 * 960, abs=1)
    unmoved = np.setdiff1d(np.arange(len(after.level)), [5, 6])
    assert (lasts[0][unmoved] == lasts[1][unmoved]).all()
    assert (before.onset == after.onset).all()


def test_strength_draws_them_in_like_all_else():
    assert performed(strength=0.5).level[2] == 1.5
    assert performed(strength=0.0).level[5] == 0.0


def test_a_note_cut_short_is_slurred_into_nothing():
    tune = melody("C5:1 D5:1 E5:1 F5:1")
    assert joins(mark(tune))[1]
    assert not joins(mark(tune, own={1: OwnSound(gate=0.5)}))[1]
    assert joins(mark(tune, own={1: OwnSound(level=2.0)}))[1]


def test_the_reason_says_whose_wish_it_is():
    tune = melody(LINE)
    marked = mark(tune, own=OWN)
    assert why(tune, marked, 5).endswith(
        "; 6.5 dB under the plain note, for 25 % of its length, set by hand"
    )
    assert why(tune, marked, 2) == "3 dB over the plain note, set by hand"


def written(tmp_path, **cells):
    """The table of the line with these cells of its third row changed."""
    tune = melody(LINE)
    zeros = np.zeros(len(tune))
    rows = list(csv.DictReader(marks_csv(tune, mark(tune, own=OWN), zeros, zeros).splitlines()))
    rows[2] |= {name.replace("_", " "): value for name, value in cells.items()}
    path = tmp_path / "marks.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    return path


def test_the_table_keeps_them(tmp_path):
    assert read_marks_table(written(tmp_path), melody(LINE)).own == OWN


def test_a_spreadsheets_comma_is_a_point(tmp_path):
    own = read_marks_table(written(tmp_path, own_level="-2,5"), melody(LINE)).own
    assert own[2] == OwnSound(level=-2.5)


def test_an_emptied_cell_leaves_it_to_the_rules(tmp_path):
    assert 2 not in read_marks_table(written(tmp_path, own_level=""), melody(LINE)).own


@pytest.mark.parametrize(
    "cells",
    [{"own_level": "loud"}, {"own_level": "99"}, {"own_gate": "0"}, {"own_gate": "60 %"}],
)
def test_what_is_no_level_or_length_is_named(tmp_path, cells):
    with pytest.raises(PhrasingError, match=r"marks\.csv, row 4: .* is no own (level|gate)"):
        read_marks_table(written(tmp_path, **cells), melody(LINE))


def test_a_part_of_the_piece_keeps_its_own():
    tune = melody(LINE)
    part = mark(tune, own=OWN).part(5, 7)
    assert part.own_level[0] == -6.5
    assert np.isnan(part.own_level[1:]).all()
