"""Whether a melody lies on an instrument, and where it does not."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.score.instruments import Instrument
from phrasing.score.keys import keys_of, on_paper
from phrasing.score.melody import ChordSymbol, Key, Melody
from phrasing.score.pitches import moved_signature, name_of, pitch_class, pitch_name, read_name
from phrasing.score.words import bar_name, beat_name, name_at

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

HIGHEST = 127
"""The highest MIDI note number."""
BY_SEMITONES = (0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5)
"""Places on the line of fifths for 0 to 11 semitones up."""


@dataclass(frozen=True)
class Move:
    """How far: semitones (up above 0), and the same as places on the line of fifths."""

    semitones: int
    fifths: int


STAY = Move(0, 0)


def transposed(melody: Melody, wish: str | int | None = None, octave: int = 0) -> Melody:
    """The melody moved as ``wish`` asks, then by ``octave`` octaves (down below 0).

    ``wish``: semitones ("-3" or -3), an interval by name ("up a fourth", "a major sixth
    down"), or a key ("to E♭", "G minor"), reached the nearest way. Raises
    ``PhrasingError`` for a wish that cannot be read, and where a note would leave the MIDI
    range (0 to 127).

    >>> transposed(melody("C5:2 D5:2"), "Bb").pitch.tolist()
    [70, 72]
    """
    return moved(melody, move_asked(melody, wish, octave))


def move_asked(melody: Melody, wish: str | int | None, octave: int = 0) -> Move:
    """How far ``transposed`` moves the melody.

    >>> move_asked(melody("C5:2"), "up a fourth")
    Move(semitones=5, fifths=-1)
    """
    move = move_of(str(wish), melody) if wish not in (None, "") else Move(0, 0)
    return Move(move.semitones + 12 * octave, move.fifths)


def moved(melody: Melody, move: Move) -> Melody:
    """The melody with its pitches, keys and chord symbols moved.

    >>> moved(melody("C5:2"), by_semitones(2)).pitch.tolist()
    [74]
    """
    if not stays_in_midi(melody, move.semitones):
        raise PhrasingError(
            f"Moved by {move.semitones} semitones, notes leave the range of MIDI (0 to 127); "
            "choose a smaller interval."
        )
    return _moved(melody, move, [_moved_key(key, move.fifths) for key in melody.keys])


def _moved(melody: Melody, move: Move, keys: Sequence[Key]) -> Melody:
    shift = keys[0].fifths - melody.keys[0].fifths if keys else move.fifths
    chords = tuple(ChordSymbol(c.onset, moved_chord(c.text, shift)) for c in melody.chords)
    return replace(melody.transposed(move.semitones), keys=tuple(keys), chords=chords)


def stays_in_midi(melody: Melody, semitones: int) -> bool:
    """Whether every note, grace notes among them, has a MIDI number when moved.

    >>> stays_in_midi(melody("C5:2"), 55), stays_in_midi(melody("C5:2"), 56)
    (True, False)
    """
    pitches = [*melody.pitch.tolist(), *(p for grace in melody.graces for p in grace.pitches)]
    return all(0 <= pitch + semitones <= HIGHEST for pitch in pitches)


def as_written(melody: Melody, instrument: Instrument) -> Melody:
    """The melody as the instrument's player reads it: written pitch, key and chords.

    Raises ``PhrasingError`` where a note is too high or too low to be written for it.

    >>> from phrasing.score.instruments import BY_KEY
    >>> as_written(melody("C5:2"), BY_KEY["trumpet"]).pitch.tolist()
    [74]
    """
    if not stays_in_midi(melody, -instrument.transposition):
        low, high = (pitch_name(int(end(melody.pitch))) for end in (np.min, np.max))
        raise PhrasingError(
            f"the notes lie from {low} to {high}, which cannot be written for the "
            f"{instrument.name[0].lower()}{instrument.name[1:]}; choose another with "
            "--instrument, or move them with --octave."
        )
    move = Move(-instrument.transposition, instrument.fifths)
    return _moved(melody, move, [on_paper(key, move.fifths) for key in melody.keys])


def _moved_key(key: Key, fifths: int) -> Key:
    return Key(key.onset, moved_signature(key.fifths, fifths), key.minor) if fifths else key


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
        return name_of(plain_place(root + fifths)) + rest
    return f"{name_of(plain_place(root + fifths))}{head}/{name_of(plain_place(bass + fifths))}"


def plain_place(place: int) -> int:
    """A chord's place on the line of fifths, brought within C♭ to G♯ by enharmonic change.

    >>> plain_place(10)
    -2
    """
    return place - 12 if place > 8 else place + 12 if place < -7 else place


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
    """So many semitones, by the usual interval of that size.

    >>> by_semitones(2)
    Move(semitones=2, fifths=2)
    """
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


@dataclass(frozen=True)
class RangeReport:
    """Whether a melody lies within an instrument's range.

    ``outside``: indices of the notes that do not; ``octaves``: by how many octaves to move
    the melody so that all do (0 where it fits, None where no octave does); ``message``: one
    or two sentences for the player, empty where it fits.
    """

    outside: tuple[int, ...]
    octaves: int | None
    message: str

    @property
    def fits(self) -> bool:
        """Whether every note is within the range."""
        return not self.outside


def fit(melody: Melody, instrument: Instrument) -> RangeReport:
    """Whether the melody lies within the instrument's range, and which octave would.

    The message names the notes outside as the player reads them, with bar and beat.

    >>> from phrasing.score.instruments import BY_KEY
    >>> fit(melody("C3:2"), BY_KEY["trumpet"]).octaves
    1
    """
    low, high = instrument.low, instrument.high
    outside = tuple(
        index for index, pitch in enumerate(melody.pitch.tolist()) if not low <= pitch <= high
    )
    if not outside:
        return RangeReport((), 0, "")
    octaves = _fitting_octave(melody, low, high)
    return RangeReport(outside, octaves, _message(melody, instrument, outside, octaves))


def _fitting_octave(melody: Melody, low: int, high: int) -> int | None:
    least, most = int(melody.pitch.min()), int(melody.pitch.max())
    fitting = [k for k in range(-8, 9) if low <= least + 12 * k and most + 12 * k <= high]
    return min(fitting, key=abs) if fitting else None


NAMED = 4
"""How many notes out of range a warning names before it counts the rest."""


def _message(
    melody: Melody, instrument: Instrument, outside: Sequence[int], octaves: int | None
) -> str:
    read = as_written(melody, instrument)
    named = [f"{name_at(read, i)} ({_place(read, i)})" for i in outside[:NAMED]]
    more = f" and {len(outside) - NAMED} more" if len(outside) > NAMED else ""
    notes = "note is" if len(outside) == 1 else "notes are"
    low, high = (
        pitch_name(p - instrument.transposition) for p in (instrument.low, instrument.high)
    )
    advice = (
        f"--octave {octaves:+d} would fit."
        if octaves is not None
        else "No octave fits all of it; --transpose may."
    )
    written = "written " if instrument.transposition else ""
    extra = ""
    if instrument.remark and all(melody.pitch[i] == instrument.high + 1 for i in outside):
        extra = f" {instrument.remark}"
    return (
        f"{len(outside)} {notes} outside the range of the {instrument.name[0].lower()}"
        f"{instrument.name[1:]} ({written}{low} to {high}): {', '.join(named)}{more}. "
        f"{advice}{extra}"
    )


def _place(melody: Melody, index: int) -> str:
    bar = melody.bars[int(melody.bar_index[index])]
    return f"{bar_name(bar)}, {beat_name(melody, index)}"
