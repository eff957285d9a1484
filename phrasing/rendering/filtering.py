"""Filtering a stream by FFT, block by block (overlap and save)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
"""Stereo samples, shape (2, n), full scale at 1."""
SIZE = 8192
"""Samples in an FFT."""


class Filter:
    """Filters a stream of some channels.

    ``response``: the filter at ``SIZE`` / 2 + 1 frequencies from 0 to half the rate. Its
    impulse response has died away after ``memory`` samples.
    """

    def __init__(self, response: NDArray[np.complex64], memory: int, channels: int) -> None:
        self._response = response
        self._memory = memory
        self.hop = SIZE - memory
        """Samples that are filtered at a time."""
        self._waiting: Samples = np.zeros((channels, memory), np.float32)

    @property
    def pending(self) -> int:
        """Samples that came in and have not been filtered yet."""
        return int(self._waiting.shape[1]) - self._memory

    def __call__(self, samples: Samples) -> Samples:
        """Take the next samples (channels, n); return the next whole hops of filtered ones."""
        from scipy import fft

        x = np.concatenate([self._waiting, samples], axis=1)
        whole = (x.shape[1] - self._memory) // self.hop * self.hop
        self._waiting = x[:, whole:].copy()
        if not whole:
            return x[:, :0]
        frames = np.lib.stride_tricks.sliding_window_view(x, SIZE, axis=1)[:, :: self.hop]
        spectra = fft.rfft(np.ascontiguousarray(frames))
        spectra *= self._response
        filtered: Samples = fft.irfft(spectra)[:, :, self._memory :]
        return filtered.reshape(len(x), whole)
