"""Takes without a click against the scores they were played from: see ``tests.takes_bench``.

A bounded sample of music21's tunes (BSD licence); the whole table is printed by the script.
"""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("music21")

from tests.outside.test_quantizing import tunes
from tests.takes_bench import Player, Score, read_take, recorded, spread, swingable

pytestmark = pytest.mark.outside
SAMPLE = 16


def scores(player: Player, folder: Path) -> list[Score]:
    chosen = spread(swingable() if player.swing else tunes(), SAMPLE)
    return [read_take(recorded(tune, player, i), folder) for i, tune in enumerate(chosen)]


def share(found: list[Score], what: str) -> float:
    return 100 * sum(getattr(s, what) for s in found) / sum(s.notes for s in found)


@pytest.mark.parametrize(
    ("player", "least"),
    [(Player(), 93.0), (Player(drift=0.05), 93.0), (Player(0.025, drift=0.05), 75.0)],
)
def test_takes_of_unknown_tempo_come_back_as_meant(
    player: Player, least: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    found = scores(player, tmp_path)
    right, naive = share(found, "any_level"), share(found, "naive")
    with capsys.disabled():
        print(
            f"\n  without a click, {player}: {right:.1f} % of onsets right at any level", end=""
        )
        print(f" ({naive:.1f} % by rounding, told the mean tempo)", end="")
    assert right >= least
    assert right > naive
    assert sum(s.swing is not None for s in found) <= 1


def test_swing_is_found_without_a_click(tmp_path: Path):
    found = scores(Player(0.020, swing=1.7), tmp_path)
    assert sum(s.swing is not None for s in found) >= 0.7 * SAMPLE
