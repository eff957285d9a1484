"""Passages in even eighths and passages in swing, in one take."""

from __future__ import annotations

import numpy as np
import pytest

from phrasing.reading.midi.quantizing import Quantized, quantize
from phrasing.reading.midi.rhythm import EVEN
from phrasing.score.meters import TICKS, Floats, Meter, TempoMap, bars_of_meters

BARS = 8
LINE = [0, 0.5, 1, 1.5, 2, 3, 3.5]
"""Quarters of one bar."""
WRITTEN = np.array([4 * bar + at for bar in range(2 * BARS) for at in LINE])
TEMPO = 150.0


def played(swung: Floats, jitter: float, ratio: float = 1.7, seed: int = 1) -> Quantized:
    """Sixteen bars with swing in the places ``swung``; ``jitter`` in seconds."""
    late = (ratio / (1 + ratio) - 0.5) * (WRITTEN % 1 == 0.5) * swung
    noise = np.random.default_rng(seed).normal(0, jitter * TEMPO / 60, len(WRITTEN))
    onset = np.maximum.accumulate(np.maximum(WRITTEN + late + noise, 0) * TICKS)
    bars = bars_of_meters({0: Meter()}, 2 * BARS * 4 * TICKS)
    return quantize(onset, onset + 0.4 * TICKS, bars, TempoMap((0,), (TEMPO,)))


BEFORE = WRITTEN < 4 * BARS


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("jitter", [0.008, 0.015])
@pytest.mark.parametrize("swung", [BEFORE, ~BEFORE], ids=["swung first", "even first"])
def test_each_passage_is_read_as_it_is_played(swung: Floats, jitter: float, seed: int):
    found = played(swung, jitter, seed=seed)
    assert (found.onset == np.rint(WRITTEN * TICKS)).mean() > 0.98
    first, second = found.passages
    assert ((first.swing, second.swing)[int(swung[0])]) == EVEN
    assert found.swing == pytest.approx(1.7, rel=0.12)
    assert second.after < 4 * BARS * TICKS <= second.latest
    assert min(first.odds, second.odds) > 3


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("share", [0, 1])
def test_one_feel_throughout_has_no_passages(share: int, seed: int):
    found = played(np.full(len(WRITTEN), share), 0.020, seed=seed)
    assert not found.passages
    assert (found.swing is not None) == bool(share)


def test_dotted_eighths_are_no_swung_passage():
    found = played(~BEFORE, 0.008, ratio=3.0)
    assert not found.passages


def test_passages_move_with_their_notes():
    found = played(BEFORE, 0.010)
    later = found.later(TICKS)
    assert (later.onset - found.onset).tolist() == [TICKS] * len(WRITTEN)
    assert later.passages[1].begin == found.passages[1].begin + TICKS
    assert later.passages[0].begin == 0
