"""The meter against published signals and a second meter.

Sources: ITU-R BS.1770-4 (a 997 Hz sine of full scale in one front channel reads -3.01 LKFS;
the filter coefficients at 48 kHz, from memory); EBU Tech 3341 (stereo 1 kHz sines: -23 dBFS
reads -23.0 LUFS, -36/-23/-36 dBFS for 10/60/10 s reads -23.0, each within 0.1; true peaks of
sines between samples within +0.2/-0.4 dB, from memory); EBU R 128 (true peak at most -1 dBTP).
Second meter: pyloudnorm.
"""

import numpy as np
import pyloudnorm
import pytest
import soundfile

from phrasing.sound.loudness import LoudnessMeter, k_weighting
from phrasing.sound.soundfiles import write_sound
from phrasing.sound.soundfonts import embedded_soundfont
from tests.sound.playing import part, performance

pytestmark = pytest.mark.outside


def sine(frequency: float, level: float, seconds: float, rate: int, degrees: float = 0.0):
    """A stereo sine with its peak at ``level`` dBFS."""
    time = np.arange(round(seconds * rate)) / rate
    wave = 10 ** (level / 20) * np.sin(2 * np.pi * frequency * time + np.radians(degrees))
    return np.stack([wave, wave]).astype(np.float32)


def loudness(sound: np.ndarray, rate: int) -> float:
    meter = LoudnessMeter(rate)
    for start in range(0, sound.shape[1], 30000):
        meter.add(sound[:, start : start + 30000])
    return meter.integrated()


@pytest.mark.parametrize("rate", [44100, 48000])
def test_a_full_scale_sine_in_one_channel(rate):
    sound = sine(997, 0, 5, rate)
    sound[1] = 0
    assert loudness(sound, rate) == pytest.approx(-3.01, abs=0.01)


@pytest.mark.parametrize("rate", [44100, 48000])
def test_the_signals_of_tech_3341(rate):
    assert loudness(sine(1000, -23, 20, rate), rate) == pytest.approx(-23.0, abs=0.1)
    assert loudness(sine(1000, -33, 20, rate), rate) == pytest.approx(-33.0, abs=0.1)
    steps = [
        sine(1000, level, seconds, rate) for level, seconds in ((-36, 10), (-23, 60), (-36, 10))
    ]
    assert loudness(np.concatenate(steps, axis=1), rate) == pytest.approx(-23.0, abs=0.1)
    steps = [
        sine(1000, level, seconds, rate)
        for level, seconds in ((-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10))
    ]
    assert loudness(np.concatenate(steps, axis=1), rate) == pytest.approx(-23.0, abs=0.1)


def test_the_filter_is_that_of_the_standard():
    shelf = (
        [1.53512485958697, -2.69169618940638, 1.19839281085285],
        [1.0, -1.69065929318241, 0.73248077421585],
    )
    high_pass = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])
    for ours, one, two in zip(k_weighting(48000), shelf, high_pass, strict=True):
        assert ours == pytest.approx(np.convolve(one, two), abs=1e-9)


@pytest.mark.parametrize("divisor, degrees", [(4, 0), (4, 45), (6, 60), (8, 67.5)])
@pytest.mark.parametrize("rate", [44100, 48000])
def test_true_peaks_between_the_samples(rate, divisor, degrees):
    sound = sine(rate / divisor, -6, 1, rate, degrees)
    fade = np.minimum(1, np.arange(sound.shape[1]) / (rate / 10)).astype(np.float32)
    meter = LoudnessMeter(rate)
    meter.add(sound * fade * fade[::-1])
    assert -6.0 - 0.4 <= meter.true_peak() <= -6.0 + 0.2


@pytest.mark.parametrize("rate", [44100, 48000])
def test_a_second_meter_finds_both_versions_equally_loud(tmp_path, rate):
    """Within 0.1 LU of each other and of what was asked for, at three loudnesses."""
    long, short = part(), part()
    long = part(*[(i / 2, i / 2 + 0.45, 60 + i * 5 % 12) for i in range(32)], program=67)
    short = part(
        *[
            (i / 2, i / 2 + 0.2, 60 + i * 5 % 12, 4 - i * 7 % 12, 0.4 - i % 2)
            for i in range(32)
        ],
        program=67,
    )
    pair = {"plain": performance(long, tempo=150), "shaped": performance(short, tempo=150)}
    for asked in (-23.0, -18.0, -16.0):
        recording = write_sound(
            pair, tmp_path, rate=rate, loudness=asked, soundfont=embedded_soundfont()
        )
        found = []
        for file in recording.files.values():
            wave, _ = soundfile.read(file.path)
            found.append(pyloudnorm.Meter(rate).integrated_loudness(wave))
            assert 20 * np.log10(np.abs(wave).max()) <= -1.0
        assert found == pytest.approx([asked - recording.lowered] * 2, abs=0.1)
        assert found[0] == pytest.approx(found[1], abs=0.1)
