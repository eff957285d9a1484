"""What the practice page knows of a step."""

from __future__ import annotations

import numpy as np
import pytest

from phrasing.lesson.exercises import Ladder, exercises
from phrasing.page.practice import Entry, _bars
from tests.lesson.test_playalong import lesson

LINE = "C5:2 D5:2 E5:2 C5:2 " * 4
STARTS = 0.25


@pytest.fixture(scope="module")
def steps():
    found = exercises(lesson(LINE), Ladder(60, 100, 20), keys=("F",), players=("drums",))
    return [step for step in found if step.later is not None and step.sung is not None]


def test_the_bars_of_a_step_lie_where_its_notes_are_heard(steps):
    """Each note of the melody is heard in its own bar; a step may end on the note after."""
    assert len(steps) > 3
    for step in steps:
        told = _bars(Entry("", "", "", 1.0, step, starts=STARTS), step)
        low, high = step.bars
        assert len(told["names"]) == len(told["times"]) == high - low + 1
        assert told["times"][0][0] >= STARTS
        heard = np.asarray(step.performance.tempos.seconds(step.sung.onset)) + STARTS
        bars = step.lesson.melody.bar_index[step.sung.source]
        assert low in bars
        for second, bar in zip(heard.tolist(), bars.tolist(), strict=True):
            if low <= bar <= high:
                begin, end = told["times"][bar - low]
                assert begin - 0.05 <= second < end
