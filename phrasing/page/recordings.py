"""Recordings inside a page: their pieces as text, and what a script needs to unpack them."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from typing import Any

from phrasing.sound.packing import Packed

LAME_DELAY_AT = 21
"""Bytes from the word "LAME" in an MP3's first frame to the encoder's delay (12 bits), as the
encoder's info tag has it (from memory, checked against what browsers decode)."""
DECODER_DELAY = 529
"""Samples by which an MP3 decoder is late by itself (from memory, checked likewise)."""


def mp3_delay(content: bytes) -> int:
    """Samples by which a decoder that takes no notice of the encoder's tag is late."""
    at = content.find(b"LAME", 0, 1000)
    encoder = 0
    if at >= 0:
        high, low = content[at + LAME_DELAY_AT], content[at + LAME_DELAY_AT + 1]
        encoder = high << 4 | low >> 4
    return encoder + DECODER_DELAY


def sound_facts(sound: Packed) -> dict[str, Any]:
    """When the pieces begin, how long they are, and what decoders put before them: frames.

    >>> from phrasing.sound.packing import Piece
    >>> sound_facts(Packed(44100, 9, 0, (Piece(b"", 0, 9),)))["pieces"]
    [{'start': 0, 'frames': 9, 'delay': 529}]
    """
    return {
        "rate": sound.rate,
        "frames": sound.frames,
        "seam": sound.seam,
        "pieces": [
            {"start": each.start, "frames": each.frames, "delay": mp3_delay(each.content)}
            for each in sound.pieces
        ],
    }


def embedded(name: str, sound: Packed) -> Iterator[str]:
    """The pieces as elements of a page, whose ids are the name and their number.

    >>> from phrasing.sound.packing import Piece
    >>> list(embedded("sound-0", Packed(44100, 9, 0, (Piece(b"ID3", 0, 9),))))
    ['<script type="text/plain" id="sound-0-0">SUQz</script>']
    """
    for place, piece in enumerate(sound.pieces):
        coded = base64.b64encode(piece.content).decode("ascii")
        yield f'<script type="text/plain" id="{name}-{place}">{coded}</script>'
