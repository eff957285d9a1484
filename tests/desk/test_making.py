"""What the desk makes is what the command line makes."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from phrasing.desk.keeping import keep, opened
from phrasing.desk.making import THINGS, make
from phrasing.desk.work import changed
from phrasing.errors import PhrasingError
from phrasing.lesson.request import Request

EXAMPLES = Path(__file__).parents[2] / "examples"
pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    folder = tmp_path_factory.mktemp("making")
    tune = Path(shutil.copy(EXAMPLES / "caretakers_keys.musicxml", folder))
    found = changed(
        opened(tune, Request()), {"mark:3": "ghost", "ask:tempo": 120, "rule:dip": False}
    )
    keep(found)
    return found


@pytest.mark.parametrize("what", [name for name in THINGS if name != "practice"])
def test_a_thing_is_made_and_made_again(work, what):
    for _ in range(2):
        said = make(work, what)
    for place, _ in THINGS[what]:
        name = place.format(stem="caretakers_keys")
        assert f"“{name}”" in said
        assert (work.path.parent / name).exists()


def test_what_cannot_be_made_is_told_in_the_commands_own_sentence(tmp_path):
    tune = Path(shutil.copy(EXAMPLES / "late_bus_home.mid", tmp_path))
    with pytest.raises(PhrasingError, match="no chord symbols"):
        make(opened(tune, Request()), "backing")
    with pytest.raises(PhrasingError, match="out of date"):
        make(opened(tune, Request()), "coffee")
