"""What is about to be written is examined first; what is read is never written over."""

import os
import time

import pytest

from phrasing.errors import PhrasingError
from phrasing.files import Input, Plan


def fill(plan, **files):
    """Carry out the plan with these files, by stem: text."""
    with plan.writing() as made:
        for stem, text in files.items():
            (made.part / f"{stem}.txt").write_text(text)
    return plan.outcome


def names(folder):
    return sorted(os.listdir(folder))


@pytest.mark.parametrize("overwrite", [False, True])
@pytest.mark.parametrize("way", ["itself", "link", "hard link", "other spelling"])
def test_what_is_read_is_never_written_over(tmp_path, overwrite, way):
    out = tmp_path / "out"
    out.mkdir()
    table = (out if way in ("itself", "other spelling") else tmp_path) / "marks.txt"
    table.write_text("45 rows")
    if way == "link":
        (out / "marks.txt").symlink_to(table)
    elif way == "hard link":
        os.link(table, out / "marks.txt")
    asked = out / ".." / "out" if way == "other spelling" else out
    plan = Plan(asked, (Input("the marks table", table),), overwrite)
    with pytest.raises(PhrasingError, match="is the marks table that this run reads"):
        plan.check(["marks.txt"])
    with pytest.raises(PhrasingError, match="is the marks table that this run reads"):
        fill(plan, marks="11 rows")
    assert table.read_text() == "45 rows"
    assert names(out) == ["marks.txt"]


def test_what_is_there_is_found_before_any_work(tmp_path):
    (tmp_path / "a.txt").write_text("old")
    with (
        pytest.raises(PhrasingError, match="is there already"),
        Plan(tmp_path).writing(["a.txt"]),
    ):
        pytest.fail("work was done")


def test_a_file_changed_by_hand_is_kept_under_a_dated_name(tmp_path):
    out = tmp_path / "out"
    fill(Plan(out, run="shape"), marks="one", other="x")
    (out / "marks.txt").write_text("mine")
    os.utime(out / "marks.txt", (0, time.mktime((2026, 3, 5, 18, 20, 0, 0, 0, -1))))
    done = fill(Plan(out, overwrite=True, run="shape"), marks="two", other="y")
    assert done.replaced == ("marks.txt", "other.txt")
    assert done.kept == (("marks.txt", "marks 2026-03-05 18.20.txt"),)
    assert (out / "marks 2026-03-05 18.20.txt").read_text() == "mine"
    assert (out / "marks.txt").read_text() == "two"


def test_two_changed_in_one_minute_are_both_kept(tmp_path):
    for text in ("one", "two"):
        (tmp_path / "marks.txt").write_text(text)
        os.utime(tmp_path / "marks.txt", (0, 0))
        fill(Plan(tmp_path, overwrite=True), marks="new")
    kept = [f.read_text() for f in tmp_path.iterdir() if f.name != "marks.txt"]
    assert sorted(kept) == ["one", "two"]


def test_what_was_not_changed_needs_no_copy(tmp_path):
    fill(Plan(tmp_path, run="shape"), marks="one")
    assert fill(Plan(tmp_path, overwrite=True, run="shape"), marks="two").kept == ()
    assert names(tmp_path) == ["marks.txt"]


def test_without_a_memory_everything_counts_as_changed(tmp_path, monkeypatch):
    fill(Plan(tmp_path / "out", run="shape"), marks="one")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "empty"))
    done = fill(Plan(tmp_path / "out", overwrite=True, run="shape"), marks="two")
    assert [name for name, _ in done.kept] == ["marks.txt"]


def test_old_formats_of_the_same_command_go_and_nothing_else_does(tmp_path):
    fill(Plan(tmp_path, run="shape"), plain="mp3", shaped="mp3")
    fill(Plan(tmp_path, run="practice"), line="x")
    (tmp_path / "notes.txt").write_text("the teacher's")
    (tmp_path / "shaped.txt").write_text("retouched by the teacher")
    done = fill(Plan(tmp_path, overwrite=True, run="shape"), sheet="x")
    assert done.removed == ("plain.txt",)
    assert names(tmp_path) == ["line.txt", "notes.txt", "shaped.txt", "sheet.txt"]


def test_an_old_file_that_is_read_now_stays(tmp_path):
    fill(Plan(tmp_path, run="shape"), marks="x")
    reads = (Input("the marks table", tmp_path / "marks.txt"),)
    fill(Plan(tmp_path, reads, overwrite=True, run="shape"), other="x")
    assert names(tmp_path) == ["marks.txt", "other.txt"]


def test_a_folder_in_the_way_is_called_one_and_nothing_is_moved(tmp_path):
    (tmp_path / "c.txt").mkdir()
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(PhrasingError, match=r"c\.txt: is a folder"):
        fill(Plan(tmp_path, overwrite=True), a="new", b="new", c="new", d="new")
    assert (tmp_path / "a.txt").read_text() == "old"
    assert names(tmp_path) == ["a.txt", "c.txt"]


def test_a_move_that_fails_takes_back_those_before_it(tmp_path, monkeypatch):
    (tmp_path / "a.txt").write_text("old a")
    (tmp_path / "b.txt").write_text("old b")
    monkeypatch.setattr("phrasing.files.handing._also_at", failing_at("b.txt"))
    with pytest.raises(PhrasingError, match="cannot be written"):
        fill(Plan(tmp_path, overwrite=True), a="new", b="new", aa="new")
    assert (tmp_path / "a.txt").read_text() == "old a"
    assert (tmp_path / "b.txt").read_text() == "old b"
    assert names(tmp_path) == ["a.txt", "b.txt"]


def failing_at(name):
    def also_at(file, place):
        if file.name == name:
            raise OSError(28, "No space left on device", str(file))
        os.link(file, place)

    return also_at


def test_a_failing_run_leaves_no_folder_that_it_made(tmp_path):
    def fail():
        with Plan(tmp_path / "a" / "b" / "c").writing() as made:
            (made.part / "x").write_text("x")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert names(tmp_path) == []
    fill(Plan(tmp_path / "a" / "b" / "c"), x="x")
    assert names(tmp_path / "a" / "b" / "c") == ["x.txt"]
    assert names(tmp_path) == ["a"]


def test_a_folder_that_appeared_meanwhile_is_filled(tmp_path):
    plan = Plan(tmp_path / "a" / "b")
    with plan.writing() as made:
        (made.part / "x.txt").write_text("x")
        (tmp_path / "a" / "b").mkdir(parents=True)
        (tmp_path / "a" / "b" / "mine.txt").write_text("mine")
    assert names(tmp_path / "a" / "b") == ["mine.txt", "x.txt"]


def test_of_two_runs_into_one_folder_the_second_is_refused_at_once(tmp_path):
    with Plan(tmp_path / "out").writing() as made:
        (made.part / "a.txt").write_text("first")
        with pytest.raises(PhrasingError, match="another run is writing there"):
            fill(Plan(tmp_path / "out"), a="second")
        fill(Plan(tmp_path / "elsewhere"), a="third")
    assert (tmp_path / "out" / "a.txt").read_text() == "first"


def test_what_came_meanwhile_is_not_written_over(tmp_path):
    out = tmp_path / "out"

    def write():
        with Plan(out).writing() as made:
            (made.part / "a.txt").write_text("first")
            out.mkdir()
            (out / "a.txt").write_text("mine")

    with pytest.raises(PhrasingError, match="is there already"):
        write()
    assert (out / "a.txt").read_text() == "mine"
    assert names(tmp_path) == ["out"]
