"""From written to sounding pitch: notes, key signatures and names in transposing parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from phrasing.pitchnames import STEPS, pitch_class, place_of
from phrasing.reading.scorebars import number

if TYPE_CHECKING:
    from lxml import etree

MOST_FIFTHS = 7
"""Flats or sharps in a key signature at most."""
# Diatonic steps of the usual interval of so many semitones, where a score leaves them out.
_USUAL_STEPS = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)


@dataclass(frozen=True)
class Transposition:
    """From written to sounding: ``semitones``, octaves included, and ``fifths`` for names."""

    semitones: int = 0
    fifths: int = 0

    def key(self, written: int) -> int:
        """The concert key signature of a written one, in its simplest spelling."""
        moved = written + self.fifths
        return moved if abs(moved) <= MOST_FIFTHS else (moved + 5) % 12 - 5

    def place(self, written: int) -> int:
        """The concert name of a written one, both places on the line of fifths.

        A name that would need a double sharp or flat only because of this is respelled.
        """
        moved = written + self.fifths
        needs_two = not place_of("F", -1) <= moved <= place_of("B", 1)
        return (moved + 5) % 12 - 5 if self.fifths and needs_two else moved


class Transpositions:
    """The transpositions in force while a part is read from its start, staff by staff.

    In a score printed at concert pitch only octaves count (MusicXML 4.0,
    ``<concert-score>``).
    """

    def __init__(self, concert_score: bool) -> None:
        self.concert_score = concert_score
        self.by_staff: dict[str, Transposition] = {}

    def take(self, attributes: etree._Element) -> None:
        """What changes with these ``<attributes>``."""
        for element in attributes.iterchildren("transpose"):
            staff = element.get("number", "")
            if not staff:
                self.by_staff.clear()
            self.by_staff[staff] = _transposition(element, self.concert_score)

    def of(self, staff: str) -> Transposition:
        """What holds on a staff."""
        return self.by_staff.get(staff) or self.by_staff.get("") or Transposition()


def _transposition(transpose: etree._Element, concert_score: bool) -> Transposition:
    octaves = int(number(transpose.findtext("octave-change")))
    if concert_score:
        return Transposition(12 * octaves)
    chromatic = round(number(transpose.findtext("chromatic")))
    given = transpose.findtext("diatonic")
    diatonic = _usual_steps(chromatic) if given is None else round(number(given))
    return Transposition(chromatic + 12 * octaves, 7 * chromatic - 12 * diatonic)


def _usual_steps(semitones: int) -> int:
    octaves, rest = divmod(abs(semitones), 12)
    steps = 7 * octaves + _USUAL_STEPS[rest]
    return steps if semitones >= 0 else -steps


def sounding(pitch: etree._Element, by: Transposition) -> int | None:
    """The MIDI number that a ``<pitch>`` sounds at; None where it is none.

    A microtone sounds at the nearest semitone.
    """
    step = (pitch.findtext("step") or "").strip().upper()
    octave = pitch.findtext("octave")
    if len(step) != 1 or step not in STEPS or octave is None:
        return None
    natural = pitch_class(place_of(step)) + 12 * (round(number(octave)) + 1)
    midi = round(natural + number(pitch.findtext("alter"))) + by.semitones
    return midi if 0 <= midi <= 127 else None
