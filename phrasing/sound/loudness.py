"""How loud a recording is, measured as it goes by: ITU-R BS.1770-4.

Loudness is in LUFS (the standard's LKFS): the power of the K-weighted channels over blocks of
400 ms that overlap by three quarters, gated at -70 LUFS and then at 10 LU below the mean.
True peak is in dBTP: the highest value of the waveform between the samples, found at four
times the rate. A meter keeps ten numbers a second, however long the recording is.
"""

from __future__ import annotations

import math
from copy import copy
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from phrasing.score.meters import Floats
from phrasing.sound.streams import HOP, MEMORY, SIZE, Frames, Samples, Spectra

OFFSET = -0.691
"""dB that make a 997 Hz sine of full scale in one channel read -3.01 (BS.1770-4)."""
GATE, RELATIVE_GATE = -70.0, -10.0
STEPS = 4
"""Steps of 100 ms in a block of 400 ms."""
SHELF = (1681.974450955533, 3.999843853973347, 0.7071752369554196)
HIGH_PASS = (38.13547087602444, 0.5003270373238773)
"""Frequency (Hz), gain (dB) and quality of the analogue filters whose bilinear transforms are
BS.1770-4's coefficients at 48 kHz; the same transform gives them at any other rate."""
OVERSAMPLING, REACH = 4, 16
"""True peak: positions to a sample, and the samples on either side that shape the waveform."""
AT_ONCE = 256


def k_weighting(rate: int) -> tuple[Floats, Floats]:
    """Numerator and denominator of the K-weighting filter at ``rate`` (Hz), five each."""
    (shelf_b, shelf_a), (high_b, high_a) = _shelf(rate), _high_pass(rate)
    return np.convolve(shelf_b, high_b), np.convolve(shelf_a, high_a)


@lru_cache(maxsize=4)
def k_response(rate: int, size: int) -> NDArray[np.complex64]:
    """The K-weighting filter's response at the frequencies of an FFT of ``size``.

    Its impulse response has died away (to 1e-5) after 2048 samples.
    """
    b, a = k_weighting(rate)
    z = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    return np.asarray(np.polyval(b[::-1], z) / np.polyval(a[::-1], z), np.complex64)


def _shelf(rate: int) -> tuple[Floats, Floats]:
    frequency, gain, quality = SHELF
    k, high = math.tan(math.pi * frequency / rate), 10 ** (gain / 20)
    middle = high**0.499666774155
    b = np.array([high + middle * k / quality + k * k, 2 * (k * k - high),
                  high - middle * k / quality + k * k])  # fmt: skip
    a = np.array([1 + k / quality + k * k, 2 * (k * k - 1), 1 - k / quality + k * k])
    return b / a[0], a / a[0]


def _high_pass(rate: int) -> tuple[Floats, Floats]:
    frequency, quality = HIGH_PASS
    k = math.tan(math.pi * frequency / rate)
    a = np.array([1 + k / quality + k * k, 2 * (k * k - 1), 1 - k / quality + k * k])
    return np.array([1.0, -2.0, 1.0]), a / a[0]


