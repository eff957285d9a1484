"""Peaks held down: enough, smoothly, for a moment, and nothing else."""

from dataclasses import replace

import numpy as np
import pyloudnorm
import pytest
import soundfile
from scipy.signal import resample_poly

from phrasing.band.band import accompany
from phrasing.sound.limiting import NEAR, ceiling_for, limited
from phrasing.sound.loudness import TruePeak
from phrasing.sound.soundfiles import write_sound
from phrasing.sound.soundfonts import available, embedded_soundfont
from tests.band.charts import chart
from tests.sound.playing import part, performance

RATE = 44100
FONTS = {font.name: font for font in [*available(), embedded_soundfont()]}


def tone(*peaks: float, seconds: float = 2.0) -> np.ndarray:
    """A soft tone of 110 Hz with a swell of 30 ms to four times its height at some seconds."""
    time = np.arange(round(seconds * RATE)) / RATE
    height = 0.2 + sum(0.6 * np.exp(-(((time - at) / 0.015) ** 2)) for at in peaks)
    wave = height * np.sin(2 * np.pi * 110 * time)
    return np.stack([wave, 0.9 * wave]).astype(np.float32)


def in_pieces(sound: np.ndarray, size: int, most: float) -> np.ndarray:
    pieces = [sound[:, at : at + size] for at in range(0, sound.shape[1], size)]
    return np.concatenate(list(limited(pieces, most, RATE)), axis=1)


@pytest.mark.parametrize("size", [4410, 11025, 88200])
def test_no_sample_passes_and_the_pieces_make_no_difference(size):
    sound = tone(0.1, 0.5, 1.4, 1.99)
    found = in_pieces(sound, size, 0.5)
    assert np.abs(found).max() <= 0.5 * (1 + 1e-6)
    assert np.allclose(found, in_pieces(sound, 88200, 0.5), atol=1e-7)


def test_only_the_peak_is_touched_both_sides_alike_and_without_a_jump():
    sound = tone(1.0)
    found = in_pieces(sound, 11025, 0.5)
    gain = found[0] / np.where(sound[0] == 0, 1, sound[0])
    touched = np.flatnonzero(np.abs(found - sound).max(axis=0) > 1e-7) / RATE
    assert touched.min() > 1.0 - 0.04 - 2 * NEAR
    assert touched.max() < 1.0 + 0.04 + 2 * NEAR
    loud = np.abs(sound[0]) > 0.05
    assert np.allclose(
        (found[1] / (0.9 * np.where(sound[0] == 0, 1, sound[0])))[loud], gain[loud]
    )
    steps = np.abs(np.diff(gain[loud & np.roll(loud, 1)]))
    assert steps.max() < 0.02


def test_what_is_soft_enough_stays_as_it_is():
    sound = tone(1.0)
    assert np.array_equal(in_pieces(sound, 11025, 0.9), sound)


def test_the_true_peak_is_held_too():
    """A tone of a quarter of the rate, whose samples miss its peaks by 3 dB."""
    wave = np.sin(np.arange(RATE) * np.pi / 2 + np.pi / 4).astype(np.float32)
    sound = np.stack([wave, wave]) * np.hanning(RATE).astype(np.float32)
    pieces = [sound[:, at : at + 11025] for at in range(0, RATE, 11025)]
    most, told = ceiling_for(lambda: pieces, 0.5, RATE)
    found = np.concatenate(list(limited(pieces, most, RATE)), axis=1)
    meter = TruePeak()
    meter.add(found)
    assert told == pytest.approx(meter.value(), rel=1e-4)
    dense = np.abs(resample_poly(found, 4, 1, axis=1, window=("kaiser", 8.0))).max()
    assert 0.45 < dense <= 0.502


@pytest.mark.long
@pytest.mark.parametrize("font", sorted(FONTS))
def test_a_slow_ballad_comes_to_the_loudness_asked_for(font, tmp_path):
    """Two choruses had come out at -21 LUFS, as bass, piano and brushes strike together."""
    song = chart("tempo: 64\nkey: Cm\nstyle: ballad\n| Cm7 | Am7b5 D7b9 | Gm7 C7b9 | Fm7 Bb7 |"
                 "\n| Ebmaj7 Abmaj7 | Dm7b5 G7alt | Cm6 | Dm7b5 G7b13 |")  # fmt: skip
    band = accompany(song, choruses=2).performance("Ballad")
    recording = write_sound({"band": band}, tmp_path, soundfont=FONTS[font])
    wave, rate = soundfile.read(recording.files["band"].path)
    assert recording.lowered <= 0.1
    assert pyloudnorm.Meter(rate).integrated_loudness(wave) == pytest.approx(-18.0, abs=0.2)
    assert recording.files["band"].true_peak <= -1.0 + 1e-6
    assert 20 * np.log10(np.abs(wave).max()) <= -1.0


def test_a_melody_without_a_band_is_never_touched(tmp_path):
    notes = part(*[(2 * i, 2 * i + 0.2, 60, 6.0 * (i == 3)) for i in range(6)])
    one = write_sound({"a": performance(notes)}, tmp_path, loudness=-8.0,
                      soundfont=embedded_soundfont())  # fmt: skip
    assert one.lowered > 1
    placed = performance(replace(notes, place=0.0))
    two = write_sound({"a": placed}, tmp_path, loudness=-8.0, soundfont=embedded_soundfont())
    assert two.lowered < one.lowered - 1
