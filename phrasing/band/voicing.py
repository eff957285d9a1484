"""Voicings: which notes of a chord are played where, and how one leads to the next.

Rootless, the third or the seventh lowest (common practice, no source): the piano four notes
in close position, the guitar the two guide notes with a third note on top. The bass has the
root. Where a chord leaves its colours open they come from its scale.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Literal

import numpy as np

from phrasing.feel import Comping
from phrasing.score.chords import Chord
from phrasing.score.meters import Floats

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


Instrument = Literal["piano", "guitar"]
OCTAVE = 12
MOST_COLOURS = 4
"""Colours that are considered for a chord, the most telling first."""


@dataclass(frozen=True)
class Voicing:
    """Pitches from the lowest up, and what the voicing costs by itself."""

    pitches: tuple[int, ...]
    cost: float


@dataclass(frozen=True)
class Palette:
    """What a chord is voiced from, in semitones above its root (0 to 11).

    ``guides``: the third and the seventh or what stands for them, either may lie lowest.
    ``needed``: altered notes that may not be missing, ``colours``: others, best first.
    """

    guides: tuple[int, ...]
    needed: tuple[int, ...]
    colours: tuple[int, ...]


def palette_of(chord: Chord, fifths: int | None, toward: Chord | None) -> Palette:
    """The notes to voice a chord from."""
    scale = {(pitch - chord.root) % OCTAVE for pitch in scale_of(chord, fifths, toward)}
    guides = _guides(chord)
    fifth = tuple(i for i in chord.intervals(5) if i != 7)
    extensions = [i % OCTAVE for i in chord.intervals(9, 11, 13)]
    altered = [i for i in extensions if i in (1, 3, 6, 8)]
    ninths = [i for i in altered if i in (1, 3)][:1]
    natural = [i for i in extensions if i in (9, 5, 2)][::-1]
    others = [i for i in altered if i not in (1, 3)][-1:]
    needed = dict.fromkeys([*fifth, *ninths, *others, *natural[:1]])
    usual = _usual(chord, scale)
    colours = dict.fromkeys([*altered, *natural, *usual])
    return Palette(
        guides=guides,
        needed=tuple(i for i in needed if i not in guides),
        colours=tuple(i for i in colours if i not in guides and i not in needed),
    )


def _guides(chord: Chord) -> tuple[int, ...]:
    third, seventh = chord.third, chord.seventh
    if third is None:
        return tuple(i % OCTAVE for i in (0, *chord.intervals(5))) or (0,)
    if third == 4 and 17 in chord.intervals(11):
        third = 5
    if seventh is not None:
        return third, seventh
    if chord.intervals(3) == (4,) and chord.intervals(5) == (7,):
        return third, 9
    return (third,)


def _usual(chord: Chord, scale: set[int]) -> list[int]:
    """Colours for what the symbol leaves open, best first; the root last of all."""
    ninths = [2, 1] if chord.is_dominant else [2]
    ninth = [i for i in ninths if i in scale][:1] if chord.seventh is not None else []
    thirteenth = [i for i in (9, 8) if i in scale][:1] if chord.is_dominant else []
    own = chord.intervals(9)
    fifth = [7] if chord.intervals(5) == (7,) else []
    plain = chord.seventh is None and chord.intervals(3) != (4,)
    if plain or chord.third is None:
        return [0, *fifth]
    diminished = 9 in chord.intervals(7)
    ninth = [] if own or diminished else ninth
    if chord.seventh is None:
        return [*(i for i in (2,) if i in scale), *fifth, 0]
    # The root would rub against a major seventh.
    root = [] if 11 in chord.intervals(7) and ninth and fifth else [0]
    return [*ninth, *thirteenth, *fifth, *root]


def voicings_of(
    chord: Chord,
    comping: Comping,
    instrument: Instrument = "piano",
    fifths: int | None = None,
    toward: Chord | None = None,
) -> list[Voicing]:
    """All voicings of a chord inside the instrument's register; there is always one."""
    palette = palette_of(chord, fifths, toward)
    low = comping.piano_low if instrument == "piano" else comping.guitar_low
    high = comping.piano_high if instrument == "piano" else comping.guitar_high
    found: dict[tuple[int, ...], float] = {}
    for upper, plainer in _chosen(palette, 2 if instrument == "piano" else 1):
        for shape in _shapes(palette.guides, upper, spread=instrument == "guitar"):
            for pitches in _placed(shape, chord.root, low, high):
                clash = comping.rub * _sharp_ninth_below_third(shape)
                cost = plainer * comping.plainer + clash + _own_cost(pitches, comping)
                found[pitches] = min(cost, found.get(pitches, np.inf))
    return [Voicing(pitches, cost) for pitches, cost in sorted(found.items())]


