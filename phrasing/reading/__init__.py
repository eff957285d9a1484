"""From a file to a melody, whatever kind of file it is."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from phrasing.errors import PhrasingError
from phrasing.limits import (
    BARS,
    CHORD_LENGTH,
    HOURS,
    NOTE_QUARTERS,
    NOTES,
    at_most,
    shortened,
)
from phrasing.reading.source import bytes_of
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS

START = 4096
"""Bytes that tell a kind of file."""
NAMED = {
    ".mid": "a MIDI file",
    ".midi": "a MIDI file",
    ".musicxml": "a MusicXML score",
    ".mxl": "a MusicXML score",
}
"""What a name promises, for the message where the file is nothing that can be read."""

_PICTURE = (
    "notes in it cannot be read; export the score from the program it was written with as "
    "MusicXML, or as MIDI"
)
_SOUND = (
    "a recording, and notes cannot be read from sound; play the melody in on a keyboard and "
    "save it as MIDI, or write it down and export MusicXML"
)
OTHERS = (
    (rb"%PDF", f"a PDF, a picture of a page: the {_PICTURE}"),
    (rb"\x89PNG|\xff\xd8\xff|GIF8|II\*\0|MM\0\*|RIFF....WEBP", f"a picture: the {_PICTURE}"),
    (
        rb"RIFF....WAVE|fLaC|OggS|ID3|FORM....AIF|....ftyp|\xff[\xe2\xe3\xf2\xf3\xfa\xfb]",
        _SOUND,
    ),
)
"""How files begin that hold no notes (their published formats), and what to do instead."""


def read(
    path: Path,
    *,
    part: str | None = None,
    pickup: float | None = None,
    meter: str | None = None,
    tempo: float | None = None,
    as_written: bool = False,
) -> Melody:
    """The melody (or chart) in a MIDI file, a MusicXML score or a chord chart.

    What the file holds decides, not its name (a chart's may not promise something else).
    ``part`` chooses a track or part by number (from 1) or name; ``pickup``: quarter notes
    before bar 1 of a MIDI file; ``meter`` (such as 3/4) in place of a MIDI file's; ``tempo``
    (quarter notes a minute) of a take without a click; ``as_written``: leave a score's
    repeats unplayed. Raises ``PhrasingError``.

    >>> from phrasing.performing.performance import perform
    >>> from phrasing.sound.midi import write_midi
    >>> write_midi(perform(melody("C5:4 D5:4"), None), folder / "tune.mid")
    >>> read(folder / "tune.mid").pitch.tolist()
    [72, 74]
    """
    from phrasing.reading.midi.smf import looks_like_midi

    start = bytes_of(path, START)
    if _looks_like_score(start):
        from phrasing.reading.musicxml.melody import read_musicxml

        return within_limits(read_musicxml(path, part=part, as_written=as_written), path)
    if looks_like_midi(start):
        from phrasing.reading.midi.melody import read_midi

        melody = read_midi(path, track=part, pickup=pickup, meter=meter, tempo=tempo)
        return within_limits(melody, path)
    other = next((what for sign, what in OTHERS if re.match(sign, start, re.DOTALL)), None)
    if other:
        raise PhrasingError(f"{path}: is {other}.")
    kind = NAMED.get(path.suffix.lower())
    if kind:
        raise PhrasingError(f"{path}: is not {kind}, whatever its name says; export it again.")
    if _looks_like_text(start):
        from phrasing.reading.chart import read_chart

        return within_limits(read_chart(path), path)
    raise PhrasingError(
        f"{path}: is neither a MIDI file, a MusicXML score nor a chord chart; "
        "export the melody as MIDI or MusicXML."
    )


def within_limits(melody: Melody, path: Path) -> Melody:
    """The melody, long names in it cut; ``PhrasingError`` where it is too large."""
    right = "is it the right file?"
    at_most(len(melody.bars), BARS, "bars", path, right)
    at_most(len(melody), NOTES, "notes", path, right)
    hours = float(melody.tempos.seconds(melody.end)) / 3600
    at_most(hours, HOURS, "hours of music", path, right)
    _check_notes(melody, path)
    _check_chords(melody, path)
    return replace(
        melody,
        title=shortened(melody.title),
        sections=tuple(replace(s, name=shortened(s.name)) for s in melody.sections),
        reading=replace(melody.reading, part=shortened(melody.reading.part)),
    )


def _check_notes(melody: Melody, path: Path) -> None:
    longest = int(melody.length.argmax()) if len(melody) else 0
    if len(melody) and melody.length[longest] > NOTE_QUARTERS * TICKS:
        raise PhrasingError(
            f"{path}: bar {melody.bar_number[longest]} has a note of "
            f"{melody.length[longest] / TICKS:g} quarter notes; nobody has the breath for more "
            f"than {NOTE_QUARTERS}: end it sooner."
        )


def _check_chords(melody: Melody, path: Path) -> None:
    long = next((c for c in melody.chords if len(c.text) > CHORD_LENGTH), None)
    if long:
        bar = melody.bars[int(melody.bar_index_at([long.onset])[0])].number
        raise PhrasingError(
            f"{path}: bar {bar} has a chord symbol of more than {CHORD_LENGTH} characters; "
            "write it shorter."
        )


def _looks_like_score(start: bytes) -> bool:
    """Zip (compressed MusicXML) or XML, in any of its encodings."""
    plain = start.replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xfe\xff \t\r\n")
    return start.startswith(b"PK") or plain.startswith(b"<")


def _looks_like_text(start: bytes) -> bool:
    wide = start[:2] in (b"\xff\xfe", b"\xfe\xff")
    odd = sum(byte < 32 and byte not in b"\t\r\n\f" for byte in start)
    return wide or odd == 0
