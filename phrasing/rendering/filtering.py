"""Filtering a stream by FFT (overlap and save), with mid and side for left and right.

Sound is cut into frames that overlap by ``MEMORY`` samples, the longest impulse response of a
filter. One FFT a frame serves all filters that the sound goes through.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
"""Stereo samples, shape (2, n), full scale at 1."""
Spectra = NDArray[np.complex64]
"""Of mid and side, half the sum and half the difference of left and right, frame by frame:
shape (2, frames, ``SIZE`` / 2 + 1)."""
SIZE = 12288
"""Samples in a frame."""
MEMORY = 3072
HOP = SIZE - MEMORY
"""Samples that each frame adds."""
BLOCK = 4 * HOP
"""Samples that are best taken at a time: FFTs are faster by four."""


class Frames:
    """Cuts a stream into frames and gives their spectra."""

    def __init__(self) -> None:
        self._waiting: Samples = np.zeros((2, MEMORY), np.float32)

    @property
    def pending(self) -> int:
        """Samples that came in and do not fill a frame yet."""
        return int(self._waiting.shape[1]) - MEMORY

    def __call__(self, samples: Samples) -> Spectra:
        """Take the next samples, any number; return the spectra of the frames they fill."""
        from scipy import fft

        x = self._joined(*samples)
        count = (x.shape[1] - MEMORY) // HOP
        self._waiting = x[:, count * HOP :].copy()
        spectra = np.zeros((2, count, SIZE // 2 + 1), np.complex64)
        if count:
            frames = np.lib.stride_tricks.sliding_window_view(x, SIZE, axis=1)[:, ::HOP]
            for row, own in zip(spectra, frames, strict=True):
                if own.any():  # a synthesizer's dry sound may have no side at all
                    row[:] = fft.rfft(own)
        return spectra

    def _joined(self, left: Samples, right: Samples) -> Samples:
        """The samples that wait, followed by the mid and side of new ones."""
        first = self._waiting.shape[1]
        x = np.empty((2, first + len(left)), np.float32)
        x[:, :first] = self._waiting
        np.add(left, right, out=x[0, first:])
        np.subtract(left, right, out=x[1, first:])
        x[:, first:] *= np.float32(0.5)
        return x


def signal(spectra: Spectra) -> Samples:
    """The samples that filtered frames add, ``HOP`` each: shape (..., frames · ``HOP``)."""
    from scipy import fft

    frames: Samples = fft.irfft(spectra)[..., MEMORY:]
    return frames.reshape(*spectra.shape[:-2], -1)
