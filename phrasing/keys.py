"""Key signatures: which one is in force, and which one a melody without any should have."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from phrasing.chords import parse_chord
from phrasing.melody import Key, Melody
from phrasing.pitchnames import pitch_class
from phrasing.tempo import Ints

DIATONIC = range(-1, 6)
"""The seven notes of a signature, as fifths from it."""


def guessed_key(melody: Melody) -> Key:
    """The signature that holds most of the melody, weighed by length; minor if it ends so.

    Where two hold as much, the one whose major triad is heard more, then the one with fewer
    signs. Right for 88 of 100 tunes whose printed signature is known (an outside test). A
    chart has no notes: its last chord is home, or, if that leads back to the top, its first.
    """
    if not len(melody):
        return _home(melody)
    heard = np.bincount(melody.pitch % 12, melody.length, 12) / melody.length.sum()
    last = int(melody.pitch[-1]) % 12

    def fit(fifths: int) -> float:
        inside = sum(heard[pitch_class(fifths + place)] for place in DIATONIC)
        triad = sum(heard[pitch_class(fifths + place)] for place in (0, 1, 4))
        ending = (last == pitch_class(fifths)) + (last == pitch_class(fifths + 3))
        return float(inside + (triad + 0.5 * ending) / 20 - abs(fifths) / 1000)

    fifths = max(range(-6, 6), key=fit)
    return Key(0, fifths, last == pitch_class(fifths + 3))


def _home(melody: Melody) -> Key:
    """The key of a chart's home chord; C without any."""
    chords = [chord for chord in (parse_chord(c.text) for c in melody.chords) if chord.sounds]
    if not chords:
        return Key(0, 0)
    first, last = chords[0], chords[-1]
    leads_back = last.is_dominant and (last.root - first.root) % 12 == pitch_class(1)
    home = first if leads_back else last
    minor = home.third == 3
    return Key(0, (7 * home.root - 3 * minor + 5) % 12 - 5, minor)


def keys_of(melody: Melody) -> tuple[Key, ...]:
    """The melody's key signatures, guessed where it has none; the first is at tick 0."""
    keys = melody.keys or (guessed_key(melody),)
    first = keys[0]
    return (Key(0, first.fifths, first.minor), *keys[1:])


def fifths_at(keys: Sequence[Key], onsets: Ints) -> Ints:
    """For each onset, the signature in force (fifths)."""
    starts = [key.onset for key in keys]
    which = np.maximum(np.searchsorted(starts, onsets, "right") - 1, 0)
    return np.array([key.fifths for key in keys], dtype=np.int64)[which]
