"""The air at attacks: as soft as asked, where the tongue is, and nowhere else."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.feel import Feel
from phrasing.feelfile import adjusted
from phrasing.marking.precedence import mark
from phrasing.performing.performance import Performance, perform
from phrasing.score.instruments import BY_KEY
from phrasing.sound.sound import render, starts_at
from phrasing.sound.soundfonts import embedded_soundfont
from tests.lines import melody
from tests.outside.hearing import decibels, k_weighted
from tests.sound.playing import part, performance

RATE = 44100
NOTES = part(*[(2 * i, 2 * i + 1.5, 60 + i, -3 * (i % 3)) for i in range(12)])


def wave(played: Performance) -> np.ndarray:
    return np.concatenate(list(render(played, embedded_soundfont(), room=False)), axis=1)


def breathing(notes, breath: float | None) -> Performance:
    return performance(replace(notes, breath=breath))


def air(notes, breath: float) -> np.ndarray:
    """What the breath adds to the sound."""
    return wave(breathing(notes, breath)) - wave(breathing(notes, None))


def level(sound: np.ndarray, start: float, stop: float) -> float:
    """dB, K-weighted by pyloudnorm's filters, between two seconds after the start of tick 0."""
    weighted = k_weighted(sound.T.astype(float), RATE)
    first, last = (round((starts_at(RATE) + at) * RATE) for at in (start, stop))
    return decibels(weighted[first:last])


@pytest.mark.parametrize("asked", [-40.0, -20.0])
def test_the_air_is_so_far_below_its_note_at_its_height(asked):
    tone, hiss = wave(breathing(NOTES, None)), air(NOTES, asked)
    below = [level(hiss, i, i + 0.006) - level(tone, i, i + 0.15) for i in range(12)]
    assert np.median(below) == pytest.approx(asked, abs=1.5)
    assert np.abs(np.array(below) - asked).max() < 5


def test_it_comes_before_the_tone_and_goes_as_the_tone_takes_over():
    hiss = air(NOTES, -20.0)
    at = [np.mean([level(hiss, i + a, i + a + 0.006) for i in range(1, 12)])
          for a in (-0.040, -0.010, 0.0, 0.040, 0.095)]  # fmt: skip
    assert at[0] < at[1] - 40
    assert at[1] < at[2]
    assert at[3] < at[2] - 6
    assert at[4] < at[2] - 40


def test_a_slur_has_no_air_and_a_piano_none():
    slurred = part((0, 1.1, 60), (1, 2, 62))
    hiss = air(slurred, -20.0)
    assert level(hiss, 0.49, 0.53) < level(hiss, 0.0, 0.02) - 40
    assert not air(part((0, 1, 60), program=1), -20.0).any()


def test_only_the_shaped_version_breathes_and_only_where_asked():
    tune = melody("C5:2 D5:2 E5:2 F5:2", tempo=120)
    feel = adjusted(Feel(), {"life": {"breath": -30}})
    marking, flute = mark(tune), BY_KEY["flute"]
    shaped = perform(tune, marking, feel, instrument=flute).parts[0]
    assert shaped.breath == -30
    assert perform(tune, None, feel, instrument=flute).parts[0].breath is None
    assert perform(tune, marking, Feel(), instrument=flute).parts[0].breath is None
    assert perform(tune, marking, feel, instrument=BY_KEY["piano"]).parts[0].breath is None


def test_the_same_notes_have_the_same_air_wherever_they_stand_in_the_part():
    """A stretch that is played by itself had to sound as in the whole."""
    alone = part(*[(2 * i, 2 * i + 1.5, 60 + i, -3 * (i % 3)) for i in range(4, 12)])
    whole, piece = air(NOTES, -20.0), air(alone, -20.0)
    first = round((starts_at(RATE) + 3.5) * RATE)
    assert (
        np.abs(whole[:, first : first + 3 * RATE] - piece[:, first : first + 3 * RATE]).max()
        < 1e-5
    )
