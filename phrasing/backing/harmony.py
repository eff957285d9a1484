"""Which notes lie between the notes of a chord: its scale.

Common practice, no source: what a chord leaves open comes from the key, where all its notes
belong to the key; else from the usual scale of its kind, and a dominant that leads to a minor
chord a fourth up takes the flat ninth and the flat thirteenth.
"""

from __future__ import annotations

from phrasing.chords import Chord

MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)
CHOICES = {2: (2, 1), 4: (5, 6), 6: (9, 8)}
"""Semitones that a scale's second, fourth and sixth may have, the usual one first."""
FILLED_BY = {2: {1, 2, 3}, 4: {5, 6}, 6: {8, 9}}
"""Chord tones that already stand for them (a sharp ninth for the second)."""
FOURTH = 5


def scale_of(
    chord: Chord, fifths: int | None = None, toward: Chord | None = None
) -> frozenset[int]:
    """Pitch classes of the chord's scale, its own notes among them.

    ``fifths``: the key signature, if known; ``toward``: the chord that follows.
    """
    own = {interval % 12 for interval in (tone.interval for tone in chord.tones)}
    scale = set(own)
    open_degrees = [d for d, filled in FILLED_BY.items() if not _is_filled(chord, d, filled)]
    key = _key_tones(fifths, chord.root)
    in_key = key is not None and own <= key
    darker = chord.is_dominant and _leads_to_minor(chord, toward)
    for degree in open_degrees:
        usual, other = _choice(chord, degree, darker=darker)
        wanted = other if in_key and key and usual not in key and other in key else usual
        scale.add(wanted)
    scale |= _third_and_seventh(chord, key if in_key else None)
    if 9 in chord.intervals(7):
        scale.add(11)
    return frozenset((chord.root + interval) % 12 for interval in scale) | {chord.bass}


def _is_filled(chord: Chord, degree: int, filled: set[int]) -> bool:
    degrees = {2: (2, 9), 4: (4, 11), 6: (6, 13)}[degree]
    diminished_seventh = degree == 6 and 9 in chord.intervals(7)
    fifth_up = degree == 6 and 8 in chord.intervals(5)
    fifth_down = degree == 4 and chord.is_dominant and 6 in chord.intervals(5)
    return bool(chord.intervals(*degrees)) or diminished_seventh or fifth_up or fifth_down


def _choice(chord: Chord, degree: int, *, darker: bool) -> tuple[int, int]:
    usual, other = CHOICES[degree]
    half_diminished = 6 in chord.intervals(5) and 10 in chord.intervals(7) and chord.third == 3
    if degree in (2, 6) and (darker or half_diminished):
        return other, usual
    return usual, other


def _key_tones(fifths: int | None, root: int) -> set[int] | None:
    """The key's notes as semitones above the root."""
    if fifths is None:
        return None
    return {(7 * fifths + step - root) % 12 for step in MAJOR_SCALE}


def _third_and_seventh(chord: Chord, key: set[int] | None) -> set[int]:
    """What a suspended chord, a bare fifth or a triad leaves open."""
    added = set()
    if not chord.intervals(3):
        added.add(3 if key is not None and 4 not in key else 4)
    if not chord.intervals(7):
        usual = 10 if chord.third == 3 and not chord.intervals(6) else 11
        other = 21 - usual
        added.add(other if key is not None and usual not in key and other in key else usual)
    return added


def _leads_to_minor(chord: Chord, toward: Chord | None) -> bool:
    if toward is None or not toward.sounds:
        return False
    return (chord.root + FOURTH) % 12 == toward.root and toward.third == 3
