"""What notes do inside, heard in the sound: bends by librosa's pitch, levels as powers.

Published: players are loudest at 0.445 of a note's length (Weimar Jazz Database, counted for
this project). What a scoop, plop, fall and doit do is common practice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.performing.performance import perform
from phrasing.score.instruments import BY_KEY
from tests.lines import marking, melody
from tests.outside.hearing import Take, recorded

pytestmark = pytest.mark.outside


@pytest.fixture(scope="module")
def bent(tmp_path_factory) -> Take:
    """Half notes at 120, each bent in its own way, a rest after each; the first is straight."""
    names = ("", "scoop", "plop", "falloff", "doit")
    tune = melody("C5:4 r:4 " * len(names), tempo=120)
    bends = {i: name for i, name in enumerate(names) if name}
    played = perform(
        replace(tune, inflections=bends), marking(5), instrument=BY_KEY["tenor-sax"]
    )
    return recorded({"bent": played}, tmp_path_factory.mktemp("bent"))["bent"]


def pitches(take: Take, note: int) -> np.ndarray:
    """Semitones against the straight note's middle, every 10 ms of a second from the onset."""
    import librosa

    def yin(start: float, seconds: float) -> np.ndarray:
        first = round(start * take.rate)
        mono = take.wave[first : first + round(seconds * take.rate)].mean(axis=1)
        span = {"fmin": 180, "fmax": 900, "hop_length": 441, "center": False}
        found = librosa.yin(mono, sr=take.rate, **span)
        return np.asarray(12 * np.log2(found))

    straight = np.median(yin(take.at(0) + 0.2, 0.3))
    return yin(take.at(note * 3840), 1.0) - straight


def test_a_scoop_comes_from_below_and_a_plop_from_above(bent):
    scoop, plop = pitches(bent, 1), pitches(bent, 2)
    assert scoop[0] < -0.5
    assert plop[0] > 0.5
    for line in (scoop, plop):
        assert np.abs(np.median(line[20:40])) < 0.15


def test_a_fall_goes_down_and_a_doit_up_once_the_note_has_stood(bent):
    fall, doit = pitches(bent, 3), pitches(bent, 4)
    assert np.abs(np.median(fall[10:30])) < 0.15
    assert np.abs(np.median(doit[10:30])) < 0.15
    assert fall[85] < -2.5
    assert doit[85] > 2.0


def test_a_fall_fades(bent):
    start = bent.at(3 * 3840)
    assert bent.level(start + 0.85, start + 0.95) < bent.level(start + 0.2, start + 0.4) - 6


def test_a_straight_note_stays_where_it_is_and_is_strongest_before_its_middle(bent):
    assert np.ptp(pitches(bent, 0)[5:25]) < 0.2
    start = bent.at(0)
    begin, middle, end = (bent.level(start + at, start + at + 0.1) for at in (0.0, 0.4, 0.85))
    assert middle > end + 1
    assert middle > begin
