import numpy as np
import pytest

from phrasing.reading.drift import wandering

AT = np.arange(200) * 0.25


def test_steady_playing_has_no_drift():
    for seed in range(20):
        late = np.random.default_rng(seed).normal(0, 0.010, 200)
        assert np.abs(wandering(late, AT)).max() < 0.010 / 2


def test_most_steady_players_are_left_alone():
    alone = [
        not wandering(np.random.default_rng(seed).normal(0, 0.01, 200), AT).any()
        for seed in range(50)
    ]
    assert sum(alone) >= 48


def test_a_slow_wave_is_followed():
    away = 0.030 * np.sin(AT / 3)
    late = away + np.random.default_rng(1).normal(0, 0.008, 200)
    left = away - wandering(late, AT)
    assert left.std() < 0.35 * away.std()


def test_one_wild_note_does_not_pull_its_neighbours():
    away = 0.030 * np.sin(AT / 3)
    late = away + np.random.default_rng(1).normal(0, 0.004, 200)
    wild = late.copy()
    wild[100] += 0.4
    moved = np.abs(wandering(wild, AT) - wandering(late, AT))
    assert moved.max() < 0.025


def test_a_note_does_not_explain_itself():
    late = np.zeros(200)
    late[::2] = 0.02
    late[1::2] = -0.02
    assert np.abs(wandering(late, AT)).max() < 0.005


@pytest.mark.parametrize("count", [1, 5, 15])
def test_few_notes_tell_nothing(count: int):
    assert not wandering(np.full(count, 0.03), AT[:count]).any()
