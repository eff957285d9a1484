"""Which name each pitch has on paper: its accidental from the key and from the line.

Names are places on the line of fifths (see ``pitchnames``). Of all ways to spell a line the one
is taken that keeps near its key on that line and lets semitones resolve by step: a raised note
goes up, a lowered one down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from phrasing.score.chords import parse_chord
from phrasing.score.melody import Key, Melody
from phrasing.score.meters import Ints
from phrasing.score.pitches import moved_signature, pitch_class

DIATONIC = range(-1, 6)
"""The seven notes of a signature, as fifths from it."""
PLACES = range(-5, 7)
"""All twelve notes, as fifths from a signature."""
SHARE = np.array([-0.4, -0.1, -0.2, -2.7, -2.6, 3.4, 3.9, -0.8, -0.2, 4.1, -1.7, -2.7])
PRESENT = np.array([-1.7, 0.2, -0.7, -2.3, 0.9, 2.1, 0.8, 0.9, -1.0, 1.8, 1.1, -2.1])
LAST = np.array([-0.3, -0.2, -0.4, -0.7, -0.4, 2.6, 0.8, 0.1, 0.6, 0.3, -1.2, -1.2])
FEWER_SIGNS = 0.2
"""What speaks for a signature: how much of the time each of ``PLACES`` is heard, whether it is
heard at all, whether it comes last, and how few signs there are. Fitted (conditional logit) to
985 folk tunes of music21's collections, other ones than those the tests read."""


def guessed_key(melody: Melody) -> Key:
    """The likeliest signature by the notes that are heard, and for how long, and by the last
    one; minor if it ends so.

    Right for more than nine in ten tunes whose printed signature is known (an outside test). A
    chart has no notes: its last chord is home, or, if that leads back to the top, its first.
    """
    if not len(melody):
        return _home(melody)
    heard = np.bincount(melody.pitch % 12, melody.length, 12) / melody.length.sum()
    last = int(melody.pitch[-1]) % 12

    def fit(fifths: int) -> float:
        steps = [pitch_class(fifths + place) for place in PLACES]
        share = heard[steps]
        fits = SHARE @ share + PRESENT @ (share > 0) + LAST[steps.index(last)]
        return float(fits - FEWER_SIGNS * abs(fifths))

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
    """The melody's key signatures, guessed where it has none; the first is at tick 0.

    >>> keys_of(melody("C5:2 D5:2 E5:2 F5:2 G5:8"))[0].fifths
    0
    """
    keys = melody.keys or (guessed_key(melody),)
    first = keys[0]
    return (replace(first, onset=0), *keys[1:])


def on_paper(key: Key, by: int) -> Key:
    """A concert key as a part has it that is written so many fifths higher: the author's own
    signature where that is the same key, else one of six signs at most.

    >>> on_paper(Key(0, 5), 2).fifths, on_paper(Key(0, 5, written=7), 2).fifths
    (-5, 7)
    """
    own = key.written
    is_same = by and own is not None and (own - key.fifths - by) % 12 == 0
    return Key(
        key.onset,
        own if is_same and own is not None else moved_signature(key.fifths, by),
        key.minor,
    )


def fifths_at(keys: Sequence[Key], onsets: Ints) -> Ints:
    """For each onset, the signature in force (fifths).

    >>> int(fifths_at((Key(0, 1), Key(3840, -2)), 4000))
    -2
    """
    starts = [key.onset for key in keys]
    which = np.maximum(np.searchsorted(starts, onsets, "right") - 1, 0)
    return np.array([key.fifths for key in keys], dtype=np.int64)[which]


FLATMOST, SHARPMOST = -6, 10
"""How far from the key's signature (in fifths) names are tried."""


OUTSIDE = {-6: 3.0, -5: 2.2, -4: 1.8, -3: 1.2, -2: 0.8, 6: 0.8, 7: 1.5, 8: 1.6, 9: 2.2, 10: 3.0}
"""What a note outside the key costs by its fifths from the signature: the common ones least."""


def spelled_line(
    pitches: Sequence[int], fifths: Sequence[int], minor: bool = False
) -> list[int]:
    """The place on the line of fifths of each pitch of a melody, by its keys' ``fifths``.

    The cheapest path through all spellings (Viterbi): ``_distance`` for each name in its
    key, ``_step_cost`` for each interval.

    >>> from phrasing.score.pitches import name_of
    >>> [name_of(place) for place in spelled_line([60, 61, 62], [0, 0, 0])]
    ['C', 'C♯', 'D']
    """
    costs: dict[int, float] = {}
    ways: list[dict[int, int]] = []
    for index, (pitch, key) in enumerate(zip(pitches, fifths, strict=True)):
        step = pitch - pitches[index - 1] if index else 0
        reached: dict[int, float] = {}
        came: dict[int, int] = {}
        for name in _names(pitch, key):
            steps = {b: cost + _step_cost(b, name, step, key) for b, cost in costs.items()}
            came[name] = min(steps, key=lambda b: steps[b]) if steps else name
            reached[name] = steps.get(came[name], 0.0) + _distance(name - key, minor)
        costs = reached
        ways.append(came)
    return _traced(costs, ways)


@lru_cache(maxsize=4)
def places_in(melody: Melody) -> tuple[int, ...]:
    """The place on the line of fifths of each note of a melody, at sounding pitch.

    The melody's own keys count, or the one its notes suggest: the names are those on paper.
    """
    keys = keys_of(melody)
    signatures = fifths_at(keys, melody.onset).tolist()
    return tuple(spelled_line(melody.pitch.tolist(), signatures, keys[0].minor))


def _names(pitch: int, key: int) -> list[int]:
    places = range(key + FLATMOST, key + SHARPMOST + 1)
    return [place for place in places if pitch_class(place) == pitch % 12]


def _traced(costs: dict[int, float], ways: Sequence[dict[int, int]]) -> list[int]:
    """The names along the cheapest way, found from its end."""
    if not costs:
        return []
    names = [min(costs, key=lambda name: costs[name])]
    for came in reversed(ways[1:]):
        names.append(came[names[-1]])
    return names[::-1]


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
        return 0.3 if before - key in DIATONIC else 1.5
    return 0.4 * max(0, abs(fifths) - 6)
