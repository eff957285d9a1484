"""Measuring sound with other people's tools: soundfile, pyloudnorm's filters, librosa, scipy.

Nothing here uses the project's own meters, so that what the project says about its sound can
be checked against them. A note is there from the moment at which it is within 6 dB of its
level, which is that of the 80 ms after it is due. Where the sound before it goes on (a slur),
that is looked for in the overtones that the note does not share with the one before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, uniform_filter1d
from scipy.signal import butter, fftconvolve, sosfilt

from phrasing.performing.performance import Performance
from phrasing.score.meters import TempoMap
from phrasing.sound.soundfiles import write_sound
from phrasing.sound.soundfonts import embedded_soundfont

Wave = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Take:
    """A recording to listen to: ``wave`` (n, 2), the same K-weighted, tick 0 in seconds.

    ``gain``: dB that the file was turned up.
    """

    wave: Wave
    weighted: Wave
    rate: int
    start: float
    tempos: TempoMap
    gain: float = 0.0

    def at(self, ticks: float) -> float:
        """Seconds from the start of the file to these ticks."""
        return self.start + float(self.tempos.seconds(ticks))

    def level(self, start: float, stop: float) -> float:
        """dB of K-weighted power between two seconds."""
        return decibels(self.weighted[round(start * self.rate) : round(stop * self.rate)])

    def power(self, width: float) -> Wave:
        """K-weighted power of both channels together, smoothed over ``width`` seconds."""
        count = round(width * self.rate) | 1
        window = np.hanning(count + 2)[1:-1]
        power = (self.weighted.mean(axis=1)) ** 2
        return np.asarray(fftconvolve(power, window / window.sum(), "same")).clip(1e-15)

    def centroid(self, start: float, stop: float) -> float:
        """Hz about which the spectrum lies between two seconds (librosa)."""
        import librosa

        mono = self.wave[round(start * self.rate) : round(stop * self.rate)].mean(axis=1)
        found = librosa.feature.spectral_centroid(
            y=mono, sr=self.rate, n_fft=len(mono), hop_length=len(mono), center=False
        )
        return float(found.mean())


def recorded(
    versions: Mapping[str, Performance], folder: Path, **options: Any
) -> dict[str, Take]:
    """Write the versions as the product does, and read them back with soundfile."""
    options.setdefault("soundfont", embedded_soundfont())
    recording = write_sound(versions, folder, **options)
    takes = {}
    for name, performance in versions.items():
        wave, rate = soundfile.read(recording.files[name].path, always_2d=True)
        weighted = k_weighted(wave, rate)
        gain = recording.files[name].gain
        takes[name] = Take(
            wave, weighted, rate, recording.music_starts, performance.tempos, gain
        )
    return takes


def decibels(wave: Wave) -> float:
    """Mean power in dB."""
    return float(10 * np.log10(np.mean(wave**2) + 1e-15))


def k_weighted(wave: Wave, rate: int) -> Wave:
    """BS.1770's weighting by pyloudnorm's filters."""
    from pyloudnorm import IIRfilter

    shelf = IIRfilter(4.0, 1 / np.sqrt(2), 1500.0, rate, "high_shelf")
    high_pass = IIRfilter(0.0, 0.5, 38.0, rate, "high_pass")
    columns = [high_pass.apply_filter(shelf.apply_filter(column)) for column in wave.T]
    return np.stack(columns, axis=1)


HEARD = 0.080
"""Seconds after a note is due that give its level."""
PASSED = 0.012
"""Seconds after which a slur has come to its note, where its colour is looked at."""
FRAME, LONG_FRAME, LOW = 2048, 4096, 130.0
"""Samples in a spectrum (as much before a moment as after it, so that it is not moved), and in
one for notes below so many Hz, whose overtones lie closer together."""


def frequency(pitch: float) -> float:
    """Hz of a MIDI number."""
    return float(440 * 2 ** ((pitch - 69) / 12))


@dataclass(frozen=True, eq=False)
class Line:
    """A line of single notes in a take: ``due`` and ``until`` in seconds of the file."""

    take: Take
    pitch: NDArray[np.int64]
    due: Wave
    until: Wave
    slurred: NDArray[np.bool_]

    def onsets(self) -> Wave:
        """Seconds at which each note is there; not a number where it is not found."""
        return np.array([self._there(note) for note in range(len(self.pitch))])

    def dips(self) -> Wave:
        """dB by which the sound falls before each note, against the softer of the two.

        Not a number for the first note and for those after 60 ms of silence.
        """
        found = [np.nan]
        for note in range(1, len(self.pitch)):
            if self.due[note] - self.until[note - 1] > 0.06:
                found.append(np.nan)
                continue
            least = self._least(note)
            found.append(least - min(self._body(note - 1), self._body(note)))
        return np.array(found)

    def first(self, seconds: float = 0.06) -> Wave:
        """dB of each note over its first ``seconds``, before the file was turned up."""
        ends = np.minimum(self.due + seconds, self.until)
        spans = zip(self.due.tolist(), ends.tolist(), strict=True)
        return np.array([self.take.level(*span) for span in spans]) - self.take.gain

    def highs(self) -> Wave:
        """dB of each note's power above 3 kHz against all of it, from 12 to 80 ms."""
        found = []
        for due, until in zip(self.due, self.until, strict=True):
            power, frequencies = self._spectrum(due + PASSED, min(until, due + HEARD))
            found.append(10 * np.log10(power[frequencies > 3000].sum() / power.sum()))
        return np.array(found)

    def centroids(self) -> Wave:
        """Hz about which the spectrum of each note lies, from 12 to 80 ms."""
        found = []
        for due, until in zip(self.due, self.until, strict=True):
            power, frequencies = self._spectrum(due + PASSED, min(until, due + HEARD))
            found.append((power * frequencies).sum() / power.sum())
        return np.array(found)

    def clicks(self) -> Wave:
        """dB of the loudest click in each note against the sound around it.

        A click is a millisecond whose power above 12 kHz is four times that of any within
        20 ms; a tone's own pulses come again. The first 60 ms of a tongued note are left out:
        they are the tongue's.
        """
        power, high = self._milliseconds
        beside = maximum_filter1d(high, 17)
        around = np.maximum(np.roll(beside, 12), np.roll(beside, -12))
        sticks_out = np.where(high > 4 * around, high - around, 0.0) / power
        first = self.due + np.where(self.slurred, -0.02, 0.06)
        last = np.append(self.due[1:] - np.where(self.slurred[1:], 0.02, 0.0), self.until[-1])
        spans = np.rint(1000 * np.array([first, np.maximum(last, first + 0.002)]).T).astype(int)
        found = np.array([sticks_out[slice(*span)].max() for span in spans])
        return np.asarray(10 * np.log10(found + 1e-12))

    @cached_property
    def _milliseconds(self) -> tuple[Wave, Wave]:
        """Power in each millisecond: of all within 40 ms, and of what lies above 12 kHz."""
        rate = self.take.rate
        mono = self.take.wave.mean(axis=1)
        high = sosfilt(butter(8, 12_000, "high", fs=rate, output="sos"), mono)
        starts = np.rint(np.arange(0, len(mono) / rate - 0.002, 0.001) * rate).astype(int)
        whole, above = (np.add.reduceat(x**2, starts) * 1000 / rate for x in (mono, high))
        return uniform_filter1d(whole, 81) + 1e-12, above

    def _spectrum(self, start: float, stop: float) -> tuple[Wave, Wave]:
        rate = self.take.rate
        mono = self.take.wave[round(start * rate) : round(stop * rate)].mean(axis=1)
        power = np.abs(np.fft.rfft(mono * np.hanning(len(mono)))) ** 2
        return power, np.fft.rfftfreq(len(mono), 1 / rate)

    def _body(self, note: int) -> float:
        due, until, rate = self.due[note], self.until[note], self.take.rate
        end = max(min(until - 0.01, due + 0.12), due + 0.03)
        power = self._power(0.010)[round((due + 0.01) * rate) : round(end * rate)]
        return float(10 * np.log10(power.mean()))

    def _least(self, note: int) -> float:
        lower = frequency(min(self.pitch[note - 1 : note + 1]))
        power, rate = self._power(max(0.010, 1.5 / lower)), self.take.rate
        middle = (self.due[note - 1] + self.due[note]) / 2
        first = max(self.due[note] - 0.07, middle)  # before that it may not be there yet
        around = slice(round(first * rate), round((self.due[note] + 0.04) * rate))
        return float(10 * np.log10(power[around].min()))

    def _power(self, width: float) -> Wave:
        if width not in self._powers:
            self._powers[width] = self.take.power(width)
        return self._powers[width]

    @cached_property
    def _powers(self) -> dict[float, Wave]:
        return {}

    def _there(self, note: int) -> float:
        due, rate = self.due[note], self.take.rate
        power = self._power(max(0.008, 1.2 / frequency(self.pitch[note])))
        end = max(min(due + HEARD, self.until[note] - 0.005), due + 0.03)
        level = power[round(due * rate) : round(end * rate)].mean()
        first = round((due - 0.07) * rate)
        quiet = first + int(power[first : round((due + 0.03) * rate)].argmin())
        before = 10 ** (self._body(note - 1) / 10) if note and self.slurred[note] else np.inf
        if power[quiet] > min(level, before) / 4:
            return self._sung(note)
        found = np.flatnonzero(power[quiet : round(end * rate)] >= level / 4)
        return float((quiet + found[0]) / rate) if len(found) else np.nan

    def _sung(self, note: int) -> float:
        """When the overtones that are this note's alone come within 6 dB of their level."""
        if note == 0:
            return np.nan
        due, rate, hop = self.due[note], self.take.rate, 64
        size = LONG_FRAME if frequency(self.pitch[note]) < LOW else FRAME
        first = round((due - 0.08) * rate)
        mono = self.take.wave[max(0, first - size // 2) : first + round(0.2 * rate)]
        frames = np.lib.stride_tricks.sliding_window_view(mono.mean(axis=1), size)[::hop]
        spectra = np.abs(np.fft.rfft(frames * np.hanning(size))) ** 2
        power = spectra[:, self._own_bins(note, size)].sum(axis=1) + 1e-15
        at = (first + hop * np.arange(len(power))) / rate
        end = max(min(due + HEARD, self.until[note] - 0.02), due + 0.04)
        level = power[(at >= due + 0.015) & (at <= end)].mean()
        below = np.flatnonzero((power < level / 4) & (at < due + 0.06))
        if not len(below):
            return np.nan
        last = below[-1]
        share = np.log(level / 4 / power[last]) / np.log(power[last + 1] / power[last])
        return float(at[last] + share * hop / rate)

    def _own_bins(self, note: int, size: int) -> NDArray[np.int64]:
        """Bins at overtones of the note that lie apart from those of the one before."""
        step = self.take.rate / size
        overtones = np.arange(1, 60) * frequency(self.pitch[note])
        before = np.arange(1, 120) * frequency(self.pitch[note - 1])
        apart = np.abs(overtones[:, None] - before).min(axis=1) > 2.6 * step
        own = overtones[apart & (overtones < 7000)]
        bins = np.arange(size // 2 + 1) * step
        return np.flatnonzero((np.abs(bins[:, None] - own) < step).any(axis=1))


def line_of(take: Take, performance: Performance) -> Line:
    """The performance's first part as a line in its recording."""
    part = performance.parts[0]
    due, until = (np.array([take.at(t) for t in ticks]) for ticks in (part.onset, part.release))
    until[:-1] = np.minimum(until[:-1], due[1:])
    slurred = np.append(False, part.release[:-1] > part.onset[1:])
    return Line(take, part.pitch, due, until, slurred)
