"""Names in MIDI files, whose encoding nothing in the file tells."""

from __future__ import annotations

import unicodedata

MOSTLY = 0.4
"""A name with more bytes above 127 than this is not in a Western alphabet with accents."""


def decoded(raw: bytes) -> str:
    """The text most likely meant, without control characters."""
    text = _decoded(raw.rstrip(b"\0"))
    kept = (" " if unicodedata.category(c)[0] == "C" else c for c in text)
    return " ".join("".join(kept).split())


def _decoded(raw: bytes) -> str:
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", "replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    high = sum(byte > 0x7F for byte in raw)
    text = raw.decode("cp1252", "replace") if high <= MOSTLY * len(raw) else None
    return text or _eastern(raw) or raw.decode("latin-1")


def _eastern(raw: bytes) -> str | None:
    """The reading among the East's encodings whose characters are the commonest."""
    best: tuple[float, str] = (0.0, "")
    for encoding in ("cp932", "euc_kr", "gb18030", "cp1251"):
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        best = max(best, (_commonness(text), text))
    return best[1] or None


def _commonness(text: str) -> float:
    """Share of characters in the blocks that names are written with."""
    blocks = ((0x3040, 0x30FF), (0xAC00, 0xD7A3), (0x4E00, 0x9FFF), (0x0410, 0x044F))
    worth = (1.0, 1.0, 0.9, 0.8)
    total = 0.0
    for character in text:
        code = ord(character)
        total += max(
            (w for (low, high), w in zip(blocks, worth, strict=True) if low <= code <= high),
            default=0.5 if code < 0x80 else 0.0,
        )
    return total / max(len(text), 1)
