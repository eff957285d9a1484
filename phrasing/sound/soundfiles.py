"""Performances → sound files that are equally loud and equally long.

Each version goes to a temporary file as it is played and measured; then one gain brings it
to the common loudness while the file is written. True peaks stay at or below -1 dBTP
(EBU R 128): where the loudest peak leaves no room for the loudness asked for, all versions
are lowered together. Before that, the peaks of a whole band are held down a little.
"""

from __future__ import annotations

import math
import os
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import lru_cache, partial
from itertools import count
from pathlib import Path
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from phrasing.files import whole_file, why_not
from phrasing.performing.performance import Performance
from phrasing.sound.balance import balanced, is_placed
from phrasing.sound.limiting import MOST, ceiling_for, limited
from phrasing.sound.loudness import LoudnessMeter
from phrasing.sound.reels import IN_MEMORY, Reel
from phrasing.sound.sound import analysed, end_of, starts_at
from phrasing.sound.soundfonts import Soundfont, find_soundfont
from phrasing.sound.streams import BLOCK, Samples
from phrasing.sound.synthesizer import library_name

SERIAL = (1).to_bytes(4, "little")
REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def settle_serial(path: Path) -> None:
    """Give all pages of the Ogg file at ``path`` the same serial number."""
    data = bytearray(path.read_bytes())
    at = 0
    while data[at : at + 4] == b"OggS":
        segments = data[at + 27 : at + 27 + data[at + 26]]
        end = at + 27 + len(segments) + sum(segments)
        data[at + 14 : at + 18] = SERIAL
        data[at + 22 : at + 26] = bytes(4)
        data[at + 22 : at + 26] = page_checksum(bytes(data[at:end])).to_bytes(4, "little")
        at = end
    path.write_bytes(data)


