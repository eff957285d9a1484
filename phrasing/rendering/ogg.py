"""Ogg files that are the same bytes every time.

The library that writes them gives each stream a serial number at random. Here every page gets
one and the same, with the checksum that belongs to it (RFC 3533, section 6).
"""

from __future__ import annotations

import zlib
from pathlib import Path

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
