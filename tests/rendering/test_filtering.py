"""Filtering by FFT is filtering."""

import numpy as np
import pytest
from scipy.signal import lfilter

from phrasing.rendering.filtering import HOP, SIZE, Frames, signal
from phrasing.rendering.loudness import k_response, k_weighting


def filtered(sound: np.ndarray, piece: int) -> np.ndarray:
    """Left and right through the K-weighting filter, in pieces."""
    frames, response = Frames(), k_response(44100, SIZE)
    spectra = [frames(sound[:, at : at + piece]) for at in range(0, sound.shape[1], piece)]
    mid, side = signal(np.concatenate(spectra, axis=1) * response)
    return np.array([mid + side, mid - side])


@pytest.mark.parametrize("piece", [100, HOP, 10_000, 70_000])
def test_it_is_the_filter_sample_by_sample(piece):
    sound = np.random.default_rng(5).standard_normal((2, 70_000)).astype(np.float32)
    sound[1] = np.sin(np.arange(70_000) * 2 * np.pi * 40 / 44100)
    found = filtered(sound, piece)
    expected = lfilter(*k_weighting(44100), sound.astype(float), axis=1)
    assert found.shape[1] > 70_000 - SIZE
    assert np.abs(found - expected[:, : found.shape[1]]).max() < 0.0003


def test_a_side_that_begins_after_silence_is_filtered_too():
    """Frames whose side is silent are not transformed; the next one is, from its start."""
    sound = np.zeros((2, 3 * HOP), np.float32)
    sound[:] = np.random.default_rng(6).standard_normal(3 * HOP)
    sound[1, HOP + 50 :] *= -0.5
    found = filtered(sound, HOP)
    expected = lfilter(*k_weighting(44100), sound.astype(float), axis=1)
    assert np.abs(found - expected).max() < 0.0003


def test_nothing_comes_out_before_a_whole_frame_is_in():
    frames = Frames()
    assert frames(np.ones((2, 3000), np.float32)).shape[:2] == (2, 0)
    assert frames.pending == 3000
    assert frames(np.ones((2, HOP - 3000), np.float32)).shape[:2] == (2, 1)
    assert frames.pending == 0