def page_checksum(page: bytes) -> int:
    """Ogg's checksum: polynomial 04c11db7, high bit first, from 0.

    zlib's has the same polynomial, low bit first, from all ones.
    """
    low_first = zlib.crc32(page.translate(REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{low_first:032b}"[::-1], 2)


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
SAME_PEAK = 1e-6
DITHER_SEED = 18
LARGE = np.float32(1.5 * 2**23)
"""Above this a float of 32 bits has no room for a fraction (IEEE 754)."""

ENDING = 2
"""Blocks after that of the last bar, as a rule: until all has died away, and the room's."""
Made = TypeVar("Made")


@dataclass(frozen=True)
class Coding:
    """What sound is written as: ``bits`` are 16 or 24 (WAV and FLAC)."""

    kind: Format = "wav"
    bits: int = 16


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
    by which they are softer than asked for because of their peaks, 0 as a rule. ``copies``:
    the same sound in another coding, where that was asked for. ``gains``: for each version the
    dB that each of its parts took before, to be heard at its place in a band.
    """

    files: Mapping[str, SoundFile]
    soundfont: Soundfont
    synthesizer: str
    rate: int
    seconds: float
    music_starts: float
    lowered: float
    copies: Mapping[str, SoundFile] = field(default_factory=dict)
    gains: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class PlayedVersion:
    """A version as it was played: its raw samples, not yet at its loudness."""

    reel: Reel
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
    copies: tuple[Path, Coding] | None = None,
    lead: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> Recording:
    """Write each performance to ``folder`` under its name, all equally loud and long.

    ``kind`` and ``bits`` as in ``Coding``; ``rate`` in Hz (opus:
    48000), ``loudness`` in LUFS. ``copies``: another folder, and the coding in which the same
    sound is written there; it is played once.
    ``lead`` names the performance that is brought to it where the others are its parts:
    they take the same gain, so that they add up to it. Where a band has its places, so do
    versions of a melody over it: the melody is equally loud in all of them (see ``balance``),
    and the band the same; peaks of the whole are held down by 4 dB at most. ``progress`` is
    called, from several threads, with the share that is done (0 to 1).
    All files are written or none. Raises ``NoSoundError`` without a synthesizer library or a
    soundfont, ``PhrasingError`` where a file cannot be written.

    >>> from phrasing.performing.performance import perform
    >>> made = write_sound({"plain": perform(melody("C5:2 D5:2"), None)}, folder)
    >>> (folder / "plain.wav").exists(), round(made.files["plain"].loudness)
    (True, -18)
    """
    soundfont = soundfont or find_soundfont()
    library = library_name()
    limit = 0.0
    if any(map(is_placed, performances.values())):
        performances = balanced(performances, soundfont, rate)
        limit = 0.0 if lead else MOST  # what is held down does not add up to the whole
        lead = lead or next(iter(performances))
    tick = _ticker(performances.values(), rate, progress)
    ways = [(folder, Coding(kind, bits)), *([copies] if copies else [])]
    with ExitStack() as opened:
        each = IN_MEMORY // max(1, len(performances))
        reels = [opened.enter_context(Reel(each)) for _ in performances]
        take = partial(_take, soundfont=soundfont, rate=rate, room=room, tick=tick)
        takes = dict(
            zip(performances, _at_once(take, performances.values(), reels), strict=True)
        )
        target, gains = _gains(takes, loudness, lead, HIGHEST_PEAK + limit)
        frames = max(reel.frames for reel in reels)
        files = [
            [_Target(path, opened.enter_context(whole_file(path)), how) for path, how in row]
            for row in ([(to / f"{n}.{how.kind}", how) for to, how in ways] for n in takes)
        ]
        write = partial(_write, frames=frames, rate=rate, tick=tick)
        written = _at_once(write, takes.values(), gains.values(), files)
    first, *others = (
        dict(zip(takes, column, strict=True)) for column in zip(*written, strict=True)
    )
    music_starts, lowered = starts_at(rate), loudness - target
    seconds, again = frames / rate, others[0] if others else {}
    parts = {n: tuple(part.gain for part in p.parts) for n, p in performances.items()}
    return Recording(
        first, soundfont, library, rate, seconds, music_starts, lowered, again, parts
    )


def _gains(
    takes: Mapping[str, PlayedVersion], loudness: float, lead: str | None, highest: float
) -> tuple[float, dict[str, float]]:
    """The loudness that all (or the lead) come to, and the gain of each, in dB; no peak is
    brought above ``highest`` (dBTP)."""
    if lead is not None:
        own = takes[lead].loudness
        wanted = loudness - own if math.isfinite(own) else 0.0
        gain = min([wanted, *(highest - take.true_peak for take in takes.values())])
        return loudness - wanted + gain, dict.fromkeys(takes, gain)
    room = (highest - take.true_peak + take.loudness for take in takes.values())
    target = min([loudness, *room])
    return target, {
        name: target - take.loudness if math.isfinite(take.loudness) else 0.0
        for name, take in takes.items()
    }


def _at_once(work: Callable[..., Made], *columns: Iterable[Any]) -> list[Made]:
    """The work done on each row of the columns, as many at a time as there are processors."""
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(work, *columns))


def _ticker(
    performances: Iterable[Performance], rate: int, progress: Callable[[float], None] | None
) -> Callable[[], None]:
    """What is to be called after each block that was played, and after each written."""
    if progress is None:
        return lambda: None
    done = count(1)
    last = 2 * sum(end_of(performance, rate) // BLOCK + ENDING for performance in performances)
    return lambda: progress(min(1.0, next(done) / last))


def _take(
    performance: Performance,
    reel: Reel,
    *,
    soundfont: Soundfont,
    rate: int,
    room: bool,
    tick: Callable[[], None],
) -> PlayedVersion:
    """Play a version onto the reel, measuring it as it goes by."""
    meter = LoudnessMeter(rate)
    for block, spectra in analysed(performance, soundfont, rate=rate, room=room):
        meter.add(block, spectra)
        reel.add(block)
        tick()
    return PlayedVersion(reel, meter.integrated(), meter.true_peak())


@dataclass(frozen=True)
class _Target:
    """A file to be written: ``part`` while it grows, later ``path``."""

    path: Path
    part: Path
    how: Coding

    @contextmanager
    def writing(self, rate: int) -> Iterator[Callable[[Samples, np.float32, int], None]]:
        """The open file, as what takes one block after the other."""
        import soundfile

        container, coding = KINDS[self.how.kind]

        def put(both: Samples, factor: np.float32, index: int) -> None:
            with self._told():
                out.write(self.samples(both, factor, index))

        with (
            self._told(),
            soundfile.SoundFile(
                # Names on POSIX are bytes, which the library would else refuse to encode.
                os.fsencode(self.part) if os.name == "posix" else self.part,
                "w",
                rate,
                2,
                coding.format(bits=self.how.bits),
                format=container,
            ) as out,
        ):
            yield put

    @contextmanager
    def _told(self) -> Iterator[None]:
        """What the library cannot do is told of this file."""
        import soundfile

        try:
            yield
        except soundfile.LibsndfileError as error:
            raise why_not(self.path, self.part, str(error.error_string)) from error

    def samples(self, both: Samples, factor: np.float32, index: int) -> NDArray[Any]:
        """A block as the file takes it, shape (n, 2)."""
        if self.how.kind in ("wav", "flac"):
            return _numbers(both, factor, index, self.how.bits)
        return both.T * factor


def _write(
    take: PlayedVersion,
    gain: float,
    targets: Sequence[_Target],
    *,
    frames: int,
    rate: int,
    tick: Callable[[], None],
) -> list[SoundFile]:
    """Write the take, ``gain`` dB louder and ``frames`` long, to all its files at once."""
    factor = np.float32(10 ** (gain / 20))
    blocks, peak = _within_peak(take, gain, frames, rate)
    with ExitStack() as opened:
        outs = [opened.enter_context(target.writing(rate)) for target in targets]
        for index, both in enumerate(blocks):
            for put in outs:
                put(both, factor, index)
            tick()
    for target in targets:
        if target.how.kind == "opus":
            settle_serial(target.part)
    return [SoundFile(target.path, take.loudness + gain, peak, gain) for target in targets]


def _within_peak(
    take: PlayedVersion, gain: float, frames: int, rate: int
) -> tuple[Iterator[Samples], float]:
    """The take's blocks, held down where the gain brings them too high, and their true peak."""
    blocks, peak = partial(take.reel.blocks, frames), take.true_peak + gain
    if peak <= HIGHEST_PEAK + SAME_PEAK:
        return blocks(), peak
    most, found = ceiling_for(blocks, 10 ** ((HIGHEST_PEAK - gain) / 20), rate)
    return limited(blocks(), most, rate), 20 * math.log10(found) + gain


def _numbers(
    block: Samples, factor: np.float32, index: int, bits: int
) -> NDArray[np.int16] | NDArray[np.int32]:
    """Whole numbers for the file: 16 bits with dither, or 24 at the top of 32; shape (n, 2).

    The dither is triangular noise of two steps, so that soft tails do not turn rough.
    """
    if bits == 24:
        exact = np.rint(block * (np.float64(factor) * (1 << 23))) * 256
        return np.ascontiguousarray(exact.T.astype(np.int32))
    noise = _noise()
    start = index * 7919 % (noise.shape[1] - BLOCK)
    exact = block * (factor * np.float32(1 << 15))
    exact += noise[: len(block), start : start + BLOCK]
    return _rounded(exact)


def _rounded(exact: Samples) -> NDArray[np.int16]:
    """The nearest whole numbers, channels side by side: in half the time of numpy's own way.

    Beside so large a number only a float's low bits are left, and they are the whole number.
    """
    exact += LARGE
    bits = exact.view(np.uint32) & np.uint32(0xFFFF)
    if len(bits) == 1:
        return bits.T.astype(np.int16)
    return (bits[0] | bits[1] << np.uint32(16)).astype("<u4").view("<i2").reshape(-1, 2)


@lru_cache(maxsize=1)
def _noise() -> Samples:
    random = np.random.default_rng(DITHER_SEED).random((2, 2, 4 * BLOCK), dtype=np.float32)
    return np.asarray(random[0] - random[1], np.float32)
