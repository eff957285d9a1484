"""What every reader needs of a file: its bytes, and the text in them."""

from __future__ import annotations

import unicodedata
from pathlib import Path

from phrasing.errors import PhrasingError
from phrasing.limits import FILE_BYTES, NAME_LENGTH

LONG = 8 * NAME_LENGTH
"""Bytes of a name at most: a character has up to four, and some of them may be passed over."""
NOT_ASCII = bytes(range(0x80, 0x100))
MOSTLY = 0.4
"""A name with more bytes above 127 than this is not in a Western alphabet with accents."""


def bytes_of(path: Path, most: int = -1, largest: int = FILE_BYTES) -> bytes:
    """A file, or its first bytes, ``most`` of them. Raises ``PhrasingError`` where it cannot be
    read, is empty or has more than ``largest`` bytes."""
    try:
        _check_kind(path, largest)
        with path.open("rb") as file:
            content = file.read(most)
    except FileNotFoundError as error:
        raise PhrasingError(f"{path}: there is no such file; check its name.") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise PhrasingError(
            f"{path}: cannot be read ({reason}); check that you may open it."
        ) from error
    if not content:
        raise PhrasingError(f"{path}: is empty; export the melody again.")
    return content


def _check_kind(path: Path, largest: int) -> None:
    """Raise ``PhrasingError`` for a folder, for what is no file, and for what is too large."""
    if path.is_dir():
        raise PhrasingError(f"{path}: is a folder; name the file in it that holds the melody.")
    if path.exists() and not path.is_file():
        raise PhrasingError(f"{path}: is no ordinary file; save the melody to one first.")
    if path.exists() and path.stat().st_size > largest:
        raise PhrasingError(f"{path}: is far too large to be a melody; is it the right file?")


def decoded(raw: bytes) -> str:
    """The text most likely meant in bytes whose encoding nothing tells, without control
    characters. Of a very long one only the beginning is taken."""
    if len(raw) > LONG:
        raw = raw[:LONG].rstrip(NOT_ASCII)
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
