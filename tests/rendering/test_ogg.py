"""Ogg pages keep their sense when their serial number is settled."""

import numpy as np
import soundfile

from phrasing.rendering.ogg import SERIAL, page_checksum, settle_serial


def slow_checksum(page: bytes) -> int:
    """RFC 3533 bit by bit."""
    register = 0
    for byte in page:
        register ^= byte << 24
        for _ in range(8):
            register = (register << 1) ^ (0x04C11DB7 if register & 0x80000000 else 0)
            register &= 0xFFFFFFFF
    return register


def test_the_checksum_is_that_of_the_standard():
    page = bytes(range(256)) * 3 + b"OggS"
    assert page_checksum(page) == slow_checksum(page)


def test_the_sound_is_the_same_and_the_file_too(tmp_path):
    wave = np.sin(np.arange(48000) / 20)[:, None].repeat(2, 1) / 2
    files = [tmp_path / "a.opus", tmp_path / "b.opus"]
    for path in files:
        soundfile.write(path, wave, 48000, "OPUS", format="OGG")
    before, _ = soundfile.read(files[0])
    for path in files:
        settle_serial(path)
    assert files[0].read_bytes() == files[1].read_bytes()
    assert files[0].read_bytes()[14:18] == SERIAL
    assert np.array_equal(before, soundfile.read(files[0])[0])
