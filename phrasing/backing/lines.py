"""The line of least cost through a row of choices, each judged with the two before it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from phrasing.tempo import Floats


def cheapest_line(own: Floats, steps: Sequence[Floats], turns: Floats) -> list[int]:
    """One choice for each place, at the least cost in all.

    ``own``: shape (places, choices), the cost of each choice by itself. ``steps``: for each
    place but the last, shape (choices, choices): from a choice there to one at the next
    place. ``turns``: shape (choices, choices, choices): three in a row, whatever the place.
    Dynamic programming over pairs: exact, in time places × choices³.
    """
    places, choices = own.shape
    if places < 2:
        return [int(np.argmin(row)) for row in own]
    cost = own[0][:, None] + steps[0] + own[1][None, :]
    came_from: list[np.ndarray[tuple[int, ...], np.dtype[np.int64]]] = []
    for place in range(2, places):
        ways = cost[:, :, None] + turns
        best = ways.argmin(axis=0)
        came_from.append(best)
        cheapest = np.take_along_axis(ways, best[None], axis=0)[0]
        cost = cheapest + steps[place - 1] + own[place][None, :]
    before, last = divmod(int(cost.argmin()), choices)
    line = [last, before]
    for best in reversed(came_from):
        line.append(int(best[line[-1], line[-2]]))
    return line[::-1]
