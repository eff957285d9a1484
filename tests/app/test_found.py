"""Inputs that once ended in a fault of the program, each under what was wrong with it.

Each is refused in one line, or taken and carried through to the end.
"""

from __future__ import annotations

import os
import sys

import pytest

from tests.app.test_commands import LATE_BUS, phrasing, refused
from tests.reading.scores import bar, note, notes, part, saved, score
from tests.smf import midi_file, track

__all__ = ["phrasing"]

FEELS = {
    "a number for a group": ("swing = 2", "swing is a group"),
    "a number for the bass": ("[band]\nbass = 1", "band.bass is a group"),
    "a number for a mark's sound": ("[sounds]\nghost = 3", "sounds.ghost is a group"),
    "400 digits": ("strength = " + "9" * 400, "strength"),
    "5,000 digits": ("strength = " + "9" * 5000, "write it anew"),
    "3,000 brackets": ("x = " + "[" * 3000 + "]" * 3000, "write it anew"),
    "vibrato of 140": ("[life]\nvibrato_depth = 140", "life.vibrato_depth is 140"),
    "a drum far too loud": ("[band.drums]\nskip = 127", "band.drums.skip is 127"),
    "nan": ("strength = nan", "strength cannot be nan"),
    "inf": ("[sounds.ghost]\nlevel = -inf", "sounds.ghost.level cannot be -inf"),
}


@pytest.mark.parametrize("content,words", FEELS.values(), ids=FEELS.keys())
def test_a_feel_that_cannot_be_used_is_refused(phrasing, tmp_path, content, words):
    feel = tmp_path / "my.toml"
    feel.write_text(content)
    refused(phrasing("marks", LATE_BUS, "--feel", feel), "my.toml", words)


def test_a_feel_with_a_byte_order_mark_is_taken(phrasing, tmp_path):
    feel = tmp_path / "my.toml"
    feel.write_text("strength = 0", encoding="utf-8-sig")
    assert phrasing("marks", LATE_BUS, "--feel", feel)[0] == 0


@pytest.mark.parametrize("cell", ["nan", "inf", "-inf", "1e400", "NaN", "infinity"])
def test_a_note_that_is_no_number_is_named_with_its_row(phrasing, tmp_path, cell):
    rows = phrasing("marks", LATE_BUS, "--csv")[1].splitlines()
    rows[2] = cell + rows[2][rows[2].index(",") :]
    table = tmp_path / "mine.csv"
    table.write_text("\n".join(rows))
    wrong = phrasing("marks", LATE_BUS, "--marks", table)
    refused(wrong, "mine.csv", "row 3", f"“{cell}” is no number of a note")


def test_a_place_that_is_no_number_is_passed_over_as_text_is(phrasing, tmp_path):
    rows = phrasing("marks", LATE_BUS, "--csv")[1].splitlines()
    cells = rows[2].split(",")
    names = rows[0].split(",")
    cells[names.index("level")], cells[names.index("beat")] = "nan", "inf"
    table = tmp_path / "mine.csv"
    table.write_text("\n".join([*rows[:2], ",".join(cells)]))
    assert phrasing("marks", LATE_BUS, "--marks", table)[0] == 0


def test_a_second_ending_without_a_first_is_played(phrasing, tmp_path):
    chart = tmp_path / "a.chart"
    chart.write_text("|: 2. F |")
    assert phrasing("backing", chart, "-o", tmp_path / "out", "--mute", "bass,chords")[0] == 0


def test_a_chord_note_behind_a_grace_note_after_a_full_bar_is_inside_its_bar(
    phrasing, tmp_path
):
    late = notes("C5:4") + note("E5", grace=True) + note("G4", 1, chord=True)
    file = saved(tmp_path, score(part(notes("C5:4"), late)))
    assert phrasing("shape", file, "--no-page", "-o", tmp_path / "out")[0] == 0


