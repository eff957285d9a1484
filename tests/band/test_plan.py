"""The cheapest line is the cheapest line; bars are grouped."""

from itertools import product

import numpy as np
import pytest

from phrasing.band.plan import GROUPS, cheapest_line, grouped
from phrasing.score.meters import Meter


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


@pytest.mark.parametrize("beats", range(1, 10))
def test_a_bars_groups_are_its_beats_and_none_is_longer_than_four(beats):
    group = GROUPS[beats]
    assert sum(group) == beats
    assert max(group) <= 4
    assert list(group) == sorted(group, reverse=True)


@pytest.mark.parametrize("count", range(1, 40))
def test_beats_beyond_any_bar_are_grouped_too(count):
    group = grouped(count, Meter(count, 4))
    assert sum(group) == count
    assert set(group) <= {1, 2, 3, 4}
