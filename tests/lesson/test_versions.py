"""The versions of a melody beside each other."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from phrasing.app.folders import example
from phrasing.errors import PhrasingError
from phrasing.feel import Feel
from phrasing.lesson.lesson import Lesson, open_lesson
from phrasing.lesson.playalong import band_for, play_along
from phrasing.lesson.request import BandRequest, Request
from phrasing.lesson.versions import shaped_version, versions_of
from phrasing.marking.explaining import reasons
from phrasing.marking.precedence import RULE_NAMES, mark
from phrasing.marking.readings import READINGS
from phrasing.marking.table import marks_csv
from phrasing.page.facts import rule_uses
from phrasing.paper.musicxml import new_score
from phrasing.score.instruments import DEFAULT
from phrasing.score.melody import ChordSymbol, Grace
from tests.lines import melody


def lesson_of(
    words: str, meter: str = "4/4", pickup: int = 0, graces: tuple[Grace, ...] = ()
) -> Lesson:
    """A lesson of a melody in words."""
    line = replace(melody(words, meter, pickup=pickup), graces=graces)
    marking = mark(line)
    told = reasons(line, marking)
    return Lesson(Path("x.mid"), line, marking, Feel(), DEFAULT, told, written_reasons=told)


def test_plain_and_shaped_begin_every_note_at_the_same_instant():
    lesson = open_lesson(example(), Request())
    plain, shaped, straight = versions_of(lesson, Request(), straight=True)
    np.testing.assert_array_equal(plain.onset, shaped.onset)
    on_beat = lesson.melody.into_beat == 0
    np.testing.assert_allclose(plain.onset[on_beat], straight.onset[on_beat], atol=1e-9)
    off_beat = lesson.melody.in_bar % lesson.melody.beat_length == 480
    assert (plain.onset[off_beat] - straight.onset[off_beat] > 0.006).all()


def test_a_note_with_grace_notes_begins_where_it_is_written_itself():
    lesson = lesson_of("C5:2 D5:2 E5:4", graces=(Grace(1, (73, 75)),))
    version = shaped_version(lesson)
    np.testing.assert_allclose(version.onset, [0.0, 0.5, 1.0])
    assert len(version.struck) == 5


def test_over_a_band_times_count_from_the_melodys_first_bar():
    lesson = open_lesson(example(), Request())
    bars = [bar for bar in lesson.melody.bars if bar.number]
    chords = tuple(ChordSymbol(bar.onset, "F6") for bar in bars)
    lesson = replace(lesson, melody=replace(lesson.melody, chords=chords))
    band = band_for(lesson, BandRequest(count_in=1, ending="none"))
    version = replace(
        shaped_version(lesson),
        performance=play_along(lesson, band),
        lead=band.form.offset(0),
    )
    alone = shaped_version(lesson)
    late = version.onset - alone.onset
    on_beat = lesson.melody.in_bar % lesson.melody.beat_length == 0
    counted = np.interp(lesson.tempo, [140, 180], [0.025, 0.021])
    np.testing.assert_allclose(late[on_beat], counted, atol=0.001)
    assert version.part.program == lesson.instrument.program
    assert len(version.struck) > len(version.onset)
    assert version.struck[0] == pytest.approx(-version.starts)


def test_other_versions_leave_a_rule_out_or_take_a_marks_table(tmp_path: Path):
    request = Request()
    lesson = open_lesson(example(), request)
    rule = lesson.marking.rule.tolist()
    note = next(i for i, code in enumerate(rule) if code >= 0)
    rows = list(csv.DictReader(io.StringIO(marks_csv(*lesson.table))))
    rows[note]["mark"] = "tenuto"
    table = tmp_path / "top.csv"
    with table.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    versions = versions_of(
        lesson, request, without=("dip",), variants=(f"stress on top={table}",)
    )
    assert [v.name for v in versions] == ["plain", "shaped", "without dip", "stress on top"]
    without, variant = versions[2:]
    assert without.marking is not None
    assert without.marking.left_out == ("dip",)
    assert variant.reasons is not None
    assert "marked by hand" in str(variant.reasons[note])


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"variants": ("top.csv",)}, "write its name, “=” and its marks table"),
        ({"variants": ("=top.csv",)}, "write its name"),
        ({"variants": (f"{'x' * 41}=top.csv",)}, "a name has up to 40 letters"),
        ({"variants": ("mine=nowhere.csv",)}, "nowhere.csv"),
        ({"without": ("dip", "dip")}, "Two versions are named “without dip”"),
        ({"without": ("turns",)}, "turn"),
        (
            {"without": ("dip", "turn", "clipped-eighth", "enclosure", "pickup", "line-flow",
                         "phrase-arch", "phrase-peak")},
            "10 versions are too many",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_a_version_is_told_in_a_line(asked, words):
    lesson = open_lesson(example(), Request())
    with pytest.raises(PhrasingError, match=words) as told:
        versions_of(lesson, Request(), **asked)
    assert "\n" not in str(told.value)


def test_what_would_sound_the_same_is_no_version_and_one_sentence_says_so():
    request = Request(swing="straight")
    lesson = open_lesson(example(), request)
    unused = next(name for name in RULE_NAMES if name not in used_in(lesson))
    told: list[str] = []
    versions = versions_of(lesson, request, straight=True, without=(unused,), tell=told.append)
    assert [version.name for version in versions] == ["plain", "shaped"]
    assert len(told) == 2
    assert told[0].startswith("The eighths are even already")
    assert told[1].startswith(f"“{unused}” changes nothing in this melody")


def used_in(lesson) -> set[str]:
    """The rules without which the melody is marked or joined otherwise."""
    return {use.name for use in rule_uses(lesson, lesson.melody)}


def test_a_variant_that_sounds_like_another_version_is_refused(tmp_path: Path):
    lesson = open_lesson(example(), Request())
    table = tmp_path / "same.csv"
    table.write_text(marks_csv(*lesson.table), encoding="utf-8")
    with pytest.raises(PhrasingError, match="“mine” sounds the same as “shaped”"):
        versions_of(lesson, Request(), variants=(f"mine={table}",))


def test_each_second_reading_is_a_version_with_its_trade_off():
    lesson = open_lesson(example(), Request())
    versions = versions_of(lesson, Request(), readings=True)[2:]
    open_to = {READINGS[k].name for k in set(lesson.marking.reading.tolist()) if k >= 0}
    assert {version.name for version in versions} == open_to
    for version in versions:
        choice = next(each for each in READINGS if each.name == version.name)
        assert version.about == choice.trade_off
        assert version.marking is not None
        assert version.reasons is not None
        other = np.flatnonzero(version.marking.mark != lesson.marking.mark)
        assert len(other)
        assert all("as in the second reading" in str(version.reasons[i]) for i in other)
        assert {READINGS[k].name for k in lesson.marking.reading[other]} == {version.name}


def test_where_players_agree_there_is_no_second_reading_and_a_sentence_says_so(tmp_path: Path):
    chart = tmp_path / "held.musicxml"
    chart.write_bytes(new_score(melody("C5:8 D5:8"), None))
    lesson = open_lesson(chart, Request())
    told: list[str] = []
    assert len(versions_of(lesson, Request(), readings=True, tell=told.append)) == 2
    assert told == ["Schooled players agree on this melody: there is no second reading of it."]
