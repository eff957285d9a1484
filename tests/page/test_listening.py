"""The listening page as a text: what is in it, what it may do, how big it is."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from phrasing.app.folders import example as example_file
from phrasing.app.folders import write_listening_page
from phrasing.files import Plan
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.request import Request, SoundForm
from phrasing.lesson.versions import versions_of
from phrasing.page.facts import example, facts, rule_uses
from phrasing.page.listening import _bar_in_words, listening_page
from phrasing.page.recordings import mp3_delay
from phrasing.page.score import LAYOUTS, draw_score
from phrasing.score.transposing import as_written
from phrasing.score.words import name_at
from tests.lesson.test_versions import lesson_of
from tests.lines import melody


@pytest.fixture(scope="module")
def silent() -> str:
    """The example's page without its sound."""
    lesson = open_lesson(example_file(), Request())
    return listening_page(lesson, versions_of(lesson, Request(), straight=True), None)


@pytest.mark.long
def test_32_bars_in_three_versions_are_under_3_mb(tmp_path: Path):
    bar = "C5:1 D5:1 E5:1 G5:1 F5:2 A4:1 B4:1 "
    lesson = lesson_of(bar * 32)
    assert len(lesson.melody.bars) == 32
    path = tmp_path / "listen.html"
    versions = versions_of(lesson, Request(), straight=True)
    assert write_listening_page(lesson, versions, Plan.of_file(path), SoundForm()) is None
    assert path.stat().st_size < 3_000_000


@pytest.mark.long
def test_same_wishes_same_bytes(tmp_path: Path):
    lesson = open_lesson(example_file(), Request(only="1-2"))
    pages = []
    for name in ("a.html", "b.html"):
        plan = Plan.of_file(tmp_path / name)
        write_listening_page(lesson, versions_of(lesson, Request()), plan, SoundForm())
        pages.append((tmp_path / name).read_bytes())
    assert pages[0] == pages[1]


def test_policy_allows_the_pages_own_script_and_style_and_nothing_else(silent):
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', silent)
    assert policy
    rules = dict(rule.strip().split(" ", 1) for rule in policy[1].split(";"))
    style = re.findall(r"<style>(.*?)</style>", silent, re.S)
    script = re.findall(r"<script>(.*?)</script>", silent, re.S)
    for name, found in (("style-src", style), ("script-src", script)):
        assert len(found) == 1
        digest = base64.b64encode(hashlib.sha256(found[0].encode()).digest()).decode()
        assert rules.pop(name) == f"'sha256-{digest}'"
    assert rules.pop("img-src") == rules.pop("font-src") == "data:"
    assert set(rules.values()) == {"'none'"}
    assert rules["default-src"] == "'none'"


def test_page_names_nothing_outside_itself(silent):
    links = re.findall(r"""(?:href|src|action|data)=["']([^"']*)""", silent)
    assert {link for link in links if not link.startswith("#")} == {"data:,"}
    addresses = set(re.findall(r"https?://[^\s\"'<>]+", silent))
    assert addresses <= {"http://www.w3.org/2000/svg"}
    assert not re.search(r"\sstyle=|\son\w+=|@import|url\((?!data:)", silent)


def test_ids_are_given_once(silent):
    ids = re.findall(r'\sid="([^"]*)"', silent)
    assert len(ids) == len(set(ids))


def test_title_that_would_end_the_script_or_the_line_does_neither():
    title = "</script><!--\u2028\u2029<script>&{{facts}}"
    lesson = lesson_of("C5:1 D5:1 E5:2")
    lesson = replace(lesson, melody=replace(lesson.melody, title=title))
    lesson = replace(lesson, written_reasons=(title, None, title))
    text = listening_page(lesson, versions_of(lesson, Request()), None)
    found = re.findall(r'<script type="application/json" id="facts">(.*?)</script>', text, re.S)
    assert len(found) == 1
    assert not set("<>&\u2028\u2029") & set(found[0])
    assert json.loads(found[0])["versions"][1]["why"] == [title, None, title]
    assert text.count("<script") == 2
    assert "&lt;/script&gt;&lt;!--" in text
    assert "{{facts}}" in text


# What the scripts are told


def test_times_are_those_of_the_performances():
    lesson = open_lesson(example_file(), Request())
    versions = versions_of(lesson, Request(), straight=True)
    told = facts(lesson, lesson.melody, versions, rule_uses(lesson, lesson.melody))
    for known, version in zip(told["versions"], versions, strict=True):
        part = version.performance.parts[0]
        seconds = version.performance.tempos.seconds
        np.testing.assert_allclose(known["onset"], seconds(part.onset), atol=1e-5)
        np.testing.assert_allclose(known["release"], seconds(part.release), atol=1e-5)
    bars = told["bars"]
    assert all(a["to"] == b["from"] for a, b in pairwise(bars))


