"""Slurs, decrescendos and phrase ends that a teacher drew are kept and obeyed."""

from __future__ import annotations

import numpy as np
import pytest

from phrasing.errors import PhrasingError
from phrasing.marking.explaining import swell_reasons
from phrasing.marking.ownlines import drawn_in
from phrasing.marking.precedence import mark
from phrasing.marking.table import marks_csv, read_marks_table
from phrasing.performing.performance import perform
from phrasing.score.melody import OwnLine
from tests.lines import melody

LINE = "C6:1 B5:1 A5:1 G5:1 F5:1 E5:1 D5:1 C5:1 D5:1 E5:1 F5:1 G5:1 A5:2"
DRAWN = (OwnLine("slur", 8, 11), OwnLine("softer", 8, 11), OwnLine("end", 7, 7))


def written(tmp_path, tune):
    path = tmp_path / "marks.csv"
    zeros = np.zeros(len(tune))
    path.write_text(marks_csv(tune, mark(tune), zeros, zeros), encoding="utf-8")
    return path


def test_what_was_drawn_is_heard():
    plain = melody(LINE)
    tune = drawn_in(plain, DRAWN)
    one, two = mark(plain), mark(tune)
    assert two.joined[8:11].all()
    assert not one.joined[[8, 10]].all()
    level = [perform(m, marks).parts[0].level for m, marks in ((plain, one), (tune, two))]
    assert (np.diff(level[1][8:12]) < 0).all()
    assert level[1][11] <= level[0][11] - 3
    assert [(p.first, p.last) for p in two.phrases] == [(0, 7), (8, 12)]
    assert swell_reasons(tune, two)[-1].endswith("get softer here, as the author asks")


def test_the_rules_own_wedge_gives_way_where_the_teacher_drew_one():
    tune = drawn_in(melody(LINE), [OwnLine("softer", 2, 5)])
    assert [(s.first, s.last) for s in mark(tune).swells] == [(2, 5)]
    assert [s.first for s in mark(melody(LINE)).swells] == [0]


def test_the_table_keeps_what_was_drawn(tmp_path):
    tune = drawn_in(melody(LINE), DRAWN)
    found = read_marks_table(written(tmp_path, tune), melody(LINE))
    assert set(found.lines) == set(DRAWN)
    again = drawn_in(melody(LINE), found.lines)
    assert (again.slurs, again.wedges, again.phrase_ends) == (
        tune.slurs,
        tune.wedges,
        tune.phrase_ends,
    )


@pytest.mark.parametrize(
    "cell", ["slur", "slur to 3", "slur to 99", "louder to 12", "softer to 12 or so", "-2"]
)
def test_what_is_no_line_is_told_with_its_row(tmp_path, cell):
    tune = melody(LINE)
    path = written(tmp_path, tune)
    lines = path.read_text(encoding="utf-8").splitlines()
    place = lines[0].split(",").index("line")
    head, tail = (
        lines[5].rsplit(",", len(lines[0].split(",")) - place)[0],
        lines[5].rsplit(",", len(lines[0].split(",")) - place - 1)[1:],
    )
    lines[5] = ",".join([head, cell, *tail])
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(PhrasingError, match=r"marks\.csv, row 6: ") as caught:
        read_marks_table(path, tune)
    assert "\n" not in str(caught.value)
