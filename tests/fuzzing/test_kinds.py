"""Each kind of input for fuzzing: most that its grammar draws is taken, what is damaged shows
no fault, and the same seed draws the same."""

from __future__ import annotations

import random

import pytest

from tests.fuzzing.checks import kinds, tried
from tests.fuzzing.child import damaged
from tests.fuzzing.draws import Dice

KINDS = kinds()
COUNT = 60
LEAST = 0.2
"""Share of what the grammar draws that is taken at least; the rest has odd values in it."""


def drawn(kind, seed=1):
    dice = Dice(random.Random(seed))
    return [kind.grammar(dice) for _ in range(COUNT)]


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS.keys())
def test_what_is_drawn_is_taken_or_refused_in_a_line(kind, tmp_path):
    contents = drawn(kind)
    taken = sum(tried(kind, content, tmp_path, 0) for content in contents)
    assert taken >= LEAST * COUNT
    chance = random.Random(2)
    for content in contents:
        tried(kind, damaged(content, chance), tmp_path, 0)


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS.keys())
def test_the_same_seed_draws_the_same(kind):
    assert drawn(kind) == drawn(kind) != drawn(kind, 2)
