"""The drums: ride, hi-hat foot, set-ups, brushes, waltz, two-beat, and an end."""

from collections import Counter

import numpy as np
import pytest

from phrasing.band import drums as kit
from phrasing.band.drums import Drummer
from phrasing.band.form import form_of
from phrasing.band.plan import Plan, plan_of
from phrasing.band.strokes import Stroke
from phrasing.feel import Drums, Feel
from phrasing.score.meters import TICKS
from tests.band.charts import chart

FOUR = "tempo: 150\n" + "| Cmaj7 | Am7 | Dm7 | G7 | Em7 | A7 | Dm7 | G7 " * 4 + "|"


def drums(text=FOUR, seed=0, two=False, choruses=1, **settings) -> tuple[Plan, list[Stroke]]:
    form = form_of(chart(text), choruses=choruses, count_in=0)
    plan = plan_of(form, Feel(), np.random.default_rng(seed), head_in_two=two)
    return plan, Drummer(plan, Drums(**settings), np.random.default_rng(seed)).play()


def spots(plan, strokes, key, bars=slice(None)):
    """For each bar in time, the quarters (from 1) at which a drum is struck."""
    in_time = [bar for bar in plan.form.bars if bar.onset < plan.stop][bars]
    return [
        sorted((s.onset - bar.onset) / TICKS + 1 for s in strokes
               if s.pitch == key and bar.onset <= s.onset < bar.onset + bar.length)
        for bar in in_time
    ]  # fmt: skip


def test_the_ride_plays_its_pattern_most_of_all_but_not_always():
    plan, strokes = drums()
    figures = Counter(tuple(bar) for bar in spots(plan, strokes, kit.RIDE, slice(0, -2)))
    assert figures.most_common(1)[0][0] == (1, 2, 2.5, 3, 4, 4.5)
    assert 0.35 < figures.most_common(1)[0][1] / sum(figures.values()) < 0.85
    assert all({1, 2, 3, 4} <= set(bar) for bar in figures)


def test_the_hi_hat_foot_is_on_two_and_four_in_every_bar():
    plan, strokes = drums()
    assert all(bar == [2, 4] for bar in spots(plan, strokes, kit.PEDAL))


def test_the_bass_drum_is_feathered_far_below_the_ride():
    plan, strokes = drums(comping=0.0)
    assert all({1, 2, 3, 4} <= set(bar) for bar in spots(plan, strokes, kit.KICK))
    feathered = [s.level for s in strokes if s.pitch == kit.KICK]
    assert (
        np.median(feathered)
        <= np.median([s.level for s in strokes if s.pitch == kit.RIDE]) - 10
    )


def test_the_snare_comments_in_some_bars_and_differently():
    plan, strokes = drums(comping=0.55)
    bars = [tuple(bar) for bar in spots(plan, strokes, kit.SNARE, slice(0, -2))]
    assert 0.2 < sum(map(bool, bars)) / len(bars) < 0.9
    assert len(set(bars)) >= 6


def test_a_set_up_before_each_section_and_a_cymbal_on_a_new_chorus():
    text = "tempo: 150\nA:\n| C | F | C | G7 |\nB:\n| C | F | C | G7 |\n"
    plan, strokes = drums(text, choruses=2, comping=0.0)
    snare = spots(plan, strokes, kit.SNARE)
    filled = [index for index, bar in enumerate(snare) if bar]
    assert filled[:3] == [3, 7, 11]
    assert all(spot >= 3 for index in filled[:3] for spot in snare[index])
    crashes = [s.onset for s in strokes if s.pitch == kit.CRASH]
    assert crashes == [plan.form.choruses[1], plan.form.final]


def test_a_waltz():
    plan, strokes = drums("tempo: 150\nmeter: 3/4\n" + "| C | F | C | G7 " * 16 + "|")
    rides = Counter(tuple(bar) for bar in spots(plan, strokes, kit.RIDE, slice(0, -2)))
    assert rides.most_common(1)[0][0] == (1, 2, 2.5, 3)
    assert all(bar == [2] for bar in spots(plan, strokes, kit.PEDAL))


def test_two_beat_for_the_head_on_the_hi_hat():
    plan, strokes = drums(FOUR, two=True, choruses=2)
    head = slice(0, 32)
    assert all(bar == [] for bar in spots(plan, strokes, kit.RIDE, head))
    assert all({1, 3} <= set(bar) for bar in spots(plan, strokes, kit.OPEN, head))
    assert all({2, 4} <= set(bar) for bar in spots(plan, strokes, kit.CLOSED, head))
    assert all(len(bar) >= 4 for bar in spots(plan, strokes, kit.RIDE, slice(32, 60)))


def test_brushes_where_it_is_slow():
    plan, strokes = drums(FOUR.replace("150", "66"))
    assert plan.brushes
    assert all(bar == [1, 2, 3, 4] for bar in spots(plan, strokes, kit.SWIRL, slice(0, -2)))
    assert all(bar == [2, 4] for bar in spots(plan, strokes, kit.SLAP, slice(0, -2)))
    assert not [s for s in strokes if s.pitch == kit.RIDE]
    assert not drums()[0].brushes


def test_at_a_fast_tempo_the_ride_plays_mostly_quarters():
    plan, strokes = drums(FOUR.replace("150", "320"))
    bars = spots(plan, strokes, kit.RIDE, slice(0, -2))
    assert sum(bar == [1, 2, 3, 4] for bar in bars) / len(bars) > 0.5


def test_no_drum_is_struck_twice_at_once():
    for seed in range(5):
        _, strokes = drums(seed=seed, choruses=2)
        struck = Counter((s.onset, s.pitch) for s in strokes)
        assert max(struck.values()) == 1


def test_later_choruses_grow():
    plan, strokes = drums(choruses=3)
    rides = [s for s in strokes if s.pitch == kit.RIDE and s.onset < plan.stop]
    levels = [
        np.median([s.level for s in rides if start <= s.onset < start + 64 * TICKS])
        for start in plan.form.choruses
    ]
    assert levels == sorted(levels)
    assert levels[0] < levels[2] <= levels[0] + Feel().band.most_growth


def test_broken_time_is_struck_together_with_the_others():
    plan, strokes = drums()
    onsets = {s.onset for s in strokes if s.pitch in (kit.KICK, kit.SNARE) and s.level > -8}
    for hits in plan.broken.values():
        assert set(hits) <= onsets


def test_it_all_ends_on_one_cymbal():
    plan, strokes = drums()
    final = plan.form.final
    assert final is not None
    assert {s.pitch for s in strokes if s.onset >= final} == {kit.CRASH, kit.KICK}
    assert max(s.end for s in strokes) == plan.form.end


@pytest.mark.parametrize("seed", [0, 1])
def test_one_seed_one_performance(seed):
    assert drums(seed=seed)[1] == drums(seed=seed)[1]
    assert drums(seed=seed)[1] != drums(seed=seed + 1)[1]
