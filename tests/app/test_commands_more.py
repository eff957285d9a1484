"""The commands that make things to print, to hear and to practise with, used and misused."""

from __future__ import annotations

import os
from pathlib import Path

import mido
import pytest
import soundfile

from tests.app.test_commands import EXAMPLES, LATE_BUS, phrasing, refused

__all__ = ["phrasing"]

BLUES = EXAMPLES / "kettle_blues.chart"
KEYS = EXAMPLES / "caretakers_keys.musicxml"


def files(folder: Path) -> set[str]:
    return {file.name for file in folder.iterdir()}


def tracks(path: Path) -> set[str]:
    return {track.name for track in mido.MidiFile(path).tracks}


def pitches(path: Path, name: str) -> list[int]:
    track = next(track for track in mido.MidiFile(path).tracks if track.name == name)
    return [m.note for m in track if m.type == "note_on" and m.velocity]


# A backing


def test_a_backing_from_a_chart_with_everything_asked_for(phrasing, tmp_path):
    code, out, err = phrasing(
        "backing", BLUES, "-o", tmp_path / "b", "--only", "1-2", "--choruses", "2",
        "--count-in", "1", "--clicks", "2,4", "--tempo", "180", "--comping", "guitar",
        "--stems", "--format", "flac", "--ending", "none",
    )  # fmt: skip
    assert (code, err) == (0, "")
    stems = {f"backing-{name}.flac" for name in ("bass", "drums", "guitar", "count-in")}
    assert files(tmp_path / "b") == {"backing.mid", "backing.flac", *stems}
    assert tracks(tmp_path / "b" / "backing.mid") >= {"Bass", "Drums", "Guitar", "Count-in"}
    seconds = soundfile.info(tmp_path / "b" / "backing.flac").duration
    assert seconds > 5 * 4 * 60 / 180
    assert "ride swings 2.3 : 1" in out


def test_a_backing_from_a_score_has_its_melody_on_top_when_asked(phrasing, tmp_path):
    for way in ("off", "plain", "shaped"):
        wish = ("--only", "1-2", "--with-melody", way, "--format", "mp3")
        assert phrasing("backing", KEYS, "-o", tmp_path / way, *wish)[0] == 0
        assert ("Melody" in tracks(tmp_path / way / "backing.mid")) == (way != "off")


def test_parts_and_mutes_choose_the_players(phrasing, tmp_path):
    wish = ("--only", "1-2", "--format", "mp3", "--count-in", "0")
    phrasing("backing", BLUES, "-o", tmp_path / "a", *wish, "--parts", "bass,drums")
    phrasing("backing", BLUES, "-o", tmp_path / "b", *wish, "--mute", "chords")
    assert tracks(tmp_path / "a" / "backing.mid") >= {"Bass", "Drums"}
    assert "Piano" not in tracks(tmp_path / "a" / "backing.mid")
    assert (tmp_path / "a" / "backing.mid").read_bytes() == (
        tmp_path / "b" / "backing.mid"
    ).read_bytes()


@pytest.mark.parametrize("option", ["--transpose", "--key"])
@pytest.mark.parametrize("key", ["key: F\n", ""])
def test_a_chart_is_moved_to_another_key_whether_it_names_its_own_or_not(
    phrasing, tmp_path, option, key
):
    """Without a key line it was taken to be in C."""
    song = tmp_path / "song.chart"
    song.write_text(f"tempo: 200\n{key}| F7 | Bb7 | C7 | F7 |\n")
    wish = ("--format", "mp3", "--count-in", "0", "--ending", "none", "--parts", "bass")
    code, _, _ = phrasing("backing", song, "-o", tmp_path / "o", *wish, option, "Eb")
    assert code == 0
    assert pitches(tmp_path / "o" / "backing.mid", "Bass")[0] % 12 == 3


