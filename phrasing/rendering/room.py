"""A small room: a few early reflections and a short, quiet tail that leaves silences silent.

The tail falls by 60 dB in 0.3 s and starts some 20 dB below the sound: a practice room with a
carpet, not a hall (design parameters; common practice, no source). It is added to the dry
sound, block by block, by FFT.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from phrasing.rendering.loudness import Samples
from phrasing.tempo import Floats

BLOCK = 24576
"""Samples that go through at a time: with the room's length a power of two, for the FFT."""
LENGTH = 8192
"""Samples of the room's impulse response."""
EARLY = (
    ((0.0067, -15.0), (0.0113, -17.0), (0.0171, -18.5), (0.0243, -20.5), (0.0317, -22.5)),
    ((0.0079, -15.5), (0.0129, -16.5), (0.0193, -19.0), (0.0227, -20.0), (0.0347, -23.0)),
)
"""Early reflections for the left and the right: seconds after the sound, dB against it."""
TAIL_START, TAIL_LEVEL, TAIL_FALL = 0.018, -21.0, 0.30
"""The tail: seconds to its start, its energy in dB against the sound, seconds to fall 60 dB."""
DAMPING = 3500.0
"""Hz above which carpet and curtains swallow the reflections (6 dB an octave)."""
SEED = 20


class Room:
    """Adds the room to blocks of dry sound at ``rate`` (Hz)."""

    def __init__(self, rate: int) -> None:
        self._response = _response(rate)
        self._carry: Samples = np.zeros((2, LENGTH), np.float32)

    def add(self, dry: Samples) -> None:
        """Add the room to the next ``BLOCK`` samples, shape (``BLOCK``, 2), in place."""
        from scipy import fft

        mono = dry.sum(axis=1) * np.float32(0.5)
        spectrum = fft.rfft(mono, BLOCK + LENGTH) * self._response
        wet = fft.irfft(spectrum, BLOCK + LENGTH)
        wet[:, :LENGTH] += self._carry
        self._carry = wet[:, BLOCK:]
        dry += wet[:, :BLOCK].T


def coloration(rate: int, points: int) -> Floats:
    """How much power the room makes of each frequency of a steady sound, left and right.

    Shape (2, ``points``), from 0 Hz to half the rate; ``points`` - 1 divides the FFT's half.
    """
    step = (BLOCK + LENGTH) // 2 // (points - 1)
    return np.asarray(np.abs(1 + _response(rate)[:, ::step]) ** 2, np.float64)


@lru_cache(maxsize=2)
def _response(rate: int) -> NDArray[np.complex64]:
    """The spectrum of the room's impulse response, left and right."""
    from scipy import fft

    time = np.arange(LENGTH) / rate
    noise = np.random.default_rng(SEED).standard_normal((2, LENGTH))
    tail = noise * 10 ** (-3 * time / TAIL_FALL) * (time >= TAIL_START)
    tail *= 10 ** (TAIL_LEVEL / 20) / np.sqrt((tail**2).sum(axis=1, keepdims=True))
    for side, reflections in enumerate(EARLY):
        for seconds, level in reflections:
            tail[side, round(seconds * rate)] += 10 ** (level / 20)
    spectrum = fft.rfft(tail, BLOCK + LENGTH) / _damping(rate)
    return np.asarray(spectrum, np.complex64)


def _damping(rate: int) -> NDArray[np.complexfloating]:
    frequencies = np.arange((BLOCK + LENGTH) // 2 + 1) * rate / (BLOCK + LENGTH)
    return 1 + 1j * frequencies / DAMPING
