"""Takes and files that are already swung: their pairs are eighths."""

import numpy as np
import pytest

from phrasing.reading.midi.takes import wandering
from phrasing.score.meters import TICKS
from tests.reading.midi.test_quantizing import (
    DOTTED,
    LONG_SHORT,
    PAIR,
    SIXTEENTHS,
    TRIPLET,
    WHOLE,
    Rhythm,
    read,
    repeated,
    rows,
    ticks,
)

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


def swung(at: float) -> Rhythm:
    return [(0, at), (at, 1 - at)]


LINE = [PAIR, PAIR, WHOLE, PAIR, PAIR, WHOLE, PAIR, TRIPLET]


def line_at(at: float) -> list[tuple[float, float]]:
    return repeated([swung(at) if beat is PAIR else beat for beat in LINE], 8)


@pytest.mark.parametrize("ratio", [1.3, 1.6, 2.0, 2.5])
@pytest.mark.parametrize("noise", [0.0, 0.006, 0.012])
def test_swung_pairs_are_read_as_eighths_and_the_ratio_is_found(ratio: float, noise: float):
    found = read(line_at(ratio / (1 + ratio)), noise=noise, gate=0.9)
    assert rows(found)[:-1] == ticks(repeated(LINE, 8))[:-1]
    assert found.swing == pytest.approx(ratio, rel=0.06)


@pytest.mark.parametrize("noise", [0.0, 0.008])
def test_even_eighths_are_not_swung(noise: float):
    assert read(repeated(LINE, 8), noise=noise).swing is None


@pytest.mark.parametrize("noise", [0.0, 0.008])
def test_dotted_eighths_are_not_swung(noise: float):
    rhythm = repeated([DOTTED, DOTTED, WHOLE, DOTTED], 8)
    found = read(rhythm, noise=noise)
    assert found.swing is None
    assert found.onset.tolist() == [on for on, _ in ticks(rhythm)]


@pytest.mark.parametrize("noise", [0.0, 0.006])
def test_a_few_long_short_triplets_among_even_eighths_stay_triplets(noise: float):
    rhythm = repeated([PAIR, PAIR, LONG_SHORT, PAIR, PAIR, WHOLE, PAIR, PAIR], 8)
    found = read(rhythm, noise=noise)
    assert found.swing is None
    assert found.onset.tolist() == [on for on, _ in ticks(rhythm)]


def test_even_triplets_stay_triplets_in_a_swung_file():
    found = read(line_at(2 / 3))
    thirds = np.isin(found.onset % TICKS, (320, 640)).sum()
    assert thirds == 2 * 8


def test_sixteenths_stay_sixteenths_in_a_swung_file():
    beats = [swung(0.62), swung(0.62), SIXTEENTHS, swung(0.62), WHOLE]
    found = read(repeated(beats, 8), noise=0.005)
    assert found.swing == pytest.approx(0.62 / 0.38, rel=0.06)
    wanted = repeated([PAIR, PAIR, SIXTEENTHS, PAIR, WHOLE], 8)
    assert found.onset.tolist() == [on for on, _ in ticks(wanted)]


def test_a_swung_quarter_off_the_beat_is_a_quarter():
    at = 2 / 3
    played = repeated([[(0, at), (at, 1), (1 + at, 1 - at)], [(0, 1), (1, 1)]], 8, 2)
    wanted = repeated([[(0, 0.5), (0.5, 1), (1.5, 0.5)], [(0, 1), (1, 1)]], 8, 2)
    assert rows(read(played)) == ticks(wanted)
    assert rows(read(played, noise=0.006, gate=0.9))[:-1] == ticks(wanted)[:-1]


def test_a_clipped_swung_eighth_before_a_rest_stays_an_eighth():
    at = 0.65
    played = repeated([[(0, at), (at, (1 - at) * 0.8)], [], [(0, 1)], [(0, 1)]], 8)
    found = read(played, noise=0.004)
    clipped = found.onset % TICKS == 480
    assert set(found.length[clipped].tolist()) == {480}


def test_a_triplet_and_a_rest_keep_their_lengths_in_a_swung_file():
    broken = [(0, 1 / 3), (1 / 3, 1 / 3)]
    found = read(repeated([*[swung(0.7)] * 4, broken, WHOLE, TRIPLET, []], 8))
    assert found.length[found.onset % TICKS == 320].tolist() == [320] * 16
    assert found.length[found.onset % TICKS == 640].tolist() == [320] * 8


def test_compound_meters_are_never_swung():
    rhythm = [(i * 1.5 + on, 0.5) for i in range(32) for on in (0, 1.0)]
    assert read(rhythm, meter="6/8").swing is None


def test_a_late_swung_take():
    found = read([(on + 1, le) for on, le in line_at(0.63)], noise=0.006, late=0.03)
    assert found.late == pytest.approx(0.03, abs=0.008)
    assert found.swing == pytest.approx(0.63 / 0.37, rel=0.08)
    wanted = [(on + 1, le) for on, le in repeated(LINE, 8)]
    assert found.onset.tolist() == [on for on, _ in ticks(wanted)]
