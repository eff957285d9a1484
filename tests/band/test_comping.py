"""Comping: every chord is stated, room is left, and no bar is played for ever."""

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from phrasing.band.comping import Comper, Hit, comp
from phrasing.band.form import form_of
from phrasing.band.plan import Plan, plan_of
from phrasing.feel import Comping, Feel
from phrasing.score.meters import TICKS
from tests.band.charts import chart

FOUR = "tempo: 150\n" + "| Cmaj7 | Am7 | Dm7 | G7 | Em7 A7 | Dm7 G7 | C6 | % " * 4 + "|"


def hits(text=FOUR, seed=0, instrument="piano", **settings) -> tuple[Plan, list[Hit]]:
    form = form_of(chart(text), count_in=0)
    plan = plan_of(form, Feel(), np.random.default_rng(seed))
    comper = Comper(plan, Comping(**settings), instrument, np.random.default_rng(seed))
    return plan, comper.hits()


def rhythm(plan, found):
    """For each bar in time, the quarters (from 1) at which a chord is struck."""
    in_time = [bar for bar in plan.form.bars if bar.onset < plan.stop]
    return [
        tuple((h.onset - bar.onset) / TICKS + 1 for h in found
              if bar.onset <= h.onset < bar.onset + bar.length)
        for bar in in_time
    ]  # fmt: skip


@pytest.mark.parametrize("instrument", ["piano", "guitar"])
@pytest.mark.parametrize("seed", range(5))
def test_every_chord_of_a_beat_or_more_is_struck_unless_its_bar_is_silent(seed, instrument):
    plan, found = hits(seed=seed, instrument=instrument)
    silent = {
        index
        for index, span in enumerate(plan.form.spans)
        if plan.beat_at(span.onset).bar in plan.silent
    }
    struck = {hit.span for hit in found}
    assert struck | silent == set(range(len(plan.form.spans)))
    assert silent - struck


@pytest.mark.parametrize("seed", range(5))
def test_in_a_silent_bar_nothing_is_struck_nor_rings_on(seed):
    plan, found = hits(seed=seed)
    assert plan.silent
    for index in plan.silent:
        bar = plan.form.bars[index]
        assert not [h for h in found if bar.onset <= h.onset < bar.onset + bar.length]
        assert not [h for h in found if h.onset < bar.onset < h.end]


def test_the_first_chord_of_a_chorus_is_never_kept_back():
    for seed in range(20):
        plan, _ = hits(seed=seed)
        starts = {plan.form.bars[index].onset for index in plan.silent}
        assert not starts & set(plan.form.choruses)


@pytest.mark.parametrize("seed", range(5))
def test_room_is_left(seed):
    plan, found = hits(seed=seed)
    bars = rhythm(plan, found)
    assert 1.0 <= np.mean([len(bar) for bar in bars]) <= 2.6
    assert max(len(bar) for bar in bars) <= 4


@pytest.mark.parametrize("instrument", ["piano", "guitar"])
def test_never_the_same_bar_for_ever(instrument):
    plan, found = hits("tempo: 150\n" + "| Dm7 | % | % | % " * 16 + "|", instrument=instrument)
    bars = rhythm(plan, found)
    runs = Counter()
    length = 1
    for before, after in pairwise(bars):
        length = length + 1 if before == after else 1
        runs[length] += 1
    assert max(runs) <= 4
    assert len(set(bars)) >= 8


def test_a_chord_may_come_early_on_the_and_before_and_is_not_struck_again_at_once():
    early = again = 0
    for seed in range(10):
        plan, found = hits(seed=seed)
        for hit, after in pairwise(found):
            if hit.early:
                early += 1
                span = plan.form.spans[hit.span]
                assert hit.onset < span.onset <= hit.onset + TICKS
                again += after.onset == span.onset and after.span == hit.span
    assert early > 20
    assert again == 0


def test_a_chord_ends_when_its_time_is_over():
    plan, found = hits()
    assert all(hit.onset < hit.end <= plan.form.spans[hit.span].end for hit in found)
    assert all(a.end <= b.onset for a, b in pairwise(found))


def test_nothing_is_struck_where_there_is_no_chord():
    plan, found = hits("tempo: 150\n| C | N.C. | % | F |")
    silent = next(span for span in plan.form.spans if not span.chord.sounds)
    assert not [h for h in found if silent.onset <= h.onset < silent.end and not h.early]
    assert all(plan.form.spans[hit.span].chord.sounds for hit in found)
    assert hits("| N.C. | % |")[1] == []


def test_the_guitar_plays_quarters_in_many_bars():
    plan, found = hits(instrument="guitar", chunk=0.6)
    bars = [bar for bar in rhythm(plan, found) if bar]
    quarters = [bar for bar in bars if bar == (1, 2, 3, 4)]
    assert 0.3 < len(quarters) / len(bars) < 0.8
    assert all(h.onset % TICKS == 0 for h in found if h.strummed)


def test_slow_chords_are_held():
    _, found = hits(FOUR.replace("150", "60"))
    assert min(hit.longest or TICKS for hit in found) >= TICKS


def test_the_last_chord_is_held_to_the_end():
    plan, found = hits()
    assert (found[-1].onset, found[-1].end) == (plan.form.final, plan.form.end)


def test_a_chord_is_rolled_from_below_within_a_few_milliseconds():
    form = form_of(chart(FOUR), count_in=0)
    plan = plan_of(form, Feel(), np.random.default_rng(0))
    strokes = comp(plan, Comping(roll=0.006), "piano", np.random.default_rng(0))
    first = [s for s in strokes if s.onset == strokes[0].onset]
    assert [s.after for s in first] == sorted(s.after for s in first)
    assert first[0].after == 0.0
    assert first[-1].after == pytest.approx(0.006)
    assert [s.pitch for s in first] == sorted(s.pitch for s in first)
