"""Sound packed into a page: what is lost, where its pieces lie, how they join."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile

from phrasing.sound.packing import (
    FIRST,
    PACKED,
    ROOMY,
    Packed,
    Packing,
    packed,
    packing_for,
)

RATE = 44100


def written(path: Path, samples: np.ndarray) -> Path:
    soundfile.write(path, samples, RATE, subtype="PCM_24")
    return path


def tone(seconds: float, *hertz: float) -> np.ndarray:
    """A steady sound of these frequencies in two channels."""
    time = np.arange(round(seconds * RATE)) / RATE
    wave = sum(np.sin(2 * np.pi * each * time) for each in hertz) * 0.2 / len(hertz)
    return np.column_stack([wave, wave])


def joined(sound: Packed) -> np.ndarray:
    """The pieces as a page puts them together."""
    whole = np.zeros(sound.frames)
    for place, piece in enumerate(sound.pieces):
        samples, rate = soundfile.read(io.BytesIO(piece.content), always_2d=True)
        assert rate == sound.rate
        assert len(samples) == piece.frames
        share = np.ones(len(samples))
        if place:
            share[: sound.seam] = (np.arange(sound.seam) + 0.5) / sound.seam
        span = slice(piece.start, piece.start + len(samples))
        whole[span] += share * (samples[:, 0] - whole[span])
    return whole


@pytest.mark.parametrize("rate", [44100, 32000, 24000])
def test_pieces_cover_the_whole_and_join_without_a_break(tmp_path, rate):
    """A steady tone stays one: no frame lost or doubled, no step at the seam."""
    path = written(tmp_path / "tone.wav", tone(12.0, 441.0))
    sound = packed(path, Packing(rate, 1))
    assert len(sound.pieces) == 2
    assert sound.pieces[1].start == round(FIRST * rate) - sound.seam
    whole = joined(sound)
    assert abs(len(whole) - 12.0 * rate) <= 1
    meant = 0.2 * np.sin(2 * np.pi * 441.0 * np.arange(len(whole)) / rate)
    middle = slice(round(0.2 * rate), -round(0.2 * rate))
    error = whole[middle] - meant[middle]
    assert 20 * np.log10(np.sqrt(np.mean(error**2)) / 0.2) < -40  # one frame late: -27
    assert 20 * np.log10(np.abs(error).max() / 0.2) < -30


def test_what_is_short_stays_in_one_piece(tmp_path):
    sound = packed(written(tmp_path / "tone.wav", tone(9.0, 441.0)), Packing(RATE, 2))
    assert [(piece.start, piece.frames) for piece in sound.pieces] == [(0, sound.frames)]


@pytest.mark.parametrize("how", [how for _, how in PACKED], ids=str)
def test_the_brightness_of_a_firm_start_is_kept(tmp_path, how):
    """Packed as tightly as it was before, all above 5.4 kHz was gone."""
    tones = (500.0, 3000.0, 6000.0, 9000.0, 10500.0)
    whole = joined(packed(written(tmp_path / "tones.wav", tone(4.0, *tones)), how))
    spectrum = np.abs(np.fft.rfft(whole[how.rate : 2 * how.rate] * np.hanning(how.rate)))
    levels = [20 * np.log10(spectrum[round(each)]) for each in tones]
    assert max(levels) - min(levels) < 6


def test_the_same_sound_packs_into_the_same_bytes(tmp_path):
    path = written(tmp_path / "tone.wav", tone(11.0, 441.0, 3000.0))
    assert packed(path, Packing(24000, 1, 0.7)) == packed(path, Packing(24000, 1, 0.7))


KILOBITS = {(44100, 2): 136, (44100, 1): 85, (32000, 1): 60, (24000, 1): 56}
TIGHTER = {(24000, 0.5): 48, (24000, 0.7): 38}
"""What was measured (see ``PACKED``)."""


@pytest.mark.parametrize("seconds", [*range(20, 320, 10)])
def test_sound_is_packed_as_roomily_as_a_page_allows(seconds):
    """In base64, and 0.6 MB of music and script beside it; above, it is packed no further."""
    how = packing_for(float(seconds))
    rate = TIGHTER.get((how.rate, how.tightness or 0), KILOBITS[how.rate, how.channels])
    megabytes = seconds * rate / 8 / 1000 * 4 / 3
    assert megabytes <= 2.4
    assert megabytes >= 1.2 or how == ROOMY
