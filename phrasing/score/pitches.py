"""Note names on the line of fifths: ... E♭ B♭ F C G D A E B F♯ C♯ ...

A spelled pitch class is one whole number, its ``place`` on that line, counted from C (0): F is
-1, B♭ -2, F♯ 6. Moving a name by an interval adds a number; seven places are a sharp.
"""

from __future__ import annotations

import re

STEPS = "FCGDAEB"
DOUBLE_FLAT, DOUBLE_SHARP = -15, 19
"""F𝄫 and B𝄪: beyond them a name has three signs."""
_SIGNS = {"♭": -1, "b": -1, "♯": 1, "#": 1, "𝄫": -2, "𝄪": 2, "x": 2, "♮": 0}
_NAME = re.compile(r"\s*([A-Ga-g])((?:[♭♯♮#x𝄫𝄪]|b(?!\w*[a-z]{2}))*)")


def place_of(step: str, alter: int = 0) -> int:
    """Where a step ("C" to "B") with ``alter`` semitones lies on the line.

    >>> place_of("D"), place_of("B", -1)
    (2, -2)
    """
    return STEPS.index(step) - 1 + 7 * alter


def step_and_alter(place: int) -> tuple[str, int]:
    """The step's letter and its alteration in semitones.

    >>> step_and_alter(-2)
    ('B', -1)
    """
    alter, index = divmod(place + 1, 7)
    return STEPS[index], alter


def pitch_class(place: int) -> int:
    """Semitones above C, 0 to 11.

    >>> pitch_class(2), pitch_class(-2)
    (2, 10)
    """
    return place * 7 % 12


def name_of(place: int) -> str:
    """The name as printed, such as "B♭".

    >>> name_of(2), name_of(-2)
    ('D', 'B♭')
    """
    step, alter = step_and_alter(place)
    return step + ("♯" * alter if alter > 0 else "♭" * -alter)


def read_name(text: str) -> tuple[int, str]:
    """The place of the note name that ``text`` begins with, and the rest of the text.

    Flats may be written ♭ or b, sharps ♯ or #. Raises ``ValueError`` where there is none.

    >>> read_name("B♭")
    (-2, '')
    """
    found = _NAME.match(text)
    if not found:
        raise ValueError(f"no note name in {text!r}")
    alter = sum(_SIGNS[sign] for sign in found[2])
    return place_of(found[1].upper(), alter), text[found.end() :]


def octave_of(pitch: int, place: int) -> int:
    """The octave number of a MIDI pitch spelled so: middle C (60) is C4, 59 may be C♭4.

    >>> octave_of(60, 0)
    4
    """
    step, alter = step_and_alter(place)
    return (pitch - alter - pitch_class(place_of(step))) // 12 - 1


def nearest_place(pitch: int, centre: float) -> int:
    """The spelling of a MIDI pitch that lies nearest to ``centre`` on the line.

    No name has more than two signs: next to F𝄪 the B is a B, not an A𝄪♯.

    >>> nearest_place(10, 0)
    -2
    """
    least = pitch * 7 % 12
    readable = min(max(centre, DOUBLE_FLAT + 6), DOUBLE_SHARP - 6)
    return least + 12 * round((readable - least) / 12)


def pitch_name(pitch: int, centre: float = 2.0) -> str:
    """A MIDI pitch by name and octave, such as "B♭3", spelled near ``centre``.

    >>> pitch_name(58)
    'B♭3'
    """
    place = nearest_place(pitch, centre)
    return f"{name_of(place)}{octave_of(pitch, place)}"


def in_signatures(fifths: int) -> int:
    """A key's fifths brought by enharmonic change within six flats and six sharps.

    >>> in_signatures(7)
    -5
    """
    return fifths if abs(fifths) <= 6 else (fifths + 6) % 12 - 6


def moved_signature(fifths: int, by: int) -> int:
    """A key signature moved by so many fifths, within six flats and six sharps.

    One that is not moved stays as it is, up to seven.

    >>> moved_signature(-3, 2)
    -1
    """
    return in_signatures(fifths + by) if by else fifths
