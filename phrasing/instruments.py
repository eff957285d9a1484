"""The instruments: what is written for them, what sounds, and how far they reach.

Written ranges and transpositions are from public orchestration tables; General MIDI programs
(counted from 1 in the table, as the standard does) from General MIDI System Level 1.
"""

from __future__ import annotations

from dataclasses import dataclass

from phrasing.errors import PhrasingError


@dataclass(frozen=True)
class Instrument:
    """One instrument.

    ``program``: General MIDI program from 1. ``low``/``high``: sounding MIDI numbers.
    ``transposition``: semitones from written to sounding pitch (-2 for a B♭ trumpet);
    ``fifths``: how many fifths its written key lies above the sounding key; ``steps``: the
    same in diatonic steps and ``clef`` is its usual clef ("G2", "F4").
    """

    key: str
    name: str
    program: int
    low: int
    high: int
    transposition: int = 0
    clef: str = "G2"
    wind: bool = True


INSTRUMENTS: tuple[Instrument, ...] = (
    Instrument("soprano-sax", "Soprano saxophone in B♭", 65, 56, 87, -2),
    Instrument("alto-sax", "Alto saxophone in E♭", 66, 49, 80, -9),
    Instrument("tenor-sax", "Tenor saxophone in B♭", 67, 44, 75, -14),
    Instrument("baritone-sax", "Baritone saxophone in E♭", 68, 37, 68, -21),
    Instrument("trumpet", "Trumpet in B♭", 57, 52, 82, -2),
    Instrument("clarinet", "Clarinet in B♭", 72, 50, 94, -2),
    Instrument("trombone", "Trombone", 58, 40, 72, 0, "F4"),
    Instrument("flute", "Flute", 74, 60, 98, 0),
    Instrument("vibraphone", "Vibraphone", 12, 53, 89, 0, wind=False),
    Instrument("guitar", "Guitar", 27, 40, 84, -12, wind=False),
    Instrument("piano", "Piano", 1, 21, 108, 0, wind=False),
    Instrument("voice", "Voice", 54, 48, 84, 0),
)

BY_KEY: dict[str, Instrument] = {instrument.key: instrument for instrument in INSTRUMENTS}
DEFAULT = BY_KEY["trumpet"]


def instrument_named(name: str) -> Instrument:
    """The instrument of that name, spaces or hyphens alike; ``PhrasingError`` if unknown."""
    key = name.strip().lower().replace(" ", "-").replace("_", "-")
    short = {"sax": "tenor-sax", "bari-sax": "baritone-sax"}
    key = short.get(key, key.replace("saxophone", "sax"))
    if key not in BY_KEY:
        raise PhrasingError(
            f"There is no instrument “{name}”; choose one of {', '.join(BY_KEY)}."
        )
    return BY_KEY[key]


def instrument_of_program(program: int) -> Instrument | None:
    """The instrument with this General MIDI program (from 1), if the table has it."""
    return next((i for i in INSTRUMENTS if i.program == program), None)