@pytest.mark.parametrize(
    "options,words",
    [
        (("--parts", "bass,banjo"), ("banjo", "bass, drums, chords")),
        (("--mute", "piano"), ("piano", "bass, drums, chords")),
        (("--mute", "bass,drums,chords"), ("Nobody is left",)),
        (("--count-in", "-1"), ("count-in of -1", "0 to 8")),
        (("--count-in", "one"), ("--count-in takes a whole number",)),
        (("--choruses", "0"), ("0 choruses", "1 to 50")),
        (("--clicks", "3"), ("--clicks 3", "all or 2,4")),
        (("--comping", "organ"), ("organ", "piano or guitar")),
        (("--with-melody", "loud"), ("loud", "plain, shaped, off")),
        (("--with-melody", "shaped"), ("kettle_blues.chart", "no melody")),
        (("--key", "H"), ("H", "Eb")),
        (("--only", "90"), ("90", "bars 1 to 12")),
        (("--format", "tape"), ("tape", "wav")),
    ],
)
def test_a_band_that_cannot_be_had_is_refused_and_nothing_is_left(
    phrasing, tmp_path, options, words
):
    refused(phrasing("backing", BLUES, "-o", tmp_path / "o", *options), *words)
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize(
    "text,words",
    [
        ("| Dm7 | Gmaj8 |", ("line 1, bar 2", "Gmaj8", "Gmaj7")),
        ("| C |\n| F | Hm7 |", ("line 2, bar 3", "Hm7", "A to G")),
        ("metre: 3/4\n| C |", ("line 1", "metre", "meter")),
        ("tempo: fast\n| C |", ("line 1", "fast", "tempo: 140")),
        ("| % | C |", ("line 1, bar 1", "%")),
        ("C F G", ("line 1", "| Dm7 | G7 |")),
        ("title: Only", ("has no bars",)),
    ],
)
def test_a_mistake_in_a_chart_is_told_with_its_place(phrasing, tmp_path, text, words):
    song = tmp_path / "song.chart"
    song.write_text(text)
    refused(phrasing("backing", song, "-o", tmp_path / "o"), "song.chart", *words)
    assert os.listdir(tmp_path) == ["song.chart"]


def test_a_melody_without_chords_has_no_band_but_drums(phrasing, tmp_path):
    refused(phrasing("backing", LATE_BUS, "-o", tmp_path / "o"), "no chord symbols")
    refused(phrasing("shape", LATE_BUS, "--backing", "-o", tmp_path / "o"), "no chord symbols")
    assert os.listdir(tmp_path) == []
    wish = ("--parts", "drums", "--only", "1", "--format", "mp3")
    assert phrasing("backing", LATE_BUS, "-o", tmp_path / "o", *wish)[0] == 0


def test_shape_performs_melody_and_band_together(phrasing, tmp_path):
    wish = ("--backing", "--only", "1-2", "--no-page", "--format", "mp3")
    assert phrasing("shape", KEYS, *wish, "-o", tmp_path / "o")[0] == 0
    for name in ("plain", "shaped"):
        assert tracks(tmp_path / "o" / f"{name}.mid") >= {"Melody", "Bass", "Drums", "Piano"}
    assert "listen.html" not in files(tmp_path / "o")


# Practice


def test_practice_makes_files_in_order_a_playlist_and_a_page(phrasing, tmp_path):
    code, out, err = phrasing(
        "practice", KEYS, "-o", tmp_path / "p", "--only", "1-4", "--from", "160", "--to", "200",
        "--step", "40", "--keys", "F,Bb", "--mute", "chords",
    )  # fmt: skip
    assert (code, err) == (0, "")
    made = files(tmp_path / "p")
    assert {"practice.html", "playlist.m3u8"} <= made
    sounds = sorted(name for name in made if name.endswith(".mp3"))
    assert [name.split("-", 1)[1][:-4] for name in sounds][-8:] == [
        "whole-at-160", "whole-at-200", "call-and-response-at-160", "call-and-response-at-200",
        "minus-one-at-160", "minus-one-at-200", "in-f-at-200", "in-bb-at-200",
    ]  # fmt: skip
    assert f"{len(sounds)} files" in out
    assert "minute" in out
    assert "anything hurts" in out


@pytest.mark.parametrize(
    "options,words",
    [
        (("--from", "60", "--to", "100%"), ("60", "100%", "write all three as")),
        (("--from", "100%", "--to", "60%"), ("no ladder",)),
        (("--step", "0%"), ("no ladder",)),
        (("--from", "1%"), ("20 to 400",)),
        (("--keys", "F,Q"), ("Q", "Eb")),
        (("--mute", "tuba"), ("tuba", "bass, drums, chords")),
        (("--bars", "0"), ("Phrases of 0 bars",)),
        (("--bars", "-3"), ("Phrases of -3 bars",)),
        (("--format", "tape"), ("tape", "mp3")),
        (("--only", "99"), ("99",)),
    ],
)
def test_practice_that_cannot_be_had_is_refused_and_nothing_is_left(
    phrasing, tmp_path, options, words
):
    """Phrases of no bars went on without end."""
    refused(phrasing("practice", LATE_BUS, "-o", tmp_path / "p", *options), *words)
    assert os.listdir(tmp_path) == []


