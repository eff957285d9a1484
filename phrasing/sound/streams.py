"""A small room: a few early reflections and a short, quiet tail that leaves silences silent.

The tail falls by 60 dB in 0.2 s and starts some 20 dB below the sound: a practice room with a
carpet, not a hall (design parameters; common practice, no source). What comes back is added
on the left and subtracted on the right, so that it seems to come from around the player, adds
the same power at every frequency, and disappears where both channels are mixed to one.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
"""Stereo samples, shape (2, n), full scale at 1."""
Spectra = tuple[NDArray[np.complex64], ...]
"""Of mid and side, half the sum and half the difference of left and right, frame by frame:
shape (frames, ``SIZE`` / 2 + 1) each. Where left is right there is no side."""
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
        self._waiting: Samples = np.zeros((1, MEMORY), np.float32)

    @property
    def pending(self) -> int:
        """Samples that came in and do not fill a frame yet."""
        return int(self._waiting.shape[1]) - MEMORY

    def __call__(self, samples: Samples) -> Spectra:
        """Take the next samples, any number; return the spectra of the frames they fill."""
        from scipy import fft

        x = self._joined(_mid_side(samples))
        count = (x.shape[1] - MEMORY) // HOP
        waiting = x[:, count * HOP :]
        self._waiting = (waiting if waiting[1:].any() else waiting[:1]).copy()
        if not count:
            return tuple(np.zeros((0, SIZE // 2 + 1), np.complex64) for _ in x)
        frames = np.lib.stride_tricks.sliding_window_view(x, SIZE, axis=1)[:, ::HOP]
        return tuple(fft.rfft(own) for own in frames)

    def _joined(self, new: Samples) -> Samples:
        """What waits, followed by what is new; a side that one of them lacks is silent."""
        first = self._waiting.shape[1]
        rows = max(len(self._waiting), len(new))
        x = np.empty((rows, first + new.shape[1]), np.float32)
        for part, columns in ((self._waiting, slice(first)), (new, slice(first, None))):
            x[: len(part), columns] = part
            x[len(part) :, columns] = 0
        return x


def _mid_side(samples: Samples) -> Samples:
    """Mid and side, or mid alone: a melody by itself sits in the middle."""
    left, right = samples
    if np.array_equal(left, right):
        return samples[:1]
    return np.stack([left + right, left - right]) * np.float32(0.5)


LENGTH = MEMORY
"""Samples of the room's impulse response."""
EARLY = (
    (0.0067, -20.0), (0.0092, -21.0), (0.0113, -20.5), (0.0151, -22.0), (0.0173, -21.5),
    (0.0219, -23.5), (0.0257, -24.0), (0.0311, -25.5), (0.0347, -26.0),
)  # fmt: skip
"""Early reflections: seconds after the sound, dB against it."""
TAIL_START, TAIL_LEVEL, TAIL_FALL = 0.015, -20.0, 0.20
"""The tail: seconds to its start, its energy in dB against the sound, seconds to fall 60 dB."""
DAMPING = 4000.0
"""Hz above which carpet and curtains swallow what comes back (6 dB an octave)."""
SEED = 20


class Room:
    """Adds the room to dry sound at ``rate`` (Hz)."""

    def __init__(self, rate: int) -> None:
        self._response = _response(rate)

    def around(self, sound: Samples, spectra: Spectra) -> tuple[Samples, Spectra]:
        """Whole frames of sound with the room, and their spectra."""
        from scipy import fft

        mid, *side = spectra
        back = mid * self._response
        heard = fft.irfft(back)[:, MEMORY:]
        wet = np.empty_like(sound)
        dry, placed = (each.reshape(2, -1, HOP) for each in (sound, wet))
        np.add(dry[0], heard, out=placed[0])
        np.subtract(dry[1], heard, out=placed[1])
        return wet, (mid, side[0] + back if side else back)


@lru_cache(maxsize=2)
def _response(rate: int) -> NDArray[np.complex64]:
    """The spectrum of the room's answer to the mid of the sound, which is all side."""
    from scipy import fft

    time = np.arange(LENGTH) / rate
    tail = np.random.default_rng(SEED).standard_normal(LENGTH) * 10 ** (-3 * time / TAIL_FALL)
    tail[time < TAIL_START] = 0
    tail *= 10 ** (TAIL_LEVEL / 20) / np.sqrt((tail**2).sum())
    for index, (seconds, level) in enumerate(EARLY):
        tail[round(seconds * rate)] += 10 ** (level / 20) * (-1) ** (index // 2)
    fading = np.minimum(1, (LENGTH - np.arange(LENGTH)) / (LENGTH / 8))
    pole = np.exp(-2 * np.pi * DAMPING / rate)
    damping = (1 - pole) / (
        1 - pole * np.exp(-1j * np.pi * np.arange(SIZE // 2 + 1) * 2 / SIZE)
    )
    spectrum = fft.rfft(tail * fading, SIZE) * damping
    return np.asarray(spectrum, np.complex64)
