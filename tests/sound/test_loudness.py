"""The meter, against itself; tests/outside has the published signals."""

import math

import numpy as np
import pytest

from phrasing.sound.loudness import LoudnessMeter, TruePeak


def noise(seconds: float, rate: int = 44100, seed: int = 1) -> np.ndarray:
    """Noise that swells and fades, in stereo."""
    count = round(seconds * rate)
    shape = 0.02 + 0.2 * np.sin(np.linspace(0, 9, count)) ** 2
    sound = np.random.default_rng(seed).standard_normal((2, count)) * shape
    return sound.astype(np.float32)


def measured(sound: np.ndarray, piece: int | None = None, rate: int = 44100):
    meter = LoudnessMeter(rate)
    for start in range(0, sound.shape[1], piece or sound.shape[1]):
        meter.add(sound[:, start : start + (piece or sound.shape[1])])
    return meter.integrated(), meter.true_peak()


@pytest.mark.parametrize("piece", [7, 63, 4096, 4410, 5000, 32768])
def test_the_pieces_it_comes_in_make_no_difference(piece):
    sound = noise(0.7 if piece == 7 else 3.3)
    loudness, peak = measured(sound, piece)
    assert (loudness, peak) == pytest.approx(measured(sound), abs=1e-4)


@pytest.mark.parametrize("room", [True, False])
def test_what_is_measured_from_spectra_is_what_the_samples_say(room):
    from phrasing.sound.sound import analysed
    from phrasing.sound.soundfonts import embedded_soundfont
    from tests.sound.playing import part, performance

    played = performance(part(*[(i, i + 0.8, 60 + 2 * i) for i in range(8)], program=1))
    known, own = LoudnessMeter(44100), LoudnessMeter(44100)
    for block, spectra in analysed(played, embedded_soundfont(), rate=44100, room=room):
        known.add(block, spectra)
        own.add(block)
    assert known.integrated() == pytest.approx(own.integrated(), abs=1e-3)


def test_every_third_weighted_sample_has_the_power_of_all():
    """Noise and hissing strokes, the worst there is: 48 kHz taken whole and thinned."""
    strokes = noise(12, 48000) * (np.arange(576_000) % 20_000 < 4000)
    for sound in (noise(12, 48000), np.diff(strokes, prepend=np.float32(0))):
        thin, whole = LoudnessMeter(48000), LoudnessMeter(48000)
        whole._thin, whole._step, whole._weighting = 1, 4800, 3 * whole._weighting
        for meter in (thin, whole):
            meter.add(sound)
        assert thin.integrated() == pytest.approx(whole.integrated(), abs=0.05)


def test_twice_as_high_is_six_decibels_louder():
    sound = noise(2)
    loudness, peak = measured(sound)
    assert measured(2 * sound) == pytest.approx((loudness + 6.0206, peak + 6.0206), abs=1e-3)


def test_silence_has_no_loudness_and_no_peak():
    assert measured(np.zeros((2, 44100), np.float32)) == (-math.inf, -math.inf)
    assert LoudnessMeter(44100).integrated() == -math.inf


def test_silence_around_the_music_does_not_count():
    sound = noise(3)
    gap = np.zeros((2, 44100 * 4), np.float32)
    loudness, _ = measured(np.concatenate([gap, sound, gap], axis=1))
    assert loudness == pytest.approx(measured(sound)[0], abs=0.3)


def test_a_sound_shorter_than_a_block_is_measured_too():
    assert math.isfinite(measured(noise(0.05))[0])


@pytest.mark.parametrize("seconds", [0.05, 0.15, 0.3])
def test_a_short_sound_is_as_loud_as_with_silence_behind_it(seconds):
    """Up to the 400 ms that a block has (ITU-R BS.1770-4)."""
    sound = noise(seconds)
    rest = np.zeros((2, round(0.4 * 44100) - sound.shape[1]), np.float32)
    followed = np.concatenate([sound, rest], axis=1)
    assert measured(sound)[0] == pytest.approx(measured(followed)[0], abs=0.2)


def test_the_peak_between_samples_is_found_wherever_it_lies():
    """Against four times the rate all along, by a filter of scipy's, below 10 kHz."""
    from scipy.signal import butter, resample_poly, sosfilt

    for seed in range(4):
        low = butter(12, 10_000, fs=44100, output="sos")
        sound = sosfilt(low, noise(1, seed=seed)).astype(np.float32)
        meter = TruePeak()
        for start in range(0, 44100, 1000):
            meter.add(sound[:, start : start + 1000])
        dense = np.abs(resample_poly(sound, 4, 1, axis=1, window=("kaiser", 8.0))).max()
        assert 20 * math.log10(meter.value() / dense) == pytest.approx(0, abs=0.02)
