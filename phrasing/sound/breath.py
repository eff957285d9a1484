"""The air that is heard with a wind's tongued attacks, where the feel asks for it.

A hiss that comes a moment before the tone and goes as the tone takes over: noise between 1.5
and 8 kHz, from a seed. What it sounds like is a design parameter (no source); how loud it is
against its note is the feel's.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from phrasing.performing.performance import Part
from phrasing.score.meters import Floats, Ints
from phrasing.sound.events import SampleClock, Touch
from phrasing.sound.loudness import k_response
from phrasing.sound.probing import is_blown
from phrasing.sound.streams import Samples

SEED = 11
LOW, HIGH = 1500.0, 8000.0
"""Hz between which the air hisses, sloping away over half an octave at either end."""
BEFORE, AFTER = 0.025, 0.090
"""Seconds in which it comes, and after which it is gone."""
FADES = 0.030
"""Seconds in which it falls to 37 % once the tone is there."""
NOISE = 1 << 17
"""Samples of noise, of which each note takes some."""


class Breath:
    """The air of a part: ``add`` puts it into the blocks of a sound, in order of time."""

    def __init__(self, part: Part, touch: Touch, clock: SampleClock) -> None:
        heard = np.zeros(len(part.onset), bool)
        if part.breath is not None and is_blown(part):
            slurred = (part.onset[:-1] < part.onset[1:]) & (part.onset[1:] < part.release[:-1])
            heard = ~np.append(False, slurred)[: len(heard)]
        self._hiss = _hiss(clock.rate) if heard.any() else np.zeros(0)
        self._envelope = _envelope(clock.rate)
        self._first: Ints = clock(part.onset[heard]) - round(BEFORE * clock.rate)
        room = NOISE - len(self._envelope)
        self._from: Ints = part.onset[heard] * 7919 % room
        louder = touch.level[heard] + (part.breath or 0.0) - 10 * np.log10(2)  # of each side
        self._height: Floats = 10 ** (louder / 20)

    def add(self, block: Samples, at: int) -> None:
        """Add what falls into a block that begins at the sample ``at``."""
        size, length = len(self._envelope), block.shape[1]
        inside = (self._first < at + length) & (self._first + size > at)
        for note in np.flatnonzero(inside).tolist():
            begins, source = int(self._first[note]) - at, int(self._from[note])
            low, high = max(0, -begins), min(size, length - begins)
            air = self._hiss[source + low : source + high] * self._envelope[low:high]
            block[:, begins + low : begins + high] += self._height[note] * air


@lru_cache(maxsize=2)
def _hiss(rate: int) -> Floats:
    """Noise with a K-weighted power of 1 (ITU-R BS.1770)."""
    frequencies = np.fft.rfftfreq(NOISE, 1 / rate)
    slope = 1 / (1 + (LOW / np.maximum(frequencies, 1)) ** 6) / (1 + (frequencies / HIGH) ** 6)
    spectrum = np.fft.rfft(np.random.default_rng(SEED).standard_normal(NOISE)) * slope
    weighted = np.fft.irfft(spectrum * k_response(rate, NOISE), NOISE)
    return np.asarray(np.fft.irfft(spectrum, NOISE) / np.sqrt((weighted**2).mean()))


def _envelope(rate: int) -> Floats:
    rising = np.linspace(0.0, 1.0, round(BEFORE * rate), endpoint=False) ** 2
    time = np.arange(round(AFTER * rate)) / rate
    return np.append(rising, np.exp(-time / FADES) * (1 - time / AFTER))
