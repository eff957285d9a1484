"""Parts moved, cut and joined."""

from dataclasses import replace

import numpy as np

from phrasing.parts import joined, moved, of_notes
from phrasing.performance import Curve, perform
from tests.lines import marking, melody

TUNE = melody("C5:2 D5:2 E5:2 F5:2")


def part():
    made = perform(TUNE, marking(4, {1: "accent"})).parts[0]
    bend = Curve("bend", np.array([1000, 2500]), np.array([0.1, 0.0]))
    return replace(made, curves=(bend,))


def test_moving_a_part_takes_its_curves_along():
    later = moved(part(), 480)
    assert (later.onset - part().onset).tolist() == [480] * 4
    assert (later.release - part().release).tolist() == [480] * 4
    assert later.curves[0].ticks.tolist() == [1480, 2980]


def test_notes_are_taken_by_their_place_in_the_melody_with_what_they_do():
    cut = of_notes(part(), [1])
    assert cut.pitch.tolist() == [74]
    assert cut.curves[0].ticks.tolist() == [1000]
    assert len(of_notes(part(), []).onset) == 0


def test_joined_parts_are_in_order_of_time():
    whole = joined([moved(part(), 4000), part()])
    assert (np.diff(whole.onset) >= 0).all()
    assert len(whole.onset) == 8
    assert whole.curves[0].ticks.tolist() == [1000, 2500, 5000, 6500]
