"""Making a compressed soundfont: the small one's trumpet, its samples as Ogg Vorbis.

The layout is common knowledge, no standard: in ``smpl`` one Ogg stream after the other, in
``shdr`` (SoundFont 2.01, section 7.10) places in bytes, loops from the sample's own start, and
0x10 in the sample's type.
"""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import soundfile

COMPRESSED = 0x10
HEADER = struct.Struct("<20sIIIIIBbHH")


def chunk(kind: bytes, content: bytes, pad: bool = True) -> bytes:
    return kind + struct.pack("<I", len(content)) + content + b"\0" * (pad and len(content) % 2)


def chunks(data: bytes) -> dict[bytes, bytes]:
    """The chunks of a list's content, by kind; those of lists by their form."""
    found, at = {}, 0
    while at + 8 <= len(data):
        kind, size = struct.unpack_from("<4sI", data, at)
        content = data[at + 8 : at + 8 + size]
        found[content[:4] if kind == b"LIST" else kind] = content
        at += 8 + size + size % 2
    return found


def compressed(source: Path, wanted: bytes, *, pad: bool) -> bytes:
    """The soundfont with samples whose names begin as wanted compressed, the others silent.

    ``pad``: whether the samples' chunk, made odd, is followed by the byte that fills it.
    """
    parts = chunks(source.read_bytes()[12:])
    samples = np.frombuffer(chunks(parts[b"sdta"][4:])[b"smpl"], "<i2")
    tables = chunks(parts[b"pdta"][4:])
    packed, headers = _ogg(np.zeros(64, np.int16), 44100), []
    silence = (0, len(packed))
    rows = list(HEADER.iter_unpack(tables[b"shdr"]))
    for name, start, end, loop, loop_end, rate, *tuned, link, kind in rows[:-1]:
        place = silence
        if name.startswith(wanted):
            stream = _ogg(samples[start:end], rate)
            place = (len(packed), len(packed) + len(stream))
            packed += stream
        row = (*place, loop - start, loop_end - start, rate, *tuned)
        headers.append(HEADER.pack(name, *row, link, kind | COMPRESSED))
    headers.append(HEADER.pack(*rows[-1]))
    packed += b"\0" * (1 - len(packed) % 2)
    tables[b"shdr"] = b"".join(headers)
    sdta = b"sdta" + chunk(b"smpl", packed, pad)
    pdta = b"pdta" + b"".join(chunk(*table) for table in tables.items())
    body = b"sfbk" + chunk(b"LIST", parts[b"INFO"])
    body += chunk(b"LIST", sdta, pad) + chunk(b"LIST", pdta)
    return chunk(b"RIFF", body, pad)


def _ogg(wave: np.ndarray, rate: int) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, wave, rate, format="OGG", subtype="VORBIS", compression_level=0.1)
    return file.getvalue()
