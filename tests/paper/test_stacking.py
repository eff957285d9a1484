"""What is set above and below the staff keeps out of each other's way."""

from __future__ import annotations

import pytest

from phrasing.paper.drawing import Box, element
from phrasing.paper.engraving import SPACE
from phrasing.paper.stacking import Item, _trim

HIGH = 0.4 * SPACE


def wedge(left: float, right: float) -> Item:
    group = element("g")
    element("polyline", group, points=f"{left},0 {right},0")
    return Item("wedge", [group], Box(left, 0.0, right, HIGH))


def dynamic(left: float, right: float) -> Item:
    return Item("dynam", [element("g")], Box(left, 0.0, right, HIGH))


def ends(item: Item) -> tuple[float, float]:
    """From where to where it is drawn."""
    (line,) = item.nodes[0]
    places = [float(pair.split(",")[0]) for pair in line.get("points").split()]
    assert (min(places), max(places)) == pytest.approx((item.box.left, item.box.right))
    return item.box.left, item.box.right


@pytest.mark.parametrize(
    "sign,kept",
    [
        ((-SPACE, SPACE), (False, True)),  # stands where the wedge begins
        ((19 * SPACE, 21 * SPACE), (True, False)),  # stands where it ends
        ((30 * SPACE, 32 * SPACE), (True, True)),  # stands elsewhere
        ((-9 * SPACE, -7 * SPACE), (True, True)),
    ],
)
def test_a_wedge_begins_after_a_dynamic_and_ends_before_the_next(sign, kept) -> None:
    own = wedge(0.0, 20 * SPACE)
    _trim([own], [own, dynamic(*sign)])
    left, right = ends(own)
    assert (left == 0.0, right == 20 * SPACE) == kept
    assert right <= sign[0] or left >= sign[1]


def test_a_wedge_too_short_to_be_cut_is_left() -> None:
    own = wedge(0.0, 2 * SPACE)
    _trim([own], [dynamic(-SPACE, SPACE)])
    assert ends(own) == (0.0, 2 * SPACE)