@pytest.mark.parametrize("element", ["octave-change", "chromatic"])
def test_a_transposition_that_is_no_number_counts_as_none(phrasing, tmp_path, element):
    good = {"octave-change": "0", "chromatic": "-2"} | {element: "x"}
    transpose = "".join(
        f"<{name}>{good[name]}</{name}>" for name in ("chromatic", "octave-change")
    )
    file = tmp_path / "a.musicxml"
    file.write_bytes(
        score(part(notes("C5:4"), attributes=f"<transpose>{transpose}</transpose>"))
    )
    assert phrasing("shape", file, "--no-page", "-o", tmp_path / "out")[0] == 0


def test_a_grace_note_moved_below_the_lowest_is_refused(phrasing, tmp_path):
    file = saved(tmp_path, score(part(bar(note("C0", grace=True) + notes("C5:4")))))
    refused(
        phrasing("marks", file, "--octave", "-2"), "score.musicxml", "Moved by -24 semitones"
    )


def test_a_high_note_is_refused_in_the_words_of_what_was_asked_for(phrasing, tmp_path):
    """“Moved by 2 semitones” was said where nobody had asked to move anything."""
    high = tmp_path / "high.mid"
    high.write_bytes(midi_file(track((0, 1, 72), (1, 1, 127))))
    refused(
        phrasing("marks", high, "--instrument", "trumpet"),
        "high.mid: the notes lie from C5 to G9, which cannot be written for the trumpet in B♭",
    )
    refused(phrasing("marks", high, "--octave", "1"), "high.mid", "Moved by 12 semitones")
    assert phrasing("marks", high, "--instrument", "flute")[0] == 0


def test_names_and_titles_cannot_act_on_the_terminal(phrasing, tmp_path):
    for name in ("a\x9b31mb.mid", "a\u202eb.mid", "a\x1b]0;x\x07b.mid", "a\nb.mid"):
        code, out, err = phrasing("marks", tmp_path / name)
        assert code == 2
        assert err.count("\n") == 1
        assert not set(err[:-1]) & set("\x9b\u202e\x1b\x07\n")
    file = tmp_path / "titled.mid"
    file.write_bytes(midi_file(track((0, 1, 72)), title="T\u202eitle\u009b31m".encode()))
    for wish in ((), ("--json",), ("--csv",)):
        out = phrasing("marks", file, *wish)[1]
        assert not set(out) & set("\x9b\u202e\x1b\x07")


def test_a_chord_that_nobody_can_read_is_shortened_in_the_message(phrasing, tmp_path):
    chart = tmp_path / "a.chart"
    chart.write_text(f"| C{'b9' * 5000} |")
    code, _, err = phrasing("backing", chart, "-o", tmp_path / "out")
    assert code == 2
    assert len(err) < 400


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere names are Unicode")
def test_a_name_that_is_no_unicode_has_sound_too(phrasing, tmp_path):
    """The folder is named after the melody, and the sound could not be written into it."""
    tune = tmp_path / os.fsdecode(b"a\xff\xfe.mid")
    tune.write_bytes(LATE_BUS.read_bytes())
    code, out, err = phrasing("shape", tune, "--only", "1", "--no-page")
    assert (code, err) == (0, "")
    assert (tune.with_suffix("") / "shaped.wav").is_file()
    assert out.isprintable() or "\ufffd" in out


@pytest.mark.parametrize("column", ["note", "beat"])
def test_a_cell_of_400_digits_is_shortened_in_the_message(phrasing, tmp_path, column):
    rows = [line.split(",") for line in phrasing("marks", LATE_BUS, "--csv")[1].splitlines()]
    rows[2][rows[0].index(column)] = "9" * 400
    table = tmp_path / "mine.csv"
    table.write_text("\n".join(",".join(row) for row in rows))
    code, _, err = phrasing("marks", LATE_BUS, "--marks", table)
    assert code == 2
    assert "mine.csv, row 3: " in err
    assert len(err) < 400
