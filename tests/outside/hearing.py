"""Measuring sound with other people's tools: soundfile, pyloudnorm's filters, librosa.

Nothing here uses the project's own meters, so that what the project says about its sound can
be checked against them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from phrasing.performing.performance import Performance
from phrasing.score.melody import TempoMap
from phrasing.sound.soundfiles import write_sound
from phrasing.sound.soundfonts import embedded_soundfont

Wave = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Take:
    """A recording to listen to: ``wave`` (n, 2), the same K-weighted, tick 0 in seconds."""

    wave: Wave
    weighted: Wave
    rate: int
    start: float
    tempos: TempoMap

    def at(self, ticks: float) -> float:
        """Seconds from the start of the file to these ticks."""
        return self.start + float(self.tempos.seconds(ticks))

    def level(self, start: float, stop: float) -> float:
        """dB of K-weighted power between two seconds."""
        return decibels(self.weighted[round(start * self.rate) : round(stop * self.rate)])

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
        takes[name] = Take(wave, weighted, rate, recording.music_starts, performance.tempos)
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
