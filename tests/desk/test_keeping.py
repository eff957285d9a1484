"""What was decided on the desk is on disk, and the command line plays the same."""

from __future__ import annotations

import csv
import json
import random
import shutil
from pathlib import Path

import pytest

from phrasing.desk.changes import decided, marks_of
from phrasing.desk.keeping import keep, opened, places_of, refreshed
from phrasing.desk.work import changed, dropped_reading, kept_reading, taken_back
from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.optionsfile import with_options
from phrasing.lesson.request import Request
from phrasing.marking.rules import RULES
from phrasing.marking.table import marks_csv
from phrasing.score.marks import MARK_NAMES

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture
def tune(tmp_path) -> Path:
    return Path(shutil.copy(EXAMPLES / "late_bus_home.mid", tmp_path))


def by_command_line(work):
    """The table that the command line makes from the files the desk wrote."""
    request = with_options(Request(options=places_of(work.path).options))
    return marks_csv(*open_lesson(work.path, request).table)


def random_change(work, chance):
    note = chance.randrange(len(work.read))
    return chance.choice(
        [
            {f"mark:{note}": chance.choice([*MARK_NAMES, "none", None])},
            {f"mark:{n}": "tenuto" for n in range(note, min(note + 3, len(work.read)))},
            {"ask:tempo": chance.choice([96, 152.5, 200, None])},
            {"ask:instrument": chance.choice(["tenor-sax", "trombone", None])},
            {f"rule:{chance.choice(RULES).name}": chance.choice([False, None])},
            {"feel:strength": chance.choice([0.25, 0.8, None])},
            {f"line:slur:{min(note, 30)}:{min(note, 30) + 3}": chance.choice([True, None])},
            {f"line:softer:{min(note, 30)}:{min(note, 30) + 4}": chance.choice([True, None])},
            {f"line:end:{note}:{note}": chance.choice([True, None])},
            {f"level:{note}": chance.choice([-6, 0, 2.5, 7.25, None])},
            {f"gate:{note}": chance.choice([0.3, 0.875, 1.05, None])},
            {f"level:{n}": 3 for n in range(note, min(note + 3, len(work.read)))},
            {"feel:sounds.ghost.level": chance.choice([-7, -4.5, None])},
            {"feel:swing.by_tempo": chance.choice([[[120, 1.5]], None])},
        ]
    )


@pytest.mark.parametrize(
    ("seed", "count"), [(4, 40), pytest.param(5, 200, marks=pytest.mark.long)]
)
def test_after_each_of_many_changes_the_command_line_makes_the_same(tune, seed, count):
    chance, work = random.Random(seed), opened(tune, Request())
    for _ in range(count):
        if work.steps and chance.random() < 0.2:
            step = chance.choice(work.steps)
            work = taken_back(work, step.number, not step.stands)
        else:
            work = changed(work, random_change(work, chance))
        keep(work)
        table = places_of(tune).marks.read_text(encoding="utf-8")
        assert table == marks_csv(*work.lesson.table) == by_command_line(work)
    again = opened(tune, Request())
    assert (again.steps, again.held) == (work.steps, work.held)


def test_every_step_taken_back_leaves_the_melody_as_it_was(tune):
    fresh = opened(tune, Request())
    work = changed(changed(fresh, {"mark:3": "ghost"}), {"ask:tempo": 96})
    for step in work.steps:
        work = taken_back(work, step.number)
    assert work.held == {}
    assert marks_csv(*work.lesson.table) == marks_csv(*fresh.lesson.table)
    assert taken_back(work, 1, stands=True).held == {"mark:3": "ghost"}


def test_a_step_in_the_middle_can_be_taken_back_alone(tune):
    work = opened(tune, Request())
    for mark in ("ghost", "accent", "tenuto"):
        work = changed(work, {"mark:3": mark})
    assert marks_of(taken_back(work, 3).held) == {3: "accent"}
    assert marks_of(taken_back(work, 2).held) == {3: "tenuto"}


def test_a_table_edited_outside_becomes_a_step(tune):
    work = changed(opened(tune, Request()), {"mark:3": "ghost"})
    keep(work)
    table = places_of(tune).marks
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    rows[5]["mark"] = "tenuto" if rows[5]["mark"] != "tenuto" else "stress"
    with table.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    again = refreshed(work)
    assert again.steps[-1].said == f"{table.name} was edited outside the desk"
    assert marks_of(again.held) == {3: "ghost", 5: rows[5]["mark"]}
    keep(again)
    assert refreshed(again).steps == again.steps


def test_a_feel_that_was_there_before_is_taken_over(tune):
    places_of(tune).feel.write_text("strength = 0.5\n[sounds.ghost]\nlevel = -6\n")
    work = opened(tune, Request())
    assert work.held == {"feel:strength": 0.5, "feel:sounds.ghost.level": -6}
    assert work.lesson.feel.strength == 0.5


