"""Bars divided as engravers do."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from phrasing.paper.values import REST, TYPES, VALUES, BarShare, bar_pieces, written
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bar, Meter, bars_of_meters

SIGNS = {
    "whole": "1", "half": "2", "quarter": "4", "eighth": "8", "16th": "16", "32nd": "32",
}  # fmt: skip


def spelled(words: str, meter: str = "4/4") -> str:
    """A bar given as lengths in eighths (r for a rest) as written values, ~ for a tie."""
    beats, unit = map(int, meter.split("/"))
    events, at = [], 0
    for number, word in enumerate(words.split()):
        length = round(float(word.lstrip("r")) * 480)
        events.append(BarShare(at, at + length, REST if word[0] == "r" else number))
        at += length
    pieces = bar_pieces(Bar(0, at, 1, Meter(beats, unit)), events)
    return " ".join(
        ("r" if piece.is_rest else "")
        + ("bar" if piece.whole_bar else SIGNS[piece.type] + "." * piece.dots)
        + (f"/{piece.tuplet.actual}" if piece.tuplet else "")
        + ("~" if piece.tied_on else "")
        for piece in pieces
    )


@pytest.mark.parametrize(
    ("bar", "values"),
    [
        ("8", "1"),
        ("2 2 2 2", "4 4 4 4"),
        ("2 4 2", "4 2 4"),  # whole beats may lie across the middle
        ("1 2 1 4", "8 4 8 2"),  # an off-beat quarter hides one beat
        ("3 2 3", "4. 8~ 8 4."),  # but not the middle of the bar
        ("3 5", "4. 8~ 2"),
        ("6 2", "2. 4"),
        ("2 6", "4 2."),
        ("5 3", "2~ 8 4."),
        ("7 1", "2~ 4. 8"),
        ("1 7", "8 4.~ 2"),
        ("0.5 1 0.5 6", "16 8 16 2."),
        ("1.5 1 1.5 4", "8. 16~ 16 8. 2"),
        ("r8", "rbar"),
        ("r3 1 r4", "r4 r8 8 r2"),
        ("1 r2 1 r4", "8 r8 r8 8 r2"),  # a rest never hides a beat
        ("r2 r4 2", "r4 r4 r4 4"),
    ],
)
def test_four_four(bar: str, values: str) -> None:
    assert spelled(bar) == values


@pytest.mark.parametrize(
    ("meter", "bar", "values"),
    [
        ("3/4", "6", "2."),
        ("3/4", "1 4 1", "8 8~ 4. 8"),
        ("3/4", "5 1", "2~ 8 8"),
        ("3/4", "r4 2", "r4 r4 4"),
        ("6/8", "3 3", "4. 4."),
        ("6/8", "2 2 2", "4 8~ 8 4"),  # the middle of 6/8 is always shown
        ("6/8", "r3 1 r2", "r4. 8 r8 r8"),
        ("6/8", "6", "2."),
        ("12/8", "3 6 3", "4. 2. 4."),
        ("5/4", "10", "2.~ 2"),
        ("7/8", "4 3", "2 4."),
        ("2/2", "3 5", "4. 8~ 2"),
        ("3/2", "4 8", "2 1"),
    ],
)
def test_other_meters(meter: str, bar: str, values: str) -> None:
    assert spelled(bar, meter) == values


@pytest.mark.parametrize(
    ("bar", "values"),
    [
        ("0.6667 0.6667 0.6666 6", "8/3 8/3 8/3 2."),
        ("1.3333 0.6667 6", "4/3 8/3 2."),
        ("1.3333 1.3333 1.3334 4", "4/3 4/3 4/3 2"),
        ("1 0.3333 0.3333 0.3334 6", "8 16/3 16/3 16/3 2."),
        ("0.3333 0.3333 0.3334 0.3333 0.3333 0.3334 6", "16/6 16/6 16/6 16/6 16/6 16/6 2."),
        ("0.4 0.4 0.4 0.4 0.4 6", "16/5 16/5 16/5 16/5 16/5 2."),
        ("0.6667 0.6667 0.6666 0.6667 5.3333", "8/3 8/3 8/3 8/3 4/3~ 2"),
        ("2.6667 2.6667 2.6666", "2/3 2/3 2/3"),
    ],
)
def test_tuplets(bar: str, values: str) -> None:
    assert spelled(bar) == values


def test_a_rest_fills_a_pickup_without_being_a_bars_rest() -> None:
    melody = Melody([960], [960], [60], bars_of_meters({0: Meter()}, 4800, 960))
    (_, pickup), *_ = written(melody)
    assert [piece.whole_bar for piece in pickup] == [False]


def test_onsets_that_no_notation_has_keep_their_durations() -> None:
    melody = Melody([0, 7, 13, 1001], [7, 6, 988, 300], [60] * 4, bars_of_meters({}, 1301))
    ((_, pieces),) = written(melody)
    assert [(p.onset, p.length) for p in pieces[:4]] == [(0, 7), (7, 6), (13, 988), (1001, 300)]


@settings(max_examples=60, deadline=None)
@given(
    meter=st.sampled_from([Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(5, 4), Meter(7, 8)]),
    steps=st.lists(st.sampled_from([120, 160, 192, 240, 320, 480, 640, 960, 1920]), min_size=1),
    pickup=st.sampled_from([0, 320, 480]),
)
def test_the_values_of_a_melody_add_up_to_it(
    meter: Meter, steps: list[int], pickup: int
) -> None:
    ends = np.cumsum(steps)
    onset = (ends - steps)[::2] + pickup
    melody = Melody(
        onset,
        steps[::2],
        [60] * len(onset),
        bars_of_meters({0: meter}, int(ends[-1]) + pickup, pickup),
    )
    pieces = [piece for _, bar in written(melody) for piece in bar]
    assert all(a.onset + a.length == b.onset for a, b in pairwise(pieces))
    for index, note in enumerate(melody.notes):
        own = [piece for piece in pieces if piece.note == index]
        assert own[0].onset == note.onset
        assert sum(piece.length for piece in own) == note.length
        assert [p.tied_on for p in own] == [True] * (len(own) - 1) + [False]
        assert [p.tied_from for p in own] == [False] + [True] * (len(own) - 1)


def test_each_value_but_the_longest_and_the_shortest_may_have_a_dot():
    for length, name in TYPES[1:-1]:
        assert VALUES[length * 3 // 2] == (name, 1)
    assert VALUES[6 * TICKS] == ("whole", 1)
    assert VALUES[3 * TICKS // 32] == ("64th", 1)
