"""Options kept in a file are what they would be if they were typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from phrasing.app.options import REQUEST
from phrasing.errors import PhrasingError
from phrasing.lesson.optionsfile import KNOWN, load_options, options_text, with_options
from phrasing.lesson.request import Request

WISH = Request(
    tempo=132.5,
    style="ballad",
    instrument="alto-sax",
    transpose="up a fourth",
    octave=0,
    marks=Path("tune.marks.csv"),
    leave_out=("dip", "turn"),
    pickup=1.5,
    meter="3/4",
    track="2",
    as_written=True,
    slurs=False,
)


def test_what_is_written_is_read_again(tmp_path):
    place = tmp_path / "tune.options.toml"
    place.write_text(options_text(WISH, "tune.mid"), encoding="utf-8")
    found = with_options(Request(options=place))
    assert found.marks == tmp_path / "tune.marks.csv"
    assert {**vars(found), "marks": WISH.marks, "options": None} == vars(WISH)


def test_what_is_typed_wins_and_rules_add_up(tmp_path):
    place = tmp_path / "tune.options.toml"
    place.write_text(options_text(WISH, "tune.mid"), encoding="utf-8")
    typed = Request(options=place, tempo=90.0, octave=-1, leave_out=("leap-up", "dip"))
    found = with_options(typed)
    assert (found.tempo, found.octave, found.meter) == (90.0, -1, "3/4")
    assert found.leave_out == ("leap-up", "dip", "turn")


def test_a_feel_of_the_programs_own_is_named(tmp_path):
    place = tmp_path / "tune.options.toml"
    place.write_text('feel = "played"', encoding="utf-8")
    assert load_options(place) == {"feel": Path("played")}


def test_a_name_cannot_write_options(tmp_path):
    place = tmp_path / "tune.options.toml"
    place.write_text(options_text(Request(), "tune\ntempo = 9\r.mid"), encoding="utf-8")
    assert load_options(place) == {}


@pytest.mark.parametrize(
    "text",
    ["tempo = 'fast'", "tempo = true", "octave = 1.5", "coffee = 1", "except = 'dip'",
     "as-written = 1", "marks = 3", "instrument = ''", "tempo =", "[tempo]\nx = 1",
     f"tempo = {'9' * 400}", "pickup = nan", f"octave = -1{'0' * 12}"],
)  # fmt: skip
def test_what_is_no_option_is_named(tmp_path, text):
    place = tmp_path / "tune.options.toml"
    place.write_text(text, encoding="utf-8")
    with pytest.raises(PhrasingError, match=r"tune\.options\.toml: ") as caught:
        load_options(place)
    assert "\n" not in str(caught.value)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(PhrasingError, match="cannot be read"):
        with_options(Request(options=tmp_path / "none.toml"))


def test_the_names_are_those_of_the_command_line():
    typed = {name.lstrip("-") for _, (kind, _) in REQUEST.items() for name in _names(kind)}
    assert set(KNOWN) <= typed


def _names(kind) -> list[str]:
    told = kind.__metadata__[0]
    return [part for each in (told.default, *told.param_decls) for part in each.split("/")]
