"""Swing measured in the rendered sound: a piano's by librosa, a wind's by when it is there.

Sources: an even series of tones is heard as uneven from 6 ms, or 2.5 % of the interval
(Friberg & Sundberg 1995, JASA 98(5):2524-2531); a soloist comes late on the beats by 85 of
960 ticks, 9 % of a quarter at 150, and meets the ride on the off-beats (Nelias et al. 2022,
Communications Physics 5:237; Friberg & Sundstrom 2002, Music Perception 19(3)), so that with
a ride at 2 : 1 its own ratio is (2/3 - 0.09) / (1/3 + 0.09) = 1.36 (arithmetic).
"""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.feel import Feel, Swing
from phrasing.performing.performance import DRUMS, Performance, perform
from phrasing.score.instruments import BY_KEY
from tests.lines import melody
from tests.outside.hearing import Take, line_of, recorded
from tests.sound.playing import part, performance

pytestmark = pytest.mark.outside
SCALE = " ".join(f"{name}:1" for name in ["C5", "D5", "E5", "F5", "G5", "F5", "E5", "D5"] * 4)
HI_HAT, PIANO = 42, 1
WITHIN = {120: 0.08, 160: 0.08, 200: 0.08, 240: 0.10}


def onsets(take: Take) -> np.ndarray:
    """Seconds from tick 0 at which librosa hears notes begin, in steps of 3 ms.

    Without backtracking to the quietest moment before: where notes follow one another closely
    that moment wanders, and the rise of the spectrum does not.
    """
    import librosa

    mono = take.wave.mean(axis=1)
    found = librosa.onset.onset_detect(y=mono, sr=take.rate, hop_length=128, units="time")
    return np.asarray(found - take.start)


def near(found: np.ndarray, expected: np.ndarray, within: float) -> np.ndarray:
    """For each expected second the onset found nearest to it; all must be there."""
    nearest = found[np.abs(found[None] - expected[:, None]).argmin(axis=1)]
    assert np.abs(nearest - expected).max() < within
    return nearest


def ratio_heard(take: Take, played: Performance) -> float:
    """Median long to median short of the pairs of eighths, from detected onsets."""
    ticks = played.parts[0].onset
    expected = np.array([take.at(tick) - take.start for tick in ticks])
    wind = played.parts[0].program != PIANO
    found = line_of(take, played).onsets() - take.start if wind else onsets(take)
    heard = near(found, expected, 0.045)
    long = heard[1:-1:2] - heard[0:-2:2]
    short = heard[2::2] - heard[1:-1:2]
    return float(np.median(long) / np.median(short))


@pytest.mark.parametrize("tempo", WITHIN)
@pytest.mark.parametrize("asked", [None, 1.0, 1.5, 2.0])
@pytest.mark.parametrize("player", ["trumpet", "piano"])
def test_the_ratio_in_the_sound_is_the_one_asked_for(tmp_path, player, tempo, asked):
    feel = Feel()
    if asked is not None:
        feel = replace(feel, swing=Swing(by_tempo=((120.0, asked),)))
    tune = melody(SCALE, tempo=tempo)
    played = perform(tune, None, feel, instrument=BY_KEY[player])
    take = recorded({"plain": played}, tmp_path)["plain"]
    assert ratio_heard(take, played) == pytest.approx(played.swing[0], abs=WITHIN[tempo])
    if asked is not None:
        assert played.swing[0] == asked


def test_swing_moves_off_beats_by_more_than_can_be_heard(tmp_path):
    tune = melody(SCALE, tempo=240)
    versions = {"swung": perform(tune, None), "straight": perform(tune, None, straight=True)}
    takes = recorded(versions, tmp_path)
    heard = {
        name: line_of(take, versions[name]).onsets() - take.start
        for name, take in takes.items()
    }
    beat = 60 / 240
    moved = []
    for index in range(1, 30, 2):
        at = index * beat / 2
        later = at + beat * (
            versions["swung"].swing[0] / (1 + versions["swung"].swing[0]) - 0.5
        )
        one = near(heard["straight"], np.array([at]), 0.03)
        two = near(heard["swung"], np.array([later]), 0.03)
        moved.append(float(two[0] - one[0]))
    assert np.median(moved) > 0.006


def test_laying_back_is_heard_on_the_beats_and_gives_the_smaller_ratio(tmp_path):
    """The soloist against the ride's beat at 2 : 1, both recorded and both measured.

    The ride's beat is played on the closed hi-hat: the cymbal rings too long for the detector.
    """
    feel = Feel(swing=Swing(by_tempo=((120.0, 2.0),)))
    solo = perform(melody(SCALE, tempo=150), None, feel, lay_back=True)
    ratio = solo.swing[0]
    pattern = [beat + off for beat in range(16) for off in (0.0, ratio / (1 + ratio))]
    ride = performance(
        part(*[(at, at + 0.1, HI_HAT) for at in pattern], program=DRUMS), tempo=150, end=16
    )
    takes = recorded({"solo": solo, "ride": ride}, tmp_path)
    expected = np.array(
        [takes["solo"].at(t) - takes["solo"].start for t in solo.parts[0].onset]
    )
    found = line_of(takes["solo"], solo).onsets() - takes["solo"].start
    soloist = near(found, expected, 0.03)
    cymbal = near(onsets(takes["ride"]), np.array(pattern) * 60 / 150, 0.03)
    late = soloist - cymbal
    assert np.median(late[0::2]) == pytest.approx(0.0245, abs=0.010)
    assert np.median(late[1::2]) == pytest.approx(0.0, abs=0.010)
    long, short = soloist[1:-1:2] - soloist[0:-2:2], soloist[2::2] - soloist[1:-1:2]
    lag = 0.0245 * 150 / 60
    off = ratio / (1 + ratio)
    heard = np.median(long) / np.median(short)
    assert heard == pytest.approx((off - lag) / (1 - off + lag), abs=0.08)