def test_a_chart_is_nothing_to_practise_a_melody_from(phrasing, tmp_path):
    refused(phrasing("practice", BLUES, "-o", tmp_path / "p"), "phrasing backing")
    refused(phrasing("page", BLUES, "-o", tmp_path / "p"), "phrasing backing")
    assert os.listdir(tmp_path) == []


# A page and a sheet


def test_a_page_has_the_versions_that_are_asked_for(phrasing, tmp_path):
    table = tmp_path / "top.csv"
    marks = phrasing("marks", LATE_BUS, "--csv")[1].replace(",ghost,ghost,", ",stress,ghost,")
    table.write_text(marks, encoding="utf-8")
    page = tmp_path / "mine.html"
    code, out, err = phrasing(
        "page", LATE_BUS, "--only", "5", "--straight", "--without", "dip",
        "--variant", f"stress on top={table}", "-o", page,
    )  # fmt: skip
    assert (code, err, out) == (0, "", f"{page}\n")
    text = page.read_text(encoding="utf-8")
    for name in ("plain", "shaped", "straight", "without dip", "stress on top"):
        assert f"<span>{name}</span>" in text
    refused(phrasing("page", LATE_BUS, "-o", page), "mine.html", "--overwrite")


@pytest.mark.parametrize(
    "options,words",
    [
        (("--without", "dips"), ("dips", "dip")),
        (("--variant", "top"), ("top", "write its name")),
        (("--variant", "top=none.csv"), ("none.csv",)),
        (("--without", "dip", "--without", "dip"), ("without dip", "its own name")),
        (("--soundfont", "none.sf2"), ("none.sf2",)),
    ],
)
def test_a_page_that_cannot_be_had_is_refused_and_nothing_is_left(
    phrasing, tmp_path, options, words
):
    """A soundfont that was not there left an empty folder."""
    refused(phrasing("page", LATE_BUS, "-o", tmp_path / "p", *options), *words)
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("layout", ["marked", "facing", "exercise"])
def test_a_sheet_is_printed_in_every_layout(phrasing, tmp_path, layout):
    sheet = tmp_path / "sheet.pdf"
    wish = ("--only", "1-2", "--layout", layout, "--reasons", "--paper", "letter")
    assert phrasing("sheet", LATE_BUS, "-o", sheet, *wish)[:2] == (0, f"{sheet}\n")
    assert sheet.read_bytes().startswith(b"%PDF")
    refused(phrasing("sheet", LATE_BUS, "-o", sheet, *wish), "sheet.pdf", "--overwrite")


@pytest.mark.parametrize(
    "options,words",
    [
        (("--layout", "poster"), ("poster", "marked")),
        (("--paper", "a3"), ("a3", "a4")),
        (("--instrument", "kazoo"), ("kazoo", "trumpet")),
        (("-o", "sheet.docx"), ("docx", ".pdf")),
    ],
)
def test_a_sheet_that_cannot_be_had_is_refused_and_nothing_is_left(
    phrasing, tmp_path, monkeypatch, options, words
):
    monkeypatch.chdir(tmp_path)
    refused(phrasing("sheet", LATE_BUS, "-o", "s.pdf", *options), *words)
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("command", ["sheet", "page", "backing", "practice"])
def test_these_commands_have_help_with_an_example(phrasing, command):
    code, out, _ = phrasing(command, "--help")
    assert code == 0
    assert f"Example: phrasing {command}" in out


def test_the_demo_plays_its_example_and_keeps_what_it_finds_in_its_place(phrasing, tmp_path):
    mine = tmp_path / "plain.mid"
    mine.write_bytes(b"mine")
    code, out, _ = phrasing("demo", "-o", tmp_path, "--overwrite")
    assert code == 0
    assert (tmp_path / "listen.html").is_file()
    assert "Replaced: plain.mid." in out
    assert "plain.mid had been changed since; the one before is kept as" in out
    (kept,) = [file for file in tmp_path.glob("plain *.mid") if file != mine]
    assert kept.read_bytes() == b"mine"
