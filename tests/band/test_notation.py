"""Rhythms as a player counts them."""

import numpy as np
import pytest

from phrasing.band.notation import AND, bar_of, choices, figure, one_of


def test_beats_ands_triplets_and_sixteenths():
    parts = [spot.part for spot in figure("1 1e 1& 1a 2t 2l")]
    assert parts == [0, 0.25, AND, 0.75, 1 / 3, 2 / 3]


def test_accents_and_what_is_to_be_played():
    loud, soft, chord = figure("1> 2&< 4&:1.2")
    assert (loud.accent, soft.accent, chord.accent) == (1, -1, 0)
    assert chord.note == "1.2"


@pytest.mark.parametrize("text", ["x", "1+", "&2", "1:"])
def test_what_nobody_counts_is_refused(text):
    with pytest.raises(ValueError, match="no place in a bar"):
        figure(text)


def test_weights():
    rng = np.random.default_rng(0)
    drawn = [one_of(choices("9: 1 | 1: 2"), rng) for _ in range(400)]
    assert 0.83 < drawn.count(figure("1")) / 400 < 0.96
    drawn = [one_of(choices("9: 1 | 1: 2"), rng, (0.0, 1.0)) for _ in range(20)]
    assert drawn.count(figure("2")) == 20


def test_shorter_groups_are_cut_from_four_beats():
    ((_, spots),) = bar_of({4: ("1 2& 4",)}, 3, 0)
    assert spots == figure("1 2&")