def _chosen(palette: Palette, count: int) -> Iterator[tuple[tuple[int, ...], int]]:
    """Notes to add to the guides, and how much less telling than the best they are."""
    missing = max(2 - len(palette.guides), 0)
    needed = palette.needed[: count + missing]
    free = max(count + missing - len(needed), 0)
    colours = palette.colours[:MOST_COLOURS]
    free = min(free, len(colours))
    best = sum(range(free))
    for places in combinations(range(len(colours)), free):
        yield (*needed, *(colours[i] for i in places)), sum(places) - best


def _shapes(
    guides: tuple[int, ...], upper: tuple[int, ...], *, spread: bool
) -> Iterator[tuple[int, ...]]:
    """Intervals above the root, ascending, a guide note lowest."""
    notes = {*guides, *upper}
    for lowest in guides:
        yield tuple(sorted(lowest + (note - lowest) % OCTAVE for note in notes))
        others = [guide for guide in guides if guide != lowest]
        if spread and others and upper:
            second = lowest + (others[0] - lowest) % OCTAVE
            yield lowest, second, second + (upper[0] - second) % OCTAVE


def _placed(
    shape: tuple[int, ...], root: int, low: int, high: int
) -> Iterator[tuple[int, ...]]:
    bottom = root + shape[0]
    first = low + (bottom - low) % OCTAVE
    for lowest in range(first, high + 1, OCTAVE):
        pitches = tuple(lowest + interval - shape[0] for interval in shape)
        if pitches[-1] <= high:
            yield pitches


def _sharp_ninth_below_third(shape: tuple[int, ...]) -> bool:
    """A sharp ninth belongs above the third: right below it, it is a wrong note."""
    return any((a % OCTAVE, b % OCTAVE) == (3, 4) for a, b in pairwise(shape))


def _own_cost(pitches: tuple[int, ...], comping: Comping) -> float:
    away = abs(float(np.mean(pitches)) - comping.centre) * comping.away
    gaps = np.diff(pitches)
    rub = comping.rub * (len(gaps) > 0 and gaps[-1] == 1)
    clusters = comping.rub * int((gaps == 1).sum() > 1)
    return away + rub + clusters


def led(
    choices: Sequence[list[Voicing]],
    comping: Comping,
    rng: np.random.Generator,
    beside: Sequence[Floats] | None = None,
) -> list[Voicing]:
    """One voicing for each chord, the voices moving as little as they can, the top moving.

    ``beside``: for each chord, what each of its voicings costs besides its own cost.
    Dynamic programming: exact for the costs of ``feel.Comping``, but for ``surprise``.
    """
    if not choices:
        return []
    own = [_own(voicings, comping, rng) for voicings in choices]
    if beside is not None:
        own = [mine + more for mine, more in zip(own, beside, strict=True)]
    cost = own[0]
    came_from = []
    for (before, here), mine in zip(pairwise(choices), own[1:], strict=True):
        ways = cost[:, None] + _movement(before, here, comping)
        came_from.append(ways.argmin(axis=0))
        cost = ways.min(axis=0) + mine
    line = [int(cost.argmin())]
    for best in reversed(came_from):
        line.append(int(best[line[-1]]))
    return [voicings[i] for voicings, i in zip(choices, line[::-1], strict=True)]


def _own(voicings: list[Voicing], comping: Comping, rng: np.random.Generator) -> Floats:
    cost = np.array([voicing.cost for voicing in voicings])
    return cost + comping.surprise * rng.gumbel(size=len(voicings))


def _movement(before: list[Voicing], here: list[Voicing], comping: Comping) -> Floats:
    """What it costs to move from each voicing to each other."""
    return np.array([[_move(a.pitches, b.pitches, comping) for b in here] for a in before])


def _move(a: tuple[int, ...], b: tuple[int, ...], comping: Comping) -> float:
    top = abs(a[-1] - b[-1]) or comping.still / max(comping.top, 1e-9)
    inner = sum(min(abs(p - q) for q in a) for p in b) / len(b)
    return comping.top * top + comping.inner * inner
