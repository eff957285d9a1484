"""From a file to a melody, whatever kind of file it is."""

from __future__ import annotations

from pathlib import Path

from phrasing.errors import PhrasingError
from phrasing.melody import Melody

START = 4096
"""Bytes that tell a kind of file."""
LARGEST = 256 * 1024 * 1024
"""Bytes of a file at most; a melody has some thousands, a full score some millions."""
NAMED = {
    ".mid": "a MIDI file",
    ".midi": "a MIDI file",
    ".musicxml": "a MusicXML score",
    ".mxl": "a MusicXML score",
}
"""What a name promises, for the message where the file is nothing that can be read."""


def read(
    path: Path,
    *,
    part: str | None = None,
    pickup: float | None = None,
    as_written: bool = False,
) -> Melody:
    """The melody (or chart) in a MIDI file, a MusicXML score or a chord chart.

    What the file holds decides, not its name (a chart's may not promise something else).
    ``part`` chooses a track or part by number (from 1) or name; ``pickup``: quarter notes
    before bar 1 of a MIDI file; ``as_written``: leave a score's repeats unplayed. Raises
    ``PhrasingError``.
    """
    from phrasing.reading.smf import looks_like_midi

    start = bytes_of(path, START)
    if looks_like_midi(start):
        from phrasing.reading.midi import read_midi

        return read_midi(path, track=part, pickup=pickup)
    if _looks_like_score(start):
        from phrasing.reading.musicxml import read_musicxml

        return read_musicxml(path, part=part, as_written=as_written)
    kind = NAMED.get(path.suffix.lower())
    if kind:
        raise PhrasingError(f"{path}: is not {kind}, whatever its name says; export it again.")
    if _looks_like_text(start):
        from phrasing.reading.chart import read_chart

        return read_chart(path)
    raise PhrasingError(
        f"{path}: is neither a MIDI file, a MusicXML score nor a chord chart; "
        "export the melody as MIDI or MusicXML."
    )


def bytes_of(path: Path, most: int = -1) -> bytes:
    """A file, or its first bytes, ``most`` of them. Raises ``PhrasingError`` where it cannot be
    read, is empty or far too large."""
    try:
        _check_kind(path)
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


def _check_kind(path: Path) -> None:
    """Raise ``PhrasingError`` for a folder, for what is no file, and for what is too large."""
    if path.is_dir():
        raise PhrasingError(f"{path}: is a folder; name the file in it that holds the melody.")
    if path.exists() and not path.is_file():
        raise PhrasingError(f"{path}: is no ordinary file; save the melody to one first.")
    if path.exists() and path.stat().st_size > LARGEST:
        raise PhrasingError(f"{path}: is far too large to be a melody; is it the right file?")


def _looks_like_score(start: bytes) -> bool:
    """Zip (compressed MusicXML) or XML, in any of its encodings."""
    plain = start.replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xfe\xff \t\r\n")
    return start.startswith(b"PK") or plain.startswith(b"<")


def _looks_like_text(start: bytes) -> bool:
    wide = start[:2] in (b"\xff\xfe", b"\xfe\xff")
    odd = sum(byte < 32 and byte not in b"\t\r\n\f" for byte in start)
    return wide or odd == 0
