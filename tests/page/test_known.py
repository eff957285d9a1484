"""What a page knows and shows of a melody is what was looked at."""

from __future__ import annotations

import re
from importlib.metadata import version

import pytest

from phrasing.app.folders import example
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.request import Request
from phrasing.lesson.versions import plain_version, shaped_version
from phrasing.page.facts import facts, rule_uses
from phrasing.page.score import LAYOUTS, draw_score
from phrasing.score.transposing import as_written

ENGRAVER = f"verovio {version('verovio')}"


@pytest.fixture(scope="module")
def lesson():
    return open_lesson(example(), Request(instrument="alto-sax"))


def test_known_facts(lesson, known):
    read = as_written(lesson.melody, lesson.instrument)
    uses = rule_uses(lesson, read)
    told = facts(lesson, read, [plain_version(lesson), shaped_version(lesson)], uses)
    found = {name: [repr(each) for each in told[name]] for name in ("bars", "notes", "rules")}
    for each in told["versions"]:
        found |= {f"{each['name']} {column}": value for column, value in each.items()}
    known("page-facts", found)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_known_scores(lesson, layout, known):
    """Of the numbers tenths make a difference."""
    versions = [plain_version(lesson), shaped_version(lesson)]
    read = as_written(lesson.melody, lesson.instrument)
    score = draw_score(lesson, read, versions, shown=1, only=layout)
    rounded = (
        re.sub(r"-?\d+\.\d+", lambda number: f"{float(number[0]) + 0.0:.1f}", system)
        for system in score.layouts[layout]
    )
    found = {f"system {k}": system for k, system in enumerate(rounded)}
    known(f"page-{layout}", found, made_by=ENGRAVER)
