"""After a change only the touched systems are drawn, and they look as in the whole."""

from __future__ import annotations

import random
import re
import shutil
from pathlib import Path

import pytest

from phrasing.desk.inking import Ink
from phrasing.desk.keeping import opened
from phrasing.desk.work import changed, kept_reading
from phrasing.errors import PhrasingError
from phrasing.lesson.request import Request
from phrasing.page.score import scale_for
from phrasing.score.marks import MARK_NAMES
from tests.desk.test_keeping import EXAMPLES

LAYOUT = "slim"


@pytest.fixture(params=["late_bus_home.mid", "caretakers_keys.musicxml"])
def work(tmp_path, request):
    return opened(Path(shutil.copy(EXAMPLES / request.param, tmp_path)), Request())


def rounded(svg: str) -> str:
    """A system with its numbers in tenths of a unit: where it stood on its page, which moves by
    thousandths, leaves a trace in the last decimals."""
    return re.sub(
        r"-?\d+(\.\d+)?", lambda n: f"{float(n[0]) + 0.0:.1f}".replace("-0.0", "0.0"), svg
    )


@pytest.mark.long
def test_touched_systems_look_as_in_the_whole(work):
    """Where its lines and its scale are those of before: a mark may make a bar too wide for its
    line, and with the softest block the scale would end sooner."""
    chance, ink, edition, few, same = random.Random(3), Ink(), 1, 0, 0
    scale = scale_for(work.versions)
    systems = ink.draw(work, edition, LAYOUT)["layouts"][LAYOUT]
    for edition in range(2, 10):
        note = chance.randrange(len(work.read) - 6)
        sets = [
            {f"mark:{note}": chance.choice(MARK_NAMES)},
            {f"level:{note}": chance.choice([-3, 1, 4])},
            {f"line:slur:{note}:{note + 5}": True},
            {f"line:softer:{note}:{note + 5}": True},
        ]
        work = changed(work, sets[edition % 4])
        new = ink.draw(work, edition, LAYOUT, edition - 1)
        few += len(new["layouts"][LAYOUT]) < len(systems)
        systems |= new["layouts"][LAYOUT]
        whole = Ink().draw(work, edition, LAYOUT)
        assert new["counts"] == whole["counts"]
        drawn = whole["layouts"][LAYOUT]
        if len(new["layouts"][LAYOUT]) == len(systems):
            scale = scale_for(work.versions)
        if scale_for(work.versions) != scale:
            continue
        same += 1
        assert {k: rounded(systems[k]) for k in drawn} == {k: rounded(drawn[k]) for k in drawn}
        assert new["glyphs"].items() <= whole["glyphs"].items()
    assert few >= 4
    assert same >= 4


@pytest.mark.long
def test_another_edition_another_tempo_or_key_is_drawn_whole(work):
    ink = Ink()
    count = len(ink.draw(work, 1, LAYOUT)["layouts"][LAYOUT])
    assert len(ink.draw(work, 1, LAYOUT, 1)["layouts"][LAYOUT]) == 0
    assert len(ink.draw(work, 2, LAYOUT, 7)["layouts"][LAYOUT]) == count
    moved = changed(work, {"ask:transpose": "up a fourth"})
    assert len(ink.draw(moved, 3, LAYOUT, 2)["layouts"][LAYOUT]) == count


def test_there_is_no_such_layout(work):
    with pytest.raises(PhrasingError, match="no such layout"):
        Ink().draw(work, 1, "../broad")


def test_a_reading_more_or_less_is_drawn_whole(work):
    """The versions are other ones, though no note has moved."""
    ink = Ink()
    count = len(ink.draw(work, 1, LAYOUT)["layouts"][LAYOUT])
    more = kept_reading(work, "mine")
    assert len(ink.draw(more, 2, LAYOUT, 1)["layouts"][LAYOUT]) == count
    assert len(ink.draw(work, 3, LAYOUT, 2)["layouts"][LAYOUT]) == count