def test_a_bar_is_counted_in_by_its_beats_and_a_pickup_by_those_before_it():
    lesson = lesson_of("C5:1 D5:1 E5:2 F5:2 G5:2 A5:2", pickup=2)
    bars = facts(lesson, lesson.melody, versions_of(lesson, Request()), [])["bars"]
    assert [(bar["number"], bar["count"], bar["meter"]) for bar in bars] == [
        (0, 7, 4),
        (1, 4, 4),
    ]
    assert bars[0]["beat"] == pytest.approx(0.5)


def test_sixths_are_counted_in_dotted_quarters():
    lesson = lesson_of("C5:3 D5:3", "6/8")
    bar = facts(lesson, lesson.melody, versions_of(lesson, Request()), [])["bars"][0]
    assert (bar["count"], bar["meter"], bar["beat"]) == (2, 2, 0.75)


def test_rules_are_listed_with_all_their_notes():
    lesson = open_lesson(example_file(), Request())
    uses = rule_uses(lesson, lesson.melody)
    marked = [note for use in uses if use.effect is None for note in use.notes]
    assert sorted(marked) == np.flatnonzero(lesson.marking.rule >= 0).tolist()
    falls = next(use for use in uses if use.name == "descending-run")
    assert falls.runs == tuple((s.first, s.last) for s in lesson.marking.swells)


def test_a_rule_that_is_left_out_is_not_listed():
    request = Request(leave_out=("line-flow", "phrase-arch"))
    lesson = open_lesson(example_file(), request)
    names = [use.name for use in rule_uses(lesson, lesson.melody)]
    assert not {"line-flow", "phrase-arch"} & set(names)


def test_an_example_is_whole_bars_with_what_leads_to_the_note_and_what_it_leads_to():
    line = melody("C5:8 D5:4 r:4 E5:2 F5:6 G5:8", tempo=120)
    assert example(line, 0, 0) == (0.0, 4.0)
    assert example(line, 1, 1) == (0.0, 4.0)
    assert example(line, 2, 2) == (4.0, 6.0)
    assert example(line, 3, 3) == (4.0, 8.0)
    assert example(line, 4, 4) == (4.0, 8.0)


def test_delay_of_a_decoder_that_trims_nothing_is_in_the_encoders_tag():
    head = b"\xff\xfb" + bytes(150) + b"LAME3.100" + bytes(12) + b"\x24\x03\xc0"
    assert mp3_delay(head) == 576 + 529
    assert mp3_delay(bytes(2000)) == 529


# The score


def test_every_note_has_a_spot_in_each_layout_and_a_tied_one_several():
    lesson = lesson_of("C5:6 D5:4 E5:6 " + "C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 B5:1 C6:1 " * 5)
    score = draw_score(lesson, lesson.melody, versions_of(lesson, Request()), shown=1)
    assert set(score.layouts) == set(LAYOUTS)
    for systems in score.layouts.values():
        text = "".join(systems)
        spots = re.findall(r'<rect[^>]*class="spot"[^>]*data-note="(\d+)"', text)
        assert sorted(set(map(int, spots))) == list(range(len(lesson.melody)))
        assert spots.count("1") == 2
        assert text.count("data-tied") == 1
        bars = re.findall(r'class="bar"[^>]*data-bar="(\d+)"', text)
        assert list(map(int, bars)) == list(range(len(lesson.melody.bars)))
    counts = [len(systems) for systems in score.layouts.values()]
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]


def test_notes_are_named_as_the_player_reads_them():
    lesson = open_lesson(example_file(), Request(instrument="alto-sax"))
    read = as_written(lesson.melody, lesson.instrument)
    text = listening_page(lesson, versions_of(lesson, Request(instrument="alto-sax")), None)
    known = re.search(r'id="facts">(.*?)</script>', text, re.S)
    assert known
    first = json.loads(known[1])["notes"][0]["name"]
    assert first == name_at(read, 0) != name_at(lesson.melody, 0)
    assert "Notes are named as written for the Alto" in text


def test_each_note_is_said_in_the_words_of_its_own_bar():
    lesson = open_lesson(example_file(), Request())
    melody, said = lesson.melody, 0
    for index, bar in enumerate(melody.bars):
        words = _bar_in_words(lesson, melody, bar)
        own = np.flatnonzero(melody.bar_index == index)
        said += len(own)
        assert words.count(";") == max(len(own) - 1, 0)
        assert all(name_at(melody, i) in words for i in own.tolist())
    assert said == len(melody)
