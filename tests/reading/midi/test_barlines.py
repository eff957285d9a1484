"""Bar lines from the notes alone. Rhythms in quarters."""

from collections.abc import Sequence

import numpy as np
import pytest

from phrasing.reading.midi.barlines import (
    COMPOUND_METERS,
    SIMPLE_METERS,
    BarLines,
    Sung,
    likeliest,
    pickup_in,
)
from phrasing.score.meters import TICKS, Meter

Row = tuple[float, float, int]


def in_turn(*notes: tuple[float, int]) -> list[Row]:
    """Notes of these lengths and pitches, one after the other."""
    ends = np.cumsum([length for length, _ in notes]).tolist()
    return [(end - length, length, p) for end, (length, p) in zip(ends, notes, strict=True)]


WALTZ = in_turn((2, 60), (1, 64), (1, 67), (1, 65), (1, 64), (2, 62), (1, 65), (3, 60))
MARCH = in_turn(
    *((1.5, 60), (0.5, 62), (1, 64), (1, 64), (1, 65), (1, 62), (2, 59)),
    *((1.5, 60), (0.5, 62), (1, 64), (1, 67), (2, 62), (2, 60)),
)
JIG = in_turn(
    *((1, 60), (0.5, 62), (0.5, 64), (0.5, 65), (0.5, 64), (1, 62), (0.5, 59), (1.5, 60)),
)


def sung(rows: Sequence[Row], length: float, pickup: Sequence[Row] = (), loud: int = 0) -> Sung:
    """The rows four times over, after a pickup that comes back at the end of each."""
    before = max((on + le for on, le, _ in pickup), default=0.0)
    played: list[Row] = [*pickup]
    for i in range(4):
        body = [(on + before + i * length, le, p) for on, le, p in rows]
        on, le, p = body[-1]
        if pickup:
            body[-1] = (on, le - before, p)
            body += [(on + le - before + o, d, q) for o, d, q in pickup]
        played += body
    onset, held, pitch = np.array(played).T
    strong = np.abs((onset - before) % 4) < 0.01
    velocity = 80.0 + loud * strong
    ticks = [np.rint(column * TICKS).astype(np.int64) for column in (onset, held)]
    return Sung(*ticks, pitch.astype(np.int64), velocity)


@pytest.mark.parametrize("rows, length, meter", [(WALTZ, 12, "3/4"), (MARCH, 16, "4/4")])
def test_meters_of_quarters(rows: list[Row], length: float, meter: str):
    best = likeliest(sung(rows, length), SIMPLE_METERS, 0)[0]
    assert (str(best.meter), best.pickup) == (meter, 0)


def test_a_meter_of_dotted_quarters():
    best = likeliest(sung(JIG, 6), COMPOUND_METERS, 0)[0]
    assert (str(best.meter), best.pickup) == ("6/8", 0)


@pytest.mark.parametrize("rows, length, meter", [(WALTZ, 12, (3, 4)), (MARCH, 16, (4, 4))])
def test_a_pickup_that_the_file_does_not_say(rows: list[Row], length: float, meter):
    with_one = sung(rows, length, [(0, 0.5, 55), (0.5, 0.5, 57)])
    assert pickup_in(with_one, Meter(*meter)) == TICKS
    assert pickup_in(sung(rows, length), Meter(*meter)) == 0


def test_a_line_of_syncopations_is_not_moved_by_an_eighth():
    line = [
        (0.5, 1, 67),
        (1.5, 1, 65),
        (2.5, 1.5, 64),
        (4, 0.5, 62),
        (4.5, 1, 60),
        (5.5, 2.5, 67),
    ]
    assert pickup_in(sung([(0, 0.5, 60), *line], 8), Meter(4, 4)) == 0


def test_a_few_bars_tell_nothing():
    notes = sung(MARCH, 16, [(0, 1, 55)])
    few = Sung(notes.onset[:12], notes.length[:12], notes.pitch[:12], notes.velocity[:12])
    assert pickup_in(few, Meter(4, 4)) == 0


def test_accents_tell_where_all_else_is_even():
    onset = np.arange(64) * TICKS
    pitch = np.full(64, 60)
    velocity = 70.0 + 30 * (np.arange(64) % 3 == 1)
    best = likeliest(Sung(onset, np.full(64, TICKS), pitch, velocity), SIMPLE_METERS, 0)[0]
    assert (str(best.meter), best.pickup) == ("3/4", TICKS)


def test_close_readings_come_after_the_likeliest():
    ways = likeliest(sung(MARCH, 16), SIMPLE_METERS, 0)
    assert all(way.worth <= ways[0].worth for way in ways)
    assert all(isinstance(way, BarLines) for way in ways)
