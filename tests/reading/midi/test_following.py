"""Beats followed in notes without a click. Times in seconds, rhythms in quarters."""

import numpy as np
import pytest

from phrasing.reading.midi.following import courses, smoothed, usual_figures
from phrasing.reading.midi.rhythm import COMPOUND, SIMPLE
from phrasing.score.meters import Floats

BAR = (0.0, 0.5, 1.0, 2.0, 2.5, 3.0, 3.5)
JIG = (0.0, 1.0, 1.5, 2.5)


def played(bar: tuple[float, ...], length: float, period: Floats, jitter: float) -> Floats:
    """Bars one after the other; ``period``: seconds of each quarter in turn."""
    quarters = np.concatenate([np.array(bar) + i * length for i in range(16)])
    edges = np.concatenate([[0.0], np.cumsum(period)])
    at = np.interp(quarters, np.arange(len(edges)), edges)
    return np.sort(at + np.random.default_rng(3).normal(0, jitter, len(at)))


@pytest.mark.parametrize("tempo", [92, 124, 170, 198])
def test_a_steady_beat_is_found_at_any_tempo(tempo: float):
    onset = played(BAR, 4, np.full(64, 60 / tempo), 0.010)
    found = [60 / course.beat_length for course in courses(onset) if course.kind == SIMPLE]
    assert min(abs(other / tempo - 1) for other in found) < 0.03


def test_a_beat_that_slows_down_and_hurries_is_followed():
    period = 0.45 * (1 + 0.08 * np.sin(np.arange(64) / 6))
    onset = played(BAR, 4, period, 0.012)
    beats = smoothed(onset, courses(onset)[0])
    wanted = np.concatenate([[0.0], np.cumsum(period)])[:60]
    assert np.abs(beats[:60] - wanted).max() < 0.030


def test_beats_of_three_eighths_are_followed_too():
    onset = played(JIG, 3, np.full(64, 0.4), 0.010)
    best = next(course for course in courses(onset) if course.kind == COMPOUND)
    assert best.beat_length == pytest.approx(0.6, rel=0.03)
    assert smoothed(onset, best)[0] == pytest.approx(0.0, abs=0.03)


def test_swung_pairs_are_one_beat():
    late = tuple(at + 0.14 * (at % 1 == 0.5) for at in BAR)
    found = courses(played(late, 4, np.full(64, 0.4), 0.010))
    best = next(c for c in found if c.beat_length == pytest.approx(0.4, rel=0.03))
    assert any(best.figures[figure].is_swung for figure in best.figure)


def test_a_long_rest_does_not_lose_the_beat():
    onset = played(BAR, 4, np.full(64, 0.5), 0.008)
    later = np.where(np.arange(len(onset)) >= 56, onset + 4.0, onset)
    beats = smoothed(later, courses(later)[0])
    assert np.abs(beats[-8:] % 0.5 - 0.25).min() > 0.2


def test_a_figure_costs_more_the_rarer_it_is():
    whole, pair = usual_figures(SIMPLE)[:2]
    assert whole.cost[1] < pair.cost[3] < pair.cost[2]
    assert all(len(f.cost) == 1 << len(f.points) for f in usual_figures(COMPOUND))