def test_options_that_were_there_before_are_taken_over(tune):
    places_of(tune).options.write_text('tempo = 120\nexcept = ["dip"]\nswing = "2.5"\n')
    work = opened(tune, Request())
    assert work.held == {"ask:tempo": 120.0, "rule:dip": False}
    assert work.lesson.ratio == 2.5
    work = changed(work, {"ask:tempo": 130})
    keep(work)
    again = opened(tune, Request())
    assert (again.held, again.lesson.ratio) == (work.held, 2.5)
    assert by_command_line(again) == marks_csv(*again.lesson.table)


def test_an_option_that_was_edited_outside_becomes_a_step_or_is_refused(tune):
    keep(changed(opened(tune, Request()), {"ask:tempo": 120, "ask:octave": -1}))
    place = places_of(tune).options
    place.write_text(place.read_text(encoding="utf-8").replace("octave = -1", 'meter = "4/4"'))
    again = opened(tune, Request())
    assert again.steps[-1].said == f"{place.name} was edited outside the desk"
    assert again.held == {"ask:tempo": 120.0, "ask:meter": "4/4"}
    place.write_text('only = "1-2"')
    with pytest.raises(PhrasingError, match="plays all of it"):
        opened(tune, Request())


def test_killed_between_two_files_nothing_that_was_decided_is_lost(tune):
    work = changed(opened(tune, Request()), {"mark:3": "ghost"})
    keep(work)
    older = places_of(tune).marks.read_bytes()
    work = changed(work, {"mark:4": "accent"})
    keep(work)
    places_of(tune).marks.write_bytes(older)
    assert opened(tune, Request()).held == work.held


def test_readings_are_kept_named_and_dropped(tune):
    work = kept_reading(changed(opened(tune, Request()), {"mark:3": "ghost"}), "ghost on three")
    work = taken_back(work, 1)
    keep(work)
    again = opened(tune, Request())
    assert [v.name for v in again.versions] == ["plain", "shaped", "ghost on three"]
    marks = [v.marking.mark[3] for v in again.versions[1:]]
    assert marks[1] == MARK_NAMES.index("ghost") != marks[0]
    with pytest.raises(PhrasingError, match="already"):
        kept_reading(again, "ghost on  three")
    assert len(dropped_reading(again, "ghost on three").versions) == 2


def test_two_melodies_of_one_name_have_files_of_their_own(tune):
    keep(changed(opened(tune, Request()), {"mark:3": "ghost"}))
    other = Path(shutil.copy(tune, tune.with_suffix(".midi")))
    keep(changed(opened(other, Request()), {"mark:4": "ghost"}))
    assert marks_of(opened(tune, Request()).held) == {3: "ghost"}
    assert marks_of(opened(other, Request()).held) == {4: "ghost"}


@pytest.mark.parametrize(
    "sets",
    [
        {}, None, [1], {"mark:999": "ghost"}, {"mark:-1": "ghost"}, {"mark:1": "growl"},
        {"ask:marks": "/etc/passwd"}, {"ask:tempo": "fast"}, {"ask:tempo": 5000},
        {"ask:instrument": "kazoo of doom"}, {"feel:strength": 7}, {"feel:nonsense": 1},
        {"feel:strength": float("nan")}, {"feel:strength.deep": 1}, {"rule:dip": 3},
        {"rule:nonsense": False}, {"else:x": 1}, {"feel:swing": 2}, {"ask:octave": True},
        {"line:slur:5:3": True}, {"line:slur:3:3": True}, {"line:end:3:5": True},
        {"line:slur:1:999": True}, {"line:slur:1": True}, {"level:3": 90}, {"level:3": "loud"},
        {"gate:999": 0.5}, {"gate:3": 0}, {"gate:3": True}, {"ask:track": "7"},
        {"ask:meter": "5/0"}, {"ask:pickup": 99},
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_one_line(tune, sets):
    work = opened(tune, Request())
    with pytest.raises(PhrasingError) as caught:
        changed(work, sets)
    assert "\n" not in str(caught.value)


def test_a_desk_file_that_is_damaged_is_named(tune):
    keep(changed(opened(tune, Request()), {"mark:3": "ghost"}))
    place = places_of(tune).desk
    stored = json.loads(place.read_text(encoding="utf-8"))
    for damage in ("{", "[]", json.dumps(stored | {"steps": [{"number": 1}]})):
        place.write_text(damage, encoding="utf-8")
        with pytest.raises(PhrasingError, match=place.name):
            opened(tune, Request())


def test_what_is_decided_needs_no_steps_that_do_not_stand():
    assert decided(()) == {}


def test_a_mark_decided_on_the_desk_may_be_edited_in_the_table(tune):
    work = changed(opened(tune, Request()), {"mark:3": "ghost"})
    keep(work)
    table = places_of(tune).marks
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    assert "ghost" in lines[4]
    lines[4] = lines[4].replace("ghost", "tenuto", 1)
    table.write_text("".join(lines), encoding="utf-8")
    assert marks_of(refreshed(work).held) == {3: "tenuto"}
