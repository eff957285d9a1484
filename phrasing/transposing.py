"""A melody moved: by an interval or an octave, to another key, or as an instrument reads it.

Keys, chord symbols and the pitches move together, the names along the line of fifths.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from phrasing.errors import PhrasingError
from phrasing.instruments import Instrument
from phrasing.keys import keys_of
from phrasing.melody import ChordSymbol, Key, Melody
from phrasing.pitchnames import moved_signature, name_of, pitch_class, read_name

INTERVALS: dict[str, tuple[int, int]] = {
    "unison": (0, 0),
    "half step": (1, -5),
    "semitone": (1, -5),
    "whole step": (2, 2),
    "whole tone": (2, 2),
    "tone": (2, 2),
    "minor second": (1, -5),
    "major second": (2, 2),
    "second": (2, 2),
    "minor third": (3, -3),
    "major third": (4, 4),
    "third": (4, 4),
    "perfect fourth": (5, -1),
    "fourth": (5, -1),
    "augmented fourth": (6, 6),
    "diminished fifth": (6, -6),
    "tritone": (6, 6),
    "perfect fifth": (7, 1),
    "fifth": (7, 1),
    "minor sixth": (8, -4),
    "major sixth": (9, 3),
    "sixth": (9, 3),
    "minor seventh": (10, -2),
    "major seventh": (11, 5),
    "seventh": (10, -2),
    "octave": (12, 0),
}
"""Intervals by name: semitones, and places on the line of fifths. A bare third or sixth is
major, a bare seventh minor."""

BY_SEMITONES = (0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5)
"""Places on the line of fifths for 0 to 11 semitones up."""


@dataclass(frozen=True)
class Move:
    """How far: semitones (up above 0), and the same as places on the line of fifths."""

    semitones: int
    fifths: int


def transposed(melody: Melody, wish: str | int | None = None, octave: int = 0) -> Melody:
    """The melody moved as ``wish`` asks, then by ``octave`` octaves (down below 0).

    ``wish``: semitones ("-3" or -3), an interval by name ("up a fourth", "a major sixth
    down"), or a key ("to E♭", "G minor"), reached the nearest way. Raises
    ``PhrasingError`` for a wish that cannot be read, and where a note would leave the MIDI
    range (0 to 127).
    """
    move = move_of(str(wish), melody) if wish not in (None, "") else Move(0, 0)
    return moved(melody, Move(move.semitones + 12 * octave, move.fifths))


def moved(melody: Melody, move: Move) -> Melody:
    """The melody with its pitches, keys and chord symbols moved."""
    lowest, highest = int(melody.pitch.min(initial=60)), int(melody.pitch.max(initial=60))
    if lowest + move.semitones < 0 or highest + move.semitones > 127:
        raise PhrasingError(
            f"Moved by {move.semitones} semitones, notes leave the range of MIDI (0 to 127); "
            "choose a smaller interval."
        )
    keys = [_moved_key(key, move.fifths) for key in melody.keys]
    shift = keys[0].fifths - melody.keys[0].fifths if keys else move.fifths
    chords = tuple(ChordSymbol(c.onset, moved_chord(c.text, shift)) for c in melody.chords)
    return replace(melody.transposed(move.semitones), keys=tuple(keys), chords=chords)


def as_written(melody: Melody, instrument: Instrument) -> Melody:
    """The melody as the instrument's player reads it: written pitch, key and chords."""
    return moved(melody, Move(-instrument.transposition, instrument.fifths))


def _moved_key(key: Key, fifths: int) -> Key:
    return Key(key.onset, moved_signature(key.fifths, fifths), key.minor)


def moved_chord(text: str, fifths: int) -> str:
    """A chord symbol with its root and bass moved along the line of fifths.

    A symbol without a root ("N.C.") stays as it is.
    """
    try:
        root, rest = read_name(text)
    except ValueError:
        return text
    head, slash, tail = rest.rpartition("/")
    try:
        bass, left = read_name(tail) if slash else (0, "-")
    except ValueError:
        left = "-"
    if left:
        return _plain_name(root + fifths) + rest
    return f"{_plain_name(root + fifths)}{head}/{_plain_name(bass + fifths)}"


def _plain_name(place: int) -> str:
    """The name, or its enharmonic where it would be rarer than G♭ to B♯'s neighbours."""
    return name_of(place - 12 if place > 8 else place + 12 if place < -7 else place)


def move_of(wish: str, melody: Melody) -> Move:
    """What "-3", "up a fourth", "a major sixth down" or "to E♭" asks for.

    Raises ``PhrasingError`` for anything else.
    """
    text = " ".join(wish.lower().replace("-", " -").split())
    number = re.fullmatch(r"(up |down |\+|-)? ?(\d+)( semitones?| half steps?)?", text)
    if number:
        return by_semitones(int(number[2]) * (-1 if number[1] in ("-", "down ") else 1))
    key = re.sub(r"^to ", "", wish.strip(), flags=re.IGNORECASE)
    if text.startswith("to ") or _is_key(key):
        return _to_key(key.strip(), melody)
    return _by_name(text.replace(" -", " "), wish)


def _is_key(name: str) -> bool:
    """Whether it is a key by itself, such as "Bb" or "F# minor"."""
    return re.fullmatch(r"[A-G][#b♯♭]?( ?major| ?minor|m)?", name) is not None


def by_semitones(semitones: int) -> Move:
    """So many semitones, by the usual interval of that size."""
    return Move(semitones, BY_SEMITONES[semitones % 12])


def _by_name(text: str, wish: str) -> Move:
    down = text.startswith("down ") or text.endswith(" down")
    name = re.sub(r"^(up|down) | (up|down)$", "", text)
    name = re.sub(r"^(an?|the) ", "", name)
    if name not in INTERVALS:
        raise PhrasingError(
            f"“{wish}” is no interval that is known; say for example “up a fourth”, "
            "“down a minor third”, “-3” (semitones), or a key such as “Eb”."
        )
    semitones, fifths = INTERVALS[name]
    return Move(-semitones, -fifths) if down else Move(semitones, fifths)


def _to_key(name: str, melody: Melody) -> Move:
    """To a key by the nearest way; from the first key of the melody, guessed if need be."""
    try:
        place, rest = read_name(name)
    except ValueError:
        rest = "?"
    rest = rest.strip().lower()
    if rest not in ("", "major", "minor", "m"):
        raise PhrasingError(f"“{name}” is no key; say for example “to Eb” or “to C minor”.")
    key = keys_of(melody)[0]
    minor = rest in ("minor", "m") or (not rest and key.minor)
    fifths = moved_signature(key.fifths, place - 3 * minor - key.fifths) - key.fifths
    semitones = (pitch_class(fifths) + 5) % 12 - 5
    return Move(semitones, fifths)