class LoudnessMeter:
    """Takes a recording block by block (``add``) and tells its loudness and true peak.

    ``rate`` in Hz, a multiple of 10. Of the weighted samples every third is taken where that
    divides the rate: they have the power of all.
    """

    def __init__(self, rate: int) -> None:
        self._thin = 3 if rate // 10 % 3 == 0 else 1
        self._step = rate // 10 // self._thin
        self._frames = Frames()
        self._weighting = k_response(rate, SIZE) / np.float32(self._thin)
        self._powers: list[Floats] = []
        self._begun = 0.0
        self._filled = 0
        self._peak = TruePeak()

    def add(self, samples: Samples, spectra: Spectra | None = None) -> None:
        """Measure the next samples, shape (2, n).

        ``spectra``: what ``Frames`` gives for them, where the caller has it. Samples are then
        to come in whole frames, always with their spectra.
        """
        self._peak.add(samples)
        self._collect(self._power(self._frames(samples) if spectra is None else spectra))

    def _power(self, spectra: Spectra) -> Samples:
        """The weighted power of both channels together, sample by sample that is taken."""
        from scipy import fft

        power: Samples = np.zeros(1, np.float32)
        for each in spectra:
            weighted = each * self._weighting
            taken = weighted if self._thin == 1 else _thinned(weighted)
            wave = fft.irfft(taken)[:, MEMORY // self._thin :]
            power = power + 2 * wave * wave
        return power.reshape(-1)

    def _collect(self, power: Samples) -> None:
        """Add the power up to steps of 100 ms."""
        missing = self._step - self._filled
        if len(power) < missing:
            self._begun += float(power.sum())
            self._filled += len(power)
            return
        first = self._begun + float(power[:missing].sum())
        whole = (len(power) - missing) // self._step
        steps = power[missing : missing + whole * self._step].reshape(whole, self._step)
        self._powers.append(np.concatenate([[first], steps.sum(axis=1)]) / self._step)
        rest = power[missing + whole * self._step :]
        self._begun, self._filled = float(rest.sum()), len(rest)

    def _closed(self) -> LoudnessMeter:
        """A meter that has also taken in what does not fill a frame."""
        closed, frames = copy(self), copy(self._frames)
        closed._powers = list(self._powers)
        last = self._power(frames(np.zeros((2, HOP), np.float32)))
        closed._collect(last[: self._frames.pending // self._thin])
        return closed

    def integrated(self) -> float:
        """Loudness of all that was added, in LUFS; minus infinity for silence.

        A recording shorter than 400 ms is taken as if silence followed it.
        """
        closed = self._closed()
        steps = np.concatenate([np.zeros(0), *closed._powers])
        if len(steps) < STEPS:
            steps = np.pad([*steps, closed._begun / self._step], (0, STEPS - 1 - len(steps)))
        blocks = np.convolve(steps, np.ones(STEPS) / STEPS, "valid")
        loud = blocks[_loudness(blocks) > GATE]
        if not len(loud):
            return -math.inf
        relative = _loudness(loud.mean()) + RELATIVE_GATE
        return float(_loudness(loud[_loudness(loud) > relative].mean()))

    def true_peak(self) -> float:
        """The highest true peak of all that was added, in dBTP."""
        peak = self._peak.value()
        return 20 * math.log10(peak) if peak > 0 else -math.inf


def _thinned(spectra: NDArray[np.complex64]) -> NDArray[np.complex64]:
    """The spectra of every third sample: what lies above comes down, mirrored or not."""
    end = SIZE // 2 // 3
    folded = spectra[:, : end + 1] + spectra[:, 2 * end :]
    folded += spectra[:, end : 2 * end + 1][:, ::-1].conj()
    return folded


class TruePeak:
    """The highest value of the waveform through the samples added so far.

    Only where a sample and the bend of the waveform there leave room for a new highest value
    is it worked out between the samples. That bound (a sample plus half its second
    difference, and twice the sample) holds for tones up to a third of the rate, which carry
    the peaks of music.
    """

    def __init__(self) -> None:
        self._peak = 0.0
        self._tail: Samples = np.zeros((2, 2 * REACH), np.float32)

    def add(self, samples: Samples) -> None:
        """Look at the next samples, shape (2, n)."""
        seam = np.concatenate([self._tail, samples[:, : 2 * REACH]], axis=1)
        self._tail = np.concatenate([self._tail, samples[:, -2 * REACH :]], axis=1)
        self._tail = self._tail[:, -2 * REACH :]
        for channel in (*seam, *samples):
            top = max(float(channel.max(initial=0)), -float(channel.min(initial=0)))
            if top > self._peak / 2:
                self._peak = max(self._peak, top)
                self._search(channel)

    def value(self) -> float:
        """The highest value, on the scale of the samples."""
        self.add(np.zeros((2, 2 * REACH), np.float32))
        return self._peak

    def _search(self, x: NDArray[np.float32]) -> None:
        """Work out the peaks beside samples that leave room for a new highest value."""
        twice = x[2:] + x[:-2]
        twice -= 4 * x[1:-1]
        np.abs(twice, out=twice)  # the bound, where a sample stands out
        found = np.flatnonzero(twice[REACH - 1 : 1 - REACH] > 2 * self._peak) + REACH
        size = np.abs(x[found])
        found = found[(size >= np.abs(x[found - 1])) & (size >= np.abs(x[found + 1]))]
        found = found[np.argsort(-twice[found - 1], kind="stable")]
        while len(found):
            self._peak = max(self._peak, _between(x, found[:AT_ONCE]))
            found = found[AT_ONCE:]
            found = found[twice[found - 1] > 2 * self._peak]


def _between(x: NDArray[np.float32], at: NDArray[np.int64]) -> float:
    """The highest value between the samples ``at`` and their neighbours on either side."""
    windows = np.lib.stride_tricks.sliding_window_view(x, 2 * REACH)
    starts = np.concatenate([at - REACH, at - REACH + 1])
    return float(np.abs(windows[starts] @ _interpolators()).max())


@lru_cache(maxsize=1)
def _interpolators() -> NDArray[np.float32]:
    """Windowed sines, one a column, for the positions between two samples."""
    positions = np.arange(1, OVERSAMPLING) / OVERSAMPLING
    distance = np.arange(2 * REACH)[:, None] - (REACH - 1) - positions
    window = np.i0(8 * np.sqrt(np.maximum(0, 1 - (distance / REACH) ** 2))) / np.i0(8)
    return (np.sinc(distance) * window).astype(np.float32)


def _loudness(power: Floats | np.floating) -> Floats:
    with np.errstate(divide="ignore"):
        return np.asarray(OFFSET + 10 * np.log10(power))
