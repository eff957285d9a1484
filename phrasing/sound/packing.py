"""Sound made small enough to be sent inside a page: as MP3, which every browser plays.

It is in two pieces, so that the first note need not wait until all of it is unpacked. The
pieces overlap, and are faded over from one to the other.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from math import gcd
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FIRST, SEAM = 6.0, 0.1
"""Seconds in the first piece, and how many of them the second one has too."""
LEAST_REST = 4.0
"""Seconds that are worth a second piece."""
BLOCK = 1 << 18
"""Frames that are read at a time."""


@dataclass(frozen=True)
class Packing:
    """How sound is packed: samples a second, channels, and how tightly (0 to 1; None: as the
    encoder does usually)."""

    rate: int
    channels: int
    tightness: float | None = None


ROOMY = Packing(44100, 2)
PACKED = (
    (310.0, Packing(24000, 1, 0.7)),
    (260.0, Packing(24000, 1, 0.5)),
    (220.0, Packing(24000, 1)),
    (160.0, Packing(32000, 1, 0.5)),
    (100.0, Packing(44100, 1)),
)
"""Seconds of sound on a page, all versions together, from which it is packed so.

Measured for a ballad in eighths, in kilobits a second and as far up as it is there (within 6
dB): 136 and 85 at 44100 in two channels and in one, all of it; 60 at 32000 up to 15 kHz; 56,
48 and 38 at 24000 up to 11 kHz. As many bits at 44100 left only 5 kHz, and what is above is
what a firm start is made of.
"""


def packing_for(seconds: float) -> Packing:
    """How so much sound (all versions together) is packed.

    >>> packing_for(60.0)
    Packing(rate=44100, channels=2, tightness=None)
    """
    return next((how for long, how in PACKED if seconds >= long), ROOMY)


@dataclass(frozen=True)
class Piece:
    """An MP3 file: from which frame of the whole on it has how many."""

    content: bytes
    start: int
    frames: int


@dataclass(frozen=True)
class Packed:
    """A recording in pieces; ``frames`` at ``rate`` in all, ``seam`` of them in two pieces."""

    rate: int
    frames: int
    seam: int
    pieces: tuple[Piece, ...]


def packed(file: Path, how: Packing, *, whole: bool = False) -> Packed:
    """The sound file, whatever its coding, packed; ``whole``: in one piece, however long.

    >>> from phrasing.performing.performance import perform
    >>> from phrasing.sound.soundfiles import write_sound
    >>> made = write_sound({"plain": perform(melody("C5:2 D5:2"), None)}, folder)
    >>> len(packed(folder / "plain.wav", Packing(24000, 1)).pieces)
    1
    """
    samples = _samples(file, how)
    frames = len(samples)
    first, seam = round(FIRST * how.rate), round(SEAM * how.rate)
    spans = [(0, frames)]
    if not whole and frames >= first + round(LEAST_REST * how.rate):
        spans = [(0, first), (first - seam, frames)]
    pieces = (Piece(_mp3(samples[start:end], how), start, end - start) for start, end in spans)
    return Packed(how.rate, frames, seam, tuple(pieces))


def _samples(file: Path, how: Packing) -> NDArray[np.float32]:
    """All of it at the packing's rate and in its channels, shape (frames, channels)."""
    import soundfile
    from scipy.signal import resample_poly

    with soundfile.SoundFile(file) as sound:
        common = gcd(sound.samplerate, how.rate)
        up, down = how.rate // common, sound.samplerate // common
        blocks = [
            block if how.channels == 2 else block.mean(axis=1, keepdims=True)
            for block in sound.blocks(BLOCK, dtype="float32", always_2d=True)
        ]
    samples = np.concatenate(blocks)
    return np.asarray(
        samples if up == down else resample_poly(samples, up, down, axis=0), np.float32
    )


def _mp3(samples: NDArray[np.float32], how: Packing) -> bytes:
    import soundfile

    out = io.BytesIO()
    soundfile.write(
        out,
        samples,
        how.rate,
        format="MP3",
        compression_level=how.tightness,
        bitrate_mode=None if how.tightness is None else "VARIABLE",
    )
    return out.getvalue()
