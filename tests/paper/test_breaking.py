"""Where a line of music may end."""

from __future__ import annotations

from phrasing.paper.breaking import BarShape, _places


def shapes(*ends: int, count: int = 9, pickup: bool = False) -> list[BarShape]:
    return [BarShape(8.0, ends=i in ends, pickup=pickup and i == 0) for i in range(count)]


def test_a_line_ends_best_after_four_bars_and_at_the_end():
    assert _places(shapes(), 0.4) == [1.0, 0.4, 1.0, 0.0, 1.0, 0.4, 1.0, 0.0, 0.0]


def test_a_pickup_is_not_counted():
    assert _places(shapes(pickup=True), 0.4)[:5] == [0.0, 1.0, 0.4, 1.0, 0.0]


def test_a_section_ends_a_line_and_the_count_begins_anew():
    assert _places(shapes(2), 0.4) == [1.0, 0.4, 0.0, 1.0, 0.4, 1.0, 0.0, 1.0, 0.0]
