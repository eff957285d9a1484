"""Takes without a click against the scores they were played from: see ``tests.takes_bench``.

A bounded sample of music21's tunes (BSD licence); the whole table is printed by the script.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

pytest.importorskip("music21")

from tests.outside.test_quantizing import Tune
from tests.takes_bench import Player, Score, playable, score_of, spread, swingable

pytestmark = pytest.mark.outside
SAMPLE = 16


@cache
def scores(player: Player, of: Callable[[], list[Tune]] = playable) -> list[Score]:
    return [score_of((tune, player, i)) for i, tune in enumerate(spread(of(), SAMPLE))]


def share(found: list[Score], what: str) -> float:
    return 100 * sum(getattr(s, what) for s in found) / sum(s.notes for s in found)


STEADY, DRIFT = Player(), Player(drift=0.05)
LOOSE = Player(0.025, drift=0.05)


@pytest.mark.parametrize(
    ("player", "least", "at_any_level"), [(STEADY, 95, 97), (DRIFT, 95, 97), (LOOSE, 80, 80)]
)
def test_takes_of_unknown_tempo_come_back_as_meant(
    player: Player, least: float, at_any_level: float, capsys: pytest.CaptureFixture[str]
):
    found = scores(player)
    right, level, naive = (share(found, what) for what in ("right", "any_level", "naive"))
    with capsys.disabled():
        print(f"\n  without a click, {player}: {right:.1f} % of onsets right", end="")
        print(f", {level:.1f} % at any level", end="")
        print(f" ({naive:.1f} % by rounding, told the mean tempo)", end="")
    assert right >= least
    assert level >= at_any_level
    assert right > naive
    assert sum(s.swing is not None for s in found) <= 1


@pytest.mark.parametrize("player", [STEADY, DRIFT, LOOSE])
def test_a_take_that_is_read_poorly_says_so(player: Player, capsys: pytest.CaptureFixture[str]):
    said: dict[bool, list[bool]] = {True: [], False: []}
    for score in scores(player):
        said[score.poor].append(score.warning)
    with capsys.disabled():
        print(f"\n  {player}: doubt is said of {sum(said[True])} of {len(said[True])}", end="")
        print(f" read poorly, {sum(said[False])} of {len(said[False])} others", end="")
    assert all(said[True])
    assert sum(said[False]) <= 0.6 * len(said[False])


def test_swing_is_found_without_a_click():
    found = scores(Player(0.020, swing=1.7), swingable)
    assert sum(s.swing is not None for s in found) >= 0.8 * SAMPLE


def test_a_take_that_is_even_and_then_swung_is_found_to_change():
    player = Player(swing=1.7, second_half=True, click=140.0)
    assert sum(s.passages for s in scores(player, swingable)) >= 0.8 * SAMPLE
    assert share(scores(player, swingable), "right") >= 94
