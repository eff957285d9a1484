"""Which soundfont plays: the one asked for, a good one on this system, or the one pip brings.

A soundfont is a RIFF file of form ``sfbk`` (SoundFont 2.01, section 4). The folders and names
are where the systems' packages put them.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import os
import struct
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import BinaryIO

from phrasing.errors import NoSoundError, PhrasingError

SETTING = "PHRASING_SOUNDFONT"
"""Environment variable that names a soundfont."""
ENDINGS = (".sf2", ".sf3")
"""Of soundfonts, and of those whose samples are compressed (Ogg Vorbis)."""
FATAL = 2
"""Points of a sample that FluidSynth 2.5.7 does not survive playing, whatever else it says;
found by trying damaged soundfonts. (SoundFont 2.01, section 7.10, asks for 48 at least.)"""
SAMPLE = struct.Struct("<20xII16xH")
"""Of a sample's header: where it starts and ends, and its kind."""
COMPRESSED = 16
"""Flag of a sample's kind: a stream, whose length is not in points."""
PARTS = (b"INFO", b"sdta", b"pdta")
"""What a soundfont consists of, in this order."""
KNOWN = (
    ("FluidR3", "MIT"),
    ("GeneralUser", "free to use, see its licence file"),
    ("default", "see the package it came with"),
    ("TimGM6mb", "GPL-2"),
)
"""How the names of packaged General MIDI soundfonts begin, best first, and their licences."""
EMBEDDED = "TimGM6mb.sf2"
"""The soundfont inside the pretty_midi package."""


@dataclass(frozen=True)
class Soundfont:
    """A soundfont: ``name`` to print, its file, its licence where known, where it came from."""

    name: str
    path: Path
    licence: str
    origin: str

    @property
    def fingerprint(self) -> str:
        """A hash of its content, to know it again by."""
        stat = self.path.stat()
        return _fingerprint(self.path, stat.st_size, stat.st_mtime_ns)


def find_soundfont(asked: Path | None = None) -> Soundfont:
    """The soundfont to play with: the one asked for, else the best found.

    Raises ``PhrasingError`` for a file that was asked for and is no soundfont, and
    ``NoSoundError`` where none was asked for and none is found.
    """
    setting = os.environ.get(SETTING)
    if asked is None and setting:
        asked = Path(setting)
    if asked is not None:
        check_soundfont(asked)
        return _described(asked, "asked for")
    found = available()
    if not found:
        raise NoSoundError(
            "No soundfont was found: name one with --soundfont, or get a small one with"
            " “pip install pretty_midi”."
        )
    return found[0]


def available() -> list[Soundfont]:
    """The soundfonts found on this machine, the one that would be used first.

    >>> all(font.path.exists() for font in available())
    True
    """
    found: dict[Path, Soundfont] = {}
    for path in sorted(_on_the_system(), key=_rank):
        found.setdefault(path.resolve(), _described(path.resolve(), "on this system"))
    for path in _embedded():
        found.setdefault(path.resolve(), _described(path, "comes with pretty_midi"))
    return list(found.values())


def embedded_soundfont() -> Soundfont:
    """The small soundfont that pip brings; ``NoSoundError`` where it is missing."""
    for path in _embedded():
        return _described(path, "comes with pretty_midi")
    raise NoSoundError("The small soundfont is missing: run “pip install pretty_midi”.")


def check_soundfont(path: Path) -> None:
    """Raise ``PhrasingError`` if the file cannot be read, is no soundfont, or one that the
    synthesizer does not survive."""
    try:
        if is_soundfont(path):
            if FATAL in _sample_lengths(path):
                raise PhrasingError(
                    f"{path}: has a sample of {FATAL} points, which ends the synthesizer; "
                    "choose another with --soundfont."
                )
            return
    except OSError as error:
        raise PhrasingError(
            f"{path}: the soundfont cannot be read ({error.strerror}); choose another with"
            " --soundfont."
        ) from error
    raise PhrasingError(
        f"{path}: is not a soundfont (.sf2 or .sf3), or only a part of one; choose another with"
        " --soundfont."
    )


