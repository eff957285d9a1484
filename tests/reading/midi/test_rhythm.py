import numpy as np

from phrasing.reading.midi import rhythm
from phrasing.reading.midi.rhythm import beats_of
from phrasing.score.meters import TICKS, Meter, bars_of_meters

BARS = bars_of_meters({}, 16 * TICKS)
NOISE = 20.0


def placed(*onset: float, swing: float = 0.5, bars=BARS) -> rhythm.OnGrids:
    return rhythm.place(np.array(onset, dtype=np.float64), beats_of(bars), swing)


def test_beats_of_a_pickup_begin_where_the_meter_says():
    beats = beats_of(bars_of_meters({}, 4000, 480))
    assert beats.start[:3].tolist() == [-480, 480, 1440]
    assert beats.length[:2].tolist() == [960, 960]


def test_a_short_bar_ends_its_last_beat():
    beats = beats_of(bars_of_meters({0: Meter(4, 4), 3360: Meter(4, 4)}, 7000))
    assert beats.start[2:5].tolist() == [1920, 2880, 3360]
    assert beats.length[3] == 480


def test_beats_of_compound_and_short_meters():
    assert set(beats_of(bars_of_meters({0: Meter(6, 8)}, 5760)).full.tolist()) == {1440}
    assert set(beats_of(bars_of_meters({0: Meter(5, 8)}, 5760)).full.tolist()) == {480}


def test_every_divisor_of_a_grid_is_a_grid():
    for row in rhythm.BY_KIND:
        parts = {grid.parts for grid in row[: rhythm.RAGGED_SLOT]}
        for count in parts:
            assert {d for d in range(1, count) if count % d == 0} <= parts, count


def test_a_rhythm_is_possible_on_its_plainest_grid_alone():
    found = placed(0, 480)
    fits = found.possible[0] & (found.off == 0).all(axis=0)
    assert [rhythm.QUARTER_GRIDS[slot].parts for slot in np.flatnonzero(fits)] == [2, 48]


def test_a_note_early_to_the_next_beat_has_no_part_in_the_rhythm_of_its_own():
    alone, with_it = placed(0, 480, 1920), placed(0, 480, 955, 1920)
    assert with_it.pattern[0, rhythm.PAIRS] == alone.pattern[0, rhythm.PAIRS]
    assert with_it.prior[0, rhythm.PAIRS] == alone.prior[0, rhythm.PAIRS]


def test_two_notes_cannot_share_a_place():
    (possible,) = placed(0, 100).possible
    assert not possible[0]
    assert not possible[1]


def test_a_swung_off_beat_takes_the_middle():
    (point, off) = placed(0, 595, swing=0.62).chosen(np.array([rhythm.PAIRS]))
    assert point.tolist() == [0, 480]
    assert np.allclose(off, [0, -0.2])


def test_neighbouring_beats_do_not_share_the_beat_between_them():
    taken = placed(0, 860, 955, 1920)
    point, _ = taken.chosen(rhythm.best_path(taken, rhythm.learnt(taken, np.full(4, 60.0))))
    assert (np.diff(point) > 0).all()


def test_the_path_counts_an_early_note_among_the_next_beat():
    # a quarter on every beat, two eighths on every other, and one quarter early by a tenth
    onset = np.array([i * 960 + half for i in range(32) for half in ((0, 480), (0,))[i % 2]])
    early = np.flatnonzero(onset == 9 * 960)[0]
    played = onset + np.where(np.arange(len(onset)) == early, -100.0, 0.0)
    bars = bars_of_meters({}, 32 * TICKS)
    taken = placed(*played, bars=bars)
    noise = np.full(len(onset), 40.0)
    point, _ = taken.chosen(rhythm.best_path(taken, rhythm.learnt(taken, noise)))
    assert point[early] == 9 * 960


def test_rarer_rhythms_cost_more_before_anything_is_known():
    def price(*onset: float) -> float:
        found = placed(*onset)
        return float(found.prior[found.possible & (found.off == 0).all(axis=0)].min())

    assert price(0) < price(0, 480) < price(0, 720) < price(0, 840)
    assert price(0, 480) < price(480)
    assert price(0, 320, 640) < price(0, 320)


def test_rhythms_of_the_piece_become_cheap():
    odd = [i * 960 + at for i in range(16) for at in (0, 840)]
    found = placed(*odd)
    noise = np.full(len(odd), NOISE)
    learnt = rhythm.learnt(found, noise)
    assert learnt.cost.min(axis=1).max() < rhythm.costs(found, noise).min(axis=1).min() - 2


def test_a_rhythm_that_comes_once_teaches_itself_nothing():
    onset = [0, 720, *[i * 960 for i in range(1, 16)]]
    found = placed(*onset)
    noise = np.full(len(onset), 10.0)
    assert rhythm.learnt(found, noise).cost[0].min() >= rhythm.costs(found, noise)[0].min()


def test_naming_rare_rhythms_takes_more():
    plain = placed(*[i * 960 + at for i in range(16) for at in (0, 480)])
    strange = placed(*[i * 960 + at for i in range(16) for at in (160, 640)])
    noise = np.full(32, 10.0)
    assert rhythm.learnt(strange, noise).rhythms > rhythm.learnt(plain, noise).rhythms + 3


def test_a_stray_note_costs_less_than_the_bell_curve_says():
    near, far = rhythm.misfit(np.array([0.0, 100.0]), 10.0)
    assert 0 < far - near < 0.5 * 10**2
