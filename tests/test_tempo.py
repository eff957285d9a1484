"""Ticks, seconds and the tempos between them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phrasing.tempo import TICKS, TempoMap

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
