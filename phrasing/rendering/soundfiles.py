"""Performances → sound files that are equally loud and equally long.

Each version goes to a temporary file as it is played and measured; then one gain brings it
to the common loudness while the file is written. True peaks stay at or below -1 dBTP
(EBU R 128): where the loudest peak leaves no room for the loudness asked for, all versions
are lowered together.
"""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from functools import lru_cache
from io import FileIO
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from phrasing.errors import PhrasingError
from phrasing.files import whole_file
from phrasing.performance import Performance
from phrasing.rendering.filtering import Samples
from phrasing.rendering.loudness import LoudnessMeter
from phrasing.rendering.ogg import settle_serial
from phrasing.rendering.room import BLOCK
from phrasing.rendering.sound import render, starts_at
from phrasing.rendering.soundfonts import Soundfont, find_soundfont
from phrasing.rendering.synthesizer import library_name

Format = Literal["wav", "flac", "mp3", "opus"]
KINDS: dict[str, tuple[str, str]] = {
    "wav": ("WAV", "PCM_{bits}"),
    "flac": ("FLAC", "PCM_{bits}"),
    "mp3": ("MP3", "MPEG_LAYER_III"),
    "opus": ("OGG", "OPUS"),
}
"""By file ending: the sound file library's names for the container and the coding."""
LOUDNESS = -18.0
"""LUFS at which the versions are written."""
HIGHEST_PEAK = -1.0
"""dBTP that no version passes (EBU R 128)."""
DITHER_SEED = 18


@dataclass(frozen=True)
class SoundFile:
    """What was written: its loudness (LUFS), its true peak (dBTP), the gain it took (dB)."""

    path: Path
    loudness: float
    true_peak: float
    gain: float


@dataclass(frozen=True)
class Recording:
    """The versions of a piece as sound files, by name, all ``seconds`` long.

    ``music_starts``: seconds from the start of each file to the first beat. ``lowered``: dB
    by which they are softer than asked for because of their peaks, 0 as a rule.
    """

    files: Mapping[str, SoundFile]
    soundfont: Soundfont
    synthesizer: str
    rate: int
    seconds: float
    music_starts: float
    lowered: float


@dataclass(frozen=True)
class Take:
    """A version as it was played: raw samples in ``file``, not yet at its loudness."""

    file: FileIO
    frames: int
    loudness: float
    true_peak: float


def write_sound(
    performances: Mapping[str, Performance],
    folder: Path,
    *,
    kind: Format = "wav",
    bits: int = 16,
    rate: int = 44100,
    loudness: float = LOUDNESS,
    soundfont: Soundfont | None = None,
    room: bool = True,
    lead: str | None = None,
) -> Recording:
    """Write each performance to ``folder`` under its name, all equally loud and long.

    ``bits`` is 16 or 24 (WAV and FLAC), ``rate`` in Hz (opus: 48000), ``loudness`` in LUFS.
    ``lead`` names the performance that is brought to it where the others are its parts:
    they take the same gain, so that they add up to it.
    All files are written or none. Raises ``NoSoundError`` without a synthesizer library or a
    soundfont, ``PhrasingError`` where a file cannot be written.
    """
    soundfont = soundfont or find_soundfont()
    library = library_name()
    with ExitStack() as opened:
        takes = _takes(performances, soundfont, rate, room, opened)
        target, gains = _gains(dict(zip(performances, takes, strict=True)), loudness, lead)
        frames = max(take.frames for take in takes)
        files = {}
        for name, take in zip(performances, takes, strict=True):
            path, gain = folder / f"{name}.{kind}", gains[name]
            part = opened.enter_context(whole_file(path))
            _write(take, part, path, 10 ** (gain / 20), frames, kind, bits, rate)
            files[name] = SoundFile(path, take.loudness + gain, take.true_peak + gain, gain)
    return Recording(
        files, soundfont, library, rate, frames / rate, starts_at(rate), loudness - target
    )


