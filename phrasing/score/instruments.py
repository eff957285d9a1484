"""The instruments: what is written for them, what sounds, and how far they reach.

Written ranges and transpositions of the winds are from public orchestration tables, those of
vibraphone, guitar and piano common practice; General MIDI programs (counted from 1 in the
table, as the standard does) from General MIDI System Level 1.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from phrasing.errors import PhrasingError


@dataclass(frozen=True)
class Instrument:
    """One instrument.

    ``program``: General MIDI program from 1. ``low``/``high``: sounding MIDI numbers.
    ``transposition``: semitones from written to sounding pitch (-2 for a B♭ trumpet).
    ``clef`` is its usual one: "G2" treble, "F4" bass, empty
    where it goes by the notes. ``wind``: whether it breathes.
    ``remark``: what a player adds to its range.
    """

    key: str
    name: str
    program: int
    low: int
    high: int
    transposition: int = 0
    clef: str = "G2"
    wind: bool = True
    remark: str = ""

    @property
    def fifths(self) -> int:
        """How many sharps more (flats fewer) its key signature has than the sounding one."""
        return (-self.transposition * 7 + 5) % 12 - 5

    @property
    def octaves(self) -> int:
        """Whole octaves from written to sounding pitch, beyond the interval: -1 or 0."""
        return -(-self.transposition // 12)

    @property
    def semitones(self) -> int:
        """The interval from written to sounding pitch without whole octaves: -11 to 0."""
        return self.transposition - 12 * self.octaves

    @property
    def steps(self) -> int:
        """The same interval in diatonic steps: -1 for a second down, -5 for a sixth."""
        return -((-self.semitones * 7 + 6) // 12)


HIGH_F_SHARP = "A saxophone with a high F♯ key reaches a semitone higher."

INSTRUMENTS: tuple[Instrument, ...] = (
    Instrument("soprano-sax", "Soprano saxophone in B♭", 65, 56, 87, -2, remark=HIGH_F_SHARP),
    Instrument("alto-sax", "Alto saxophone in E♭", 66, 49, 80, -9, remark=HIGH_F_SHARP),
    Instrument("tenor-sax", "Tenor saxophone in B♭", 67, 44, 75, -14, remark=HIGH_F_SHARP),
    Instrument(
        "baritone-sax", "Baritone saxophone in E♭", 68, 37, 68, -21, remark=HIGH_F_SHARP
    ),
    Instrument("trumpet", "Trumpet in B♭", 57, 52, 82, -2),
    Instrument("clarinet", "Clarinet in B♭", 72, 50, 94, -2),
    Instrument("trombone", "Trombone", 58, 40, 72, clef="F4"),
    Instrument("flute", "Flute", 74, 60, 98),
    Instrument("vibraphone", "Vibraphone", 12, 53, 89, wind=False),
    Instrument("guitar", "Guitar", 27, 40, 84, -12, wind=False),
    Instrument("piano", "Piano", 1, 21, 108, clef="", wind=False),
    Instrument("voice", "Voice", 54, 36, 84, clef=""),
)

BY_KEY: dict[str, Instrument] = {instrument.key: instrument for instrument in INSTRUMENTS}
DEFAULT = BY_KEY["trumpet"]


SHORT: dict[str, str] = {
    "sax": "tenor-sax",
    "soprano": "soprano-sax",
    "alto": "alto-sax",
    "tenor": "tenor-sax",
    "baritone": "baritone-sax",
    "bari": "baritone-sax",
    "bari-sax": "baritone-sax",
    "vibes": "vibraphone",
    "neutral": "voice",
}
"""What players call them."""


def instrument_named(name: str) -> Instrument:
    """The instrument of that name, spaces or hyphens alike; ``PhrasingError`` if unknown.

    The full names of the table are known too: "Alto saxophone in E♭" is "alto-sax".
    """
    key = "-".join(name.lower().replace("_", " ").replace("-", " ").split())
    key = re.sub(r"(-in)?-(b♭|e♭|bb|eb)$", "", key.replace("saxophone", "sax"))
    key = SHORT.get(key, key)
    if key not in BY_KEY:
        raise PhrasingError(
            f"There is no instrument “{name}”; choose one of {', '.join(BY_KEY)}."
        )
    return BY_KEY[key]


def instrument_of_program(program: int) -> Instrument | None:
    """The instrument with this General MIDI program (from 1), if the table has it."""
    return next((i for i in INSTRUMENTS if i.program == program), None)
