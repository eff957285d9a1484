"""Bars, beats and the columns of a melody."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phrasing.band.plan import beats_of
from phrasing.paper.values import beat_starts
from phrasing.performing.swing import swing_map
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bar, Meter, TempoMap, bars_of_meters
from phrasing.score.words import beat_name
from tests.lines import melody

CHANGING = TempoMap((0, 4 * TICKS, 6 * TICKS), (120.0, 60.0, 240.0))


def test_seconds_add_up_over_changes_of_tempo():
    ticks = [0, TICKS, 4 * TICKS, 5 * TICKS, 6 * TICKS, 10 * TICKS]
    assert CHANGING.seconds(ticks).tolist() == [0.0, 0.5, 2.0, 3.0, 4.0, 5.0]


def test_before_the_start_seconds_are_negative():
    assert CHANGING.seconds(-TICKS) == -0.5


@given(st.lists(st.floats(-10, 100), min_size=1))
def test_ticks_undo_seconds(seconds):
    back = CHANGING.seconds(CHANGING.ticks(seconds))
    assert np.allclose(back, seconds, atol=1e-9)


def test_a_tempo_holds_from_its_own_tick_on():
    assert CHANGING.at([4 * TICKS - 1, 4 * TICKS]).tolist() == [120.0, 60.0]


def test_another_tempo_keeps_changes_in_proportion():
    assert CHANGING.scaled_to(60.0).tempos == (60.0, 30.0, 120.0)


@pytest.mark.parametrize(
    "onsets,tempos",
    [((), ()), ((1,), (120.0,)), ((0, 0), (1.0, 2.0)), ((0,), (0.0,)), ((0,), ())],
)
def test_a_map_that_makes_no_sense_is_refused(onsets, tempos):
    with pytest.raises(ValueError):
        TempoMap(onsets, tempos)


def test_beats_are_counted_from_one_and_the_and_is_a_half():
    assert melody("C5:1 D5:1 E5:2 r:3 F5:1").beat.tolist() == [1.0, 1.5, 2.0, 4.5]


def test_a_pickup_counts_back_from_bar_1():
    tune = melody("C5:1 D5:1 E5:1 F5:1", pickup=3)
    assert tune.bar_number.tolist() == [0, 0, 0, 1]
    assert tune.beat.tolist() == [3.5, 4.0, 4.5, 1.0]
    assert tune.pickup == 3 * 480


def test_a_dotted_quarter_is_the_beat_of_compound_meters():
    tune = melody("C5:1 D5:1 E5:1 F5:1", meter="6/8")
    assert tune.beat[3] == 2.0
    assert tune.has_no_off_beats.all()


BEATS = {
    (4, 4): [2] * 4, (2, 2): [2] * 4, (3, 4): [2] * 3, (5, 4): [2] * 5, (3, 2): [2] * 6,
    (6, 8): [3, 3], (9, 8): [3] * 3, (12, 8): [3] * 4, (15, 8): [3] * 5, (3, 8): [3],
    (5, 8): [3, 2], (7, 8): [2, 2, 3], (8, 8): [2] * 4, (11, 8): [2, 2, 2, 2, 3],
    (4, 8): [1] * 4, (2, 8): [1] * 2, (1, 8): [1], (1, 4): [2],
}  # fmt: skip
"""Eighths in each beat (common practice, no source)."""


@pytest.mark.parametrize("meter", BEATS, ids=lambda m: f"{m[0]}/{m[1]}")
def test_melody_swing_band_and_paper_have_the_same_beats(meter):
    own = Meter(*meter)
    bar = Bar(0, own.bar_length, 1, own)
    starts = np.cumsum([0, *BEATS[meter]]) * TICKS // 2
    assert own.beat_starts == tuple(starts[:-1])
    assert own.bar_length == starts[-1]
    assert swing_map(Melody([0], [1], [60], (bar,)), lambda at: at).starts.tolist() == list(
        starts
    )
    assert [beat.onset for beat in beats_of((bar,))] == list(starts[:-1])
    tune = Melody(starts[:-1], np.diff(starts), [60] * (len(starts) - 1), (bar,))
    assert tune.beat.tolist() == list(range(1, len(starts)))
    if own.has_no_off_beats:
        assert beat_starts(own) == tuple(starts[:-1])


def test_in_seven_eighths_the_third_beat_has_three():
    tune = melody("C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 B5:1", meter="7/8")
    assert tune.beat_number.tolist() == [0, 0, 1, 1, 2, 2, 2]
    assert tune.beat_length.tolist() == [960] * 4 + [1440] * 3
    assert beat_name(tune, 5) == "the second eighth of 3"
    assert beat_name(tune, 3) == "and of 2"


def test_beats_go_on_in_a_bar_that_is_too_long_and_count_back_in_a_pickup():
    long = Melody([0, 4320], [1, 1], [60, 62], (Bar(0, 4800, 1, Meter(4, 4)),))
    assert long.beat.tolist() == [1.0, 5.5]
    pickup = Bar(0, 1440, 0, Meter(4, 4), offset=2400)
    assert list(pickup.beats) == [(-480, 960), (480, 960)]


def test_a_change_of_meter_inside_a_bar_shortens_it():
    bars = bars_of_meters({0: Meter(4, 4), 2 * 960: Meter(3, 4)}, 5 * 960)
    assert [(bar.onset, bar.length, bar.number) for bar in bars] == [
        (0, 1920, 1),
        (1920, 2880, 2),
    ]


def test_the_meter_of_a_piece_is_that_of_bar_1():
    bars = bars_of_meters({0: Meter(3, 4)}, 9000, pickup=960)
    assert Melody([0], [1], [60], bars).meter == Meter(3, 4)
    assert bars[0].offset == 1920


def test_columns_cannot_be_written_to():
    tune = melody("C5:1 D5:1")
    with pytest.raises(ValueError):
        tune.pitch[0] = 3


@pytest.mark.parametrize(
    "onset,length,pitch", [([0, 0], [1, 1], [60, 60]), ([0], [0], [60]), ([0, 1], [1], [60])]
)
def test_two_notes_at_once_no_length_or_a_missing_entry_are_refused(onset, length, pitch):
    with pytest.raises(ValueError):
        Melody(onset, length, pitch, bars_of_meters({}, 10))


def test_notes_can_be_read_one_by_one():
    assert [note.pitch for note in melody("C5:1 D5:1").notes] == [72, 74]


def test_transposing_moves_every_note():
    assert melody("C5:1 D5:1").transposed(-2).pitch.tolist() == [70, 72]


def test_many_bars_are_found_at_once():
    tune = melody(" ".join(["C5:1 D5:1"] * 400))
    assert (np.diff(tune.bar_number) >= 0).all()
    assert tune.bar_number[-1] == 100
