"""What each step on the desk is called, in a teacher's words."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from phrasing.desk.keeping import opened
from phrasing.desk.told import touched
from phrasing.desk.work import changed, sentence
from phrasing.lesson.request import Request

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    place = tmp_path_factory.mktemp("desk")
    return opened(Path(shutil.copy(EXAMPLES / "late_bus_home.mid", place)), Request())


@pytest.mark.parametrize(
    "sets,said",
    [
        ({"feel:sounds.ghost.level": -7.0}, "ghost level: -7"),
        ({"feel:band.drums.skip": 3.0}, "band drums skip: 3"),
        ({"feel:line.off_beat": None}, "line off beat: as usual"),
        ({"ask:tempo": 150}, "tempo: 150"),
        ({"rule:leap-up": True}, "the rule leap up rests"),
        ({"rule:leap-up": None}, "the rule leap up plays again"),
        ({"mark:3": None}, "bar 1, and of 1, A4: given back to the rules"),
        ({"mark:3": "accent"}, "bar 1, and of 1, A4: no mark became accent"),
        (
            {"mark:3": "ghost", "mark:4": "ghost"},
            "2 notes from bar 1, and of 1, A4: became ghost",
        ),
        ({"mark:3": "ghost", "mark:4": None}, "2 notes from bar 1, and of 1, A4: changed"),
        ({"ask:tempo": 150, "rule:dip": True}, "tempo: 150; the rule dip rests"),
        (
            {"ask:tempo": 150, "rule:dip": True, "rule:turn": True, "rule:leap-up": True},
            "tempo: 150; the rule dip rests; the rule turn rests; and more",
        ),
    ],
)
def test_a_step_is_said_in_words(work, sets, said):
    assert sentence(work, sets) == said


def test_a_change_is_heard_until_the_longer_of_its_two_sounds_ends(work):
    """Cut short or held out: the stretch is the same, whichever of the two is now."""
    short, long = (changed(work, {"gate:5": gate}) for gate in (0.3, 1.0))
    assert touched(short, long) == touched(long, short)
    begin, end = touched(short, long)
    assert end - begin > 0.8 * (touched(work, long)[1] - begin)
    released = max(v.versions[1].release[5] for v in (short, long))
    assert end >= released
