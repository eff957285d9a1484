"""Filtering by FFT is filtering."""

import numpy as np
import pytest
from scipy.signal import lfilter

from phrasing.rendering.filtering import SIZE, Filter
from phrasing.rendering.loudness import MEMORY, k_response, k_weighting


def filtered(sound: np.ndarray, piece: int) -> np.ndarray:
    stream = Filter(k_response(44100), MEMORY, channels=2)
    return np.concatenate(
        [stream(sound[:, at : at + piece]) for at in range(0, sound.shape[1], piece)], axis=1
    )


@pytest.mark.parametrize("piece", [100, SIZE - MEMORY, 10_000, 70_000])
def test_it_is_the_filter_sample_by_sample(piece):
    sound = np.random.default_rng(5).standard_normal((2, 70_000)).astype(np.float32)
    sound[1] = np.sin(np.arange(70_000) * 2 * np.pi * 40 / 44100)
    found = filtered(sound, piece)
    expected = lfilter(*k_weighting(44100), sound.astype(float), axis=1)
    assert found.shape[1] > 70_000 - SIZE
    assert np.abs(found - expected[:, : found.shape[1]]).max() < 0.0003


def test_nothing_comes_out_before_a_whole_hop_is_in():
    stream = Filter(k_response(44100), MEMORY, channels=1)
    assert stream(np.ones((1, 3000), np.float32)).shape == (1, 0)
    assert stream.pending == 3000
    assert stream(np.ones((1, stream.hop - 3000), np.float32)).shape == (1, stream.hop)
    assert stream.pending == 0