def _gains(
    takes: Mapping[str, Take], loudness: float, lead: str | None
) -> tuple[float, dict[str, float]]:
    """The loudness that all (or the lead) come to, and the gain of each, in dB."""
    if lead is not None:
        own = takes[lead].loudness
        wanted = loudness - own if math.isfinite(own) else 0.0
        gain = min([wanted, *(HIGHEST_PEAK - take.true_peak for take in takes.values())])
        return loudness - wanted + gain, dict.fromkeys(takes, gain)
    room = (HIGHEST_PEAK - take.true_peak + take.loudness for take in takes.values())
    target = min([loudness, *room])
    return target, {
        name: target - take.loudness if math.isfinite(take.loudness) else 0.0
        for name, take in takes.items()
    }


def _takes(
    performances: Mapping[str, Performance],
    soundfont: Soundfont,
    rate: int,
    room: bool,
    opened: ExitStack,
) -> list[Take]:
    """The versions played, as many at a time as there are processors."""
    with ThreadPoolExecutor(min(len(performances), os.cpu_count() or 1)) as pool:
        files = [opened.enter_context(_raw_file()) for _ in performances]
        jobs = [
            pool.submit(_take, performance, file, soundfont, rate, room)
            for performance, file in zip(performances.values(), files, strict=True)
        ]
        return [job.result() for job in jobs]


def _raw_file() -> FileIO:
    return tempfile.TemporaryFile(buffering=0)


def _take(
    performance: Performance, file: FileIO, soundfont: Soundfont, rate: int, room: bool
) -> Take:
    """Play a version into the file, measuring it as it goes by."""
    meter, frames = LoudnessMeter(rate), 0
    for block in render(performance, soundfont, rate=rate, room=room):
        meter.add(block)
        try:
            file.write(block.data)
        except OSError as error:
            raise PhrasingError(
                f"The folder for temporary files ({tempfile.gettempdir()}) cannot hold the"
                f" recording ({error.strerror}); make room, or name another by TMPDIR."
            ) from error
        frames += block.shape[1]
    return Take(file, frames, meter.integrated(), meter.true_peak())


def _write(
    take: Take,
    part: Path,
    path: Path,
    factor: float,
    frames: int,
    kind: Format,
    bits: int,
    rate: int,
) -> None:
    """Write the take, ``factor`` times as high and ``frames`` long, to ``part``."""
    import soundfile

    container, coding = KINDS[kind]
    whole = kind in ("wav", "flac")
    try:
        with soundfile.SoundFile(
            part, "w", rate, 2, coding.format(bits=bits), format=container
        ) as out:
            for index, block in enumerate(_blocks(take, frames)):
                block *= np.float32(factor)
                out.write(_numbers(block, index, bits).T if whole else block.T)
        if kind == "opus":
            settle_serial(part)
    except soundfile.LibsndfileError as error:
        raise PhrasingError(
            f"{path}: could not be written ({error.error_string}); is the disk full?"
        ) from error


def _blocks(take: Take, frames: int) -> Iterator[Samples]:
    """The take from its start, followed by silence up to ``frames``."""
    take.file.seek(0)
    for _ in range(0, frames, BLOCK):
        block = np.zeros((2, BLOCK), np.float32)
        raw = take.file.read(block.nbytes)
        block.reshape(-1)[: len(raw) // 4] = np.frombuffer(raw, np.float32)
        yield block


def _numbers(block: Samples, index: int, bits: int) -> NDArray[np.int16] | NDArray[np.int32]:
    """Whole numbers for the file: 16 bits with dither, or 24 at the top of 32.

    The dither is triangular noise of two steps, so that soft tails do not turn rough.
    """
    if bits == 24:
        return np.rint(block * np.float64(1 << 23)).astype(np.int32) << 8
    noise = _noise()
    start = index * 7919 % (noise.shape[1] - BLOCK)
    exact = block * np.float32(1 << 15)
    exact += noise[:, start : start + BLOCK]
    return np.asarray(np.rint(exact, out=exact), np.int16)


@lru_cache(maxsize=1)
def _noise() -> Samples:
    random = np.random.default_rng(DITHER_SEED).random((2, 2, 4 * BLOCK), dtype=np.float32)
    return np.asarray(random[0] - random[1], np.float32)
