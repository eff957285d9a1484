"""What a teacher has is never lost: nothing that a command reads is written over by it."""

from __future__ import annotations

import os
import shutil

import pytest

from tests.app.test_commands import EXAMPLES, LATE_BUS, midi, phrasing, refused

__all__ = ["phrasing"]
QUICK = ("--only", "1-2", "--no-page")


def shaped(phrasing, tune, out, *more):
    code, said, err = phrasing("shape", tune, "-o", out, *QUICK, *more)
    assert (code, err) == (0, "")
    return said


@pytest.mark.parametrize("overwrite", [(), ("--overwrite",)])
@pytest.mark.parametrize("name", ["plain.mid", "shaped.mid"])
def test_a_melody_in_the_folder_of_its_own_files_is_not_destroyed(
    phrasing, tmp_path, monkeypatch, name, overwrite
):
    midi(tmp_path / name)
    before = (tmp_path / name).read_bytes()
    monkeypatch.chdir(tmp_path)
    refused(phrasing("shape", name, "-o", ".", *overwrite), name, "this run reads")
    assert (tmp_path / name).read_bytes() == before
    assert os.listdir(tmp_path) == [name]


def test_a_score_called_as_its_result_is_not_destroyed(phrasing, tmp_path):
    score = tmp_path / "marked.musicxml"
    shutil.copy(EXAMPLES / "caretakers_keys.musicxml", score)
    refused(phrasing("shape", score, "-o", tmp_path, "--overwrite"), "marked.musicxml")
    assert score.read_bytes() == (EXAMPLES / "caretakers_keys.musicxml").read_bytes()


def test_an_edited_table_in_its_own_folder_keeps_all_its_rows(phrasing, tmp_path):
    """``--only 1-2`` wrote 11 rows over the teacher's 45, and said that all was well."""
    code, _, _ = phrasing("shape", LATE_BUS, "--no-page", "-o", tmp_path)
    assert code == 0
    table = tmp_path / "marks.csv"
    table.write_text(table.read_text().replace("marcato", "tenuto", 1))
    before = table.read_bytes()
    wish = ("--marks", table, *QUICK, "-o", tmp_path)
    refused(phrasing("shape", LATE_BUS, *wish), "is there already", "--overwrite")
    code, out, _ = phrasing("shape", LATE_BUS, *wish, "--overwrite")
    assert code == 0
    assert table.read_bytes() == before
    assert "marks.csv is the table you changed, and stays as it is." in out
    assert "Replaced: marked.musicxml, plain.mid" in out
    assert not [name for name in os.listdir(tmp_path) if name.startswith("marks ")]


def test_a_table_that_is_a_link_into_the_folder_is_left_as_it_is_too(phrasing, tmp_path):
    assert phrasing("shape", LATE_BUS, *QUICK, "-o", tmp_path / "out")[0] == 0
    before = (tmp_path / "out" / "marks.csv").read_bytes()
    (tmp_path / "mine.csv").symlink_to(tmp_path / "out" / "marks.csv")
    wish = ("--marks", tmp_path / "mine.csv", *QUICK, "-o", tmp_path / "out", "--overwrite")
    assert phrasing("shape", LATE_BUS, *wish, "--tempo", "150")[0] == 0
    assert (tmp_path / "out" / "marks.csv").read_bytes() == before


@pytest.mark.parametrize("command,name", [("page", "x.html"), ("sheet", "x.pdf")])
def test_an_input_named_as_the_output_is_not_destroyed(phrasing, tmp_path, command, name):
    tune = midi(tmp_path / name)
    before = tune.read_bytes()
    refused(phrasing(command, tune, "-o", tune, "--overwrite"), name, "this run reads")
    assert tune.read_bytes() == before


def test_a_variants_table_and_a_feel_are_not_written_over(phrasing, tmp_path):
    for option, name in (("--feel", "marks.csv"), ("--soundfont", "plain.wav")):
        mine = tmp_path / name
        mine.write_text("mine")
        refused(phrasing("shape", LATE_BUS, option, mine, "-o", tmp_path, "--overwrite"), name)
        assert mine.read_text() == "mine"
        mine.unlink()
    table = tmp_path / "x.html"
    table.write_text(phrasing("marks", LATE_BUS, "--csv")[1])
    asked = phrasing("page", LATE_BUS, "--variant", f"mine={table}", "-o", table, "--overwrite")
    refused(asked, "x.html", "variant")


def test_what_is_wrong_with_the_request_is_told_before_anything_is_made(phrasing, tmp_path):
    out = tmp_path / "a" / "b"
    for wish in (
        ("--format", "ogg"), ("--soundfont", LATE_BUS), ("--bits", "8"), ("--plain", "odd"),
    ):  # fmt: skip
        refused(phrasing("shape", LATE_BUS, "-o", out, *wish))
        assert os.listdir(tmp_path) == []
    refused(phrasing("backing", LATE_BUS, "-o", out, "--format", "x"), "--format")
    refused(phrasing("practice", LATE_BUS, "-o", out, "--format", "x"), "--format")
    assert os.listdir(tmp_path) == []


def test_overwriting_says_what_it_replaces_keeps_and_removes(phrasing, tmp_path):
    shaped(phrasing, LATE_BUS, tmp_path, "--format", "mp3")
    (tmp_path / "marks.csv").write_text("mine")
    said = shaped(phrasing, LATE_BUS, tmp_path, "--format", "flac", "--overwrite")
    said = " ".join(said.split())
    assert "Replaced: marked.musicxml, marks.csv, plain.mid," in said
    assert "marks.csv had been changed since; the one before is kept as “marks 20" in said
    assert "Removed, from an earlier run: plain.mp3, shaped.mp3." in said
    names = sorted(os.listdir(tmp_path))
    assert "plain.mp3" not in names
    assert [(tmp_path / n).read_text() for n in names if n.startswith("marks 2")] == ["mine"]


def test_a_folder_in_the_way_is_called_one(phrasing, tmp_path):
    (tmp_path / "out" / "report.json").mkdir(parents=True)
    asked = phrasing("shape", LATE_BUS, "-o", tmp_path / "out", "--overwrite")
    refused(asked, "report.json: is a folder")
    assert os.listdir(tmp_path / "out") == ["report.json"]


def test_an_svg_page_too_many_is_removed_and_one_in_the_way_is_told(phrasing, tmp_path):
    (tmp_path / "s-2.svg").write_text("mine")
    asked = ("sheet", LATE_BUS, "--layout", "exercise", "-o", tmp_path / "s.svg")
    refused(phrasing(*asked), "s-2.svg is there already")
    assert os.listdir(tmp_path) == ["s-2.svg"]
