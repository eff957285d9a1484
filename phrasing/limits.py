"""How large a piece may be: the one table of limits, looked at while reading.

Music ends far below them. What is beyond is damage, or a trap, and is refused before it takes
memory and time. No source: each is several times the longest that is played in one piece.
"""

from __future__ import annotations

from pathlib import Path

from phrasing.errors import PhrasingError
from phrasing.printable import printable

MEGABYTE = 1024 * 1024
FILE_BYTES = 256 * MEGABYTE
"""Of any file that is read."""
MIDI_BYTES = 8 * MEGABYTE
"""Of a MIDI file: two million events."""
XML_BYTES = 100 * MEGABYTE
"""Of a score, plain or unpacked; a full orchestral score has about 50 MB."""
TEXT_BYTES = MEGABYTE
"""Of a chart, a feel or a lesson plan."""
TABLE_BYTES = 20 * MEGABYTE
"""Of a marks table: a hundred bytes for each of the notes."""
BARS = 10_000
"""As printed, and as played with all repeats."""
MEASURES = 200_000
"""Bars of all parts of a score together."""
BEATS = 64
"""Of a bar."""
HOURS = 6.0
NOTES = 200_000
"""Of the part that is read."""
AT_ONCE = 128
"""Notes that begin at the same instant: MIDI has no more pitches."""
METERS = 10_000
"""Changes of meter, which cannot come oftener than bars."""
NOTE_QUARTERS = 256
"""Quarter notes that one note lasts: 64 bars of 4/4, which nobody has the breath for."""
TIMES = 100
"""How often a section is played."""
CHORD_LENGTH = 40
"""Characters of a chord symbol."""
NAME_LENGTH = 200
"""Characters of a title or a name; the rest is cut."""
DIGITS = 9
"""Of a whole number."""


def is_number(value: object) -> bool:
    """Whether it is a number that somebody may mean: no truth, none of 400 digits.

    >>> is_number(96), is_number(True), is_number(float("nan")), is_number(10**400)
    (True, False, False, False)
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return abs(value) < 10**DIGITS


def at_most(count: float, most: float, what: str, path: Path, remedy: str) -> None:
    """Raise ``PhrasingError`` where there is more of ``what`` than a piece can have.

    >>> at_most(8, BARS, "bars", Path("a.mid"), "is it the right file?")
    """
    if count > most:
        end = "" if remedy.endswith("?") else "."
        raise PhrasingError(f"{path}: has more than {most:,.0f} {what}; {remedy}{end}")


def shortened(name: str) -> str:
    """A title or a name, safe to show (see ``printable``), cut where it is too long.

    >>> len(shortened("x" * 1_000_000))
    201
    """
    short = name if len(name) <= NAME_LENGTH else f"{name[:NAME_LENGTH].rstrip()}…"
    return printable(short)