def is_soundfont(path: Path) -> bool:
    """Whether the file has a soundfont's three parts, each as long as it says.

    Compressed ones may leave the byte out that fills a part of odd length.
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        kind, _, form = _chunk(file, 0)
        if (kind, form) != (b"RIFF", b"sfbk"):
            return False
        at = 12
        for part in PARTS:
            if _chunk(file, at)[0] != b"LIST" and at % 2:
                at += 1
            kind, length, form = _chunk(file, at)
            if (kind, form) != (b"LIST", part):
                return False
            at += 8 + length
    return at <= size


def _sample_lengths(path: Path) -> Iterator[int]:
    """How many points each sample has that is not compressed (SoundFont 2.01, section 7.10)."""
    with path.open("rb") as file:
        at = 12
        while (found := _chunk(file, at))[0] and found[2] != PARTS[-1]:
            at += 8 + found[1] if found[0] == b"LIST" else 1
        at += 12
        while (found := _chunk(file, at))[0] and found[0] != b"shdr":
            at += 8 + found[1] + found[1] % 2
        file.seek(at + 8)
        headers = file.read(found[1])
    whole = len(headers) // SAMPLE.size * SAMPLE.size
    for start, end, kind in SAMPLE.iter_unpack(headers[:whole]):
        if not kind & COMPRESSED:
            yield end - start


def _chunk(file: BinaryIO, at: int) -> tuple[bytes, int, bytes]:
    """Kind, length and form of the RIFF chunk at a place in the file; empty behind its end."""
    file.seek(at)
    head = file.read(12)
    if len(head) < 12:
        return b"", 0, b""
    return head[:4], struct.unpack("<I", head[4:8])[0], head[8:]


def _on_the_system() -> Iterator[Path]:
    for folder in _folders():
        try:
            files = [f for f in sorted(folder.iterdir()) if f.suffix.lower() in ENDINGS]
            yield from (f for f in files if _rank(f) < len(KNOWN) and is_soundfont(f))
        except OSError:
            continue


def _home() -> Path:
    """The user's home; a folder that is not there for a user without one."""
    try:
        return Path.home()
    except RuntimeError:
        return Path(os.devnull)


def _folders() -> list[Path]:
    home = _home()
    if sys.platform == "win32":
        named = [os.environ.get(name) for name in ("PROGRAMDATA", "APPDATA", "LOCALAPPDATA")]
        roots = [Path(name) for name in named if name] + [home, Path("C:/")]
        return [root / "soundfonts" for root in roots]
    if sys.platform == "darwin":
        share = [Path("/opt/homebrew/share"), Path("/usr/local/share")]
        own = [home / "Library/Audio/Sounds/Banks", Path("/Library/Audio/Sounds/Banks")]
        return own + [base / name for base in share for name in ("soundfonts", "sounds/sf2")]
    shares = [home / ".local/share", Path("/usr/local/share"), Path("/usr/share")]
    return [share / name for share in shares for name in ("sounds/sf2", "soundfonts")]


def _embedded() -> Iterator[Path]:
    try:
        files = importlib.metadata.files("pretty_midi") or []
    except importlib.metadata.PackageNotFoundError:
        return
    for file in files:
        path = Path(str(file.locate()))
        if file.name == EMBEDDED and path.is_file() and is_soundfont(path):
            yield path


def _described(path: Path, origin: str) -> Soundfont:
    rank = _rank(path)
    licence = KNOWN[rank][1] if rank < len(KNOWN) else "see where you got it"
    return Soundfont(path.stem, path, licence, origin)


def _rank(path: Path) -> int:
    """Place in ``KNOWN``, its length for a soundfont that is not there."""
    name = path.stem.lower().replace(" ", "").replace("_", "")
    starts = [known.lower().replace("_", "") for known, _ in KNOWN]
    return next((i for i, start in enumerate(starts) if name.startswith(start)), len(KNOWN))


@lru_cache(maxsize=8)
def _fingerprint(path: Path, size: int, modified: int) -> str:
    """Of the size and of sixteen stretches spread over the file: large ones read slowly."""
    stretch, count = 65536, 16
    digest = hashlib.sha256(str(size).encode())
    with path.open("rb") as file:
        for i in range(count):
            file.seek(max(0, size - stretch) * i // (count - 1))
            digest.update(file.read(stretch))
    return digest.hexdigest()[:24]
