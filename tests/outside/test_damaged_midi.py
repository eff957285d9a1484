"""Twelve damaged MIDI files: what our reader makes of them, and what mido does.

Source of the layout: Standard MIDI Files 1.0 (chunks and lengths; read). mido is an
independent reader; this is why reading MIDI is our own.
"""

from __future__ import annotations

import struct
from pathlib import Path

import mido
import pytest

from phrasing.app.folders import examples
from phrasing.reading import read

pytestmark = pytest.mark.outside
GOOD = (examples() / "folding_chairs_waltz.mid").read_bytes()
TRACK = GOOD.rindex(b"MTrk")
LENGTH = struct.unpack(">I", GOOD[TRACK + 4 : TRACK + 8])[0]
KEY = GOOD.index(b"\xff\x59\x02") + 3
VELOCITY = GOOD.index(b"\x90", TRACK) + 2


def resized(content: bytes, length: int) -> bytes:
    """With another length in the head of the last track."""
    return content[: TRACK + 4] + struct.pack(">I", length) + content[TRACK + 8 :]


DAMAGED = {
    "cut in the last track": GOOD[:-40],
    "no end marker": resized(GOOD[:-4], LENGTH - 4),
    "a key of eight flats": GOOD[:KEY] + b"\xf8" + GOOD[KEY + 1 :],
    "a data byte above 127": GOOD[:VELOCITY] + b"\xc8" + GOOD[VELOCITY + 1 :],
    "a track said to be longer": resized(GOOD, LENGTH + 50),
    "a track said to be shorter": resized(GOOD, LENGTH - 30),
    "more tracks than there are": GOOD[:10] + struct.pack(">H", 9) + GOOD[12:],
    "a longer header": GOOD[:4] + struct.pack(">I", 8) + GOOD[8:14] + b"\0\0" + GOOD[14:],
    "a strange chunk between": GOOD[:TRACK] + b"XFIH\0\0\0\4abcd" + GOOD[TRACK:],
    "wrapped in RIFF": b"RIFF" + struct.pack("<I", len(GOOD) + 12) + b"RMIDdata"
    + struct.pack("<I", len(GOOD)) + GOOD,
    "a text cut short": GOOD[: TRACK + 8] + b"\0\xff\x01\x7fabc" + GOOD[TRACK + 8 :],
    "bytes before the start": b"\0" * 7 + GOOD,
}  # fmt: skip


def test_all_are_read_by_us_and_two_by_mido(tmp_path: Path) -> None:
    whole = len(read(examples() / "folding_chairs_waltz.mid"))
    ours, lost = {}, []
    for name, content in DAMAGED.items():
        path = tmp_path / f"{name}.mid"
        path.write_bytes(content)
        ours[name] = len(read(path)) / whole
        try:
            mido.MidiFile(path)
        except (EOFError, OSError, mido.KeySignatureError):
            lost.append(name)
    assert len(DAMAGED) == 12
    assert min(ours.values()) > 0.7, ours
    assert sum(share == 1.0 for share in ours.values()) == 10, ours
    assert len(lost) == 10, lost
