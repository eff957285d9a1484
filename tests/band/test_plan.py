"""The cheapest line is the cheapest line."""

from itertools import product

import numpy as np
import pytest

from phrasing.band.plan import cheapest_line


@pytest.mark.parametrize("seed", range(30))
def test_no_other_line_is_cheaper(seed):
    chance = np.random.default_rng(seed)
    places, choices = (int(n) for n in chance.integers([1, 1], [6, 5]))
    own = chance.random((places, choices))
    steps = [chance.random((choices, choices)) for _ in range(places - 1)]
    turns = chance.random((choices, choices, choices))

    def cost(line):
        total = sum(own[i, c] for i, c in enumerate(line))
        total += sum(step[line[i], line[i + 1]] for i, step in enumerate(steps))
        return total + sum(turns[line[i : i + 3]] for i in range(places - 2))

    cheapest = min(product(range(choices), repeat=places), key=cost)
    assert cost(tuple(cheapest_line(own, steps, turns))) == pytest.approx(cost(cheapest))
