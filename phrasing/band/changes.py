"""The changes: which chord holds when, where they come to rest, and what leads back to them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from phrasing.errors import PhrasingError
from phrasing.score.chords import Chord, parse_chord
from phrasing.score.melody import ChordSymbol, Melody
from phrasing.score.meters import Bar

RELATIVE_MINOR = 9
FOURTH = 5
NAMES = ("C", "D♭", "D", "E♭", "E", "F", "G♭", "G", "A♭", "A", "B♭", "B")
Degrees = tuple[tuple[int, str], ...]
"""Semitones above the tonic, and the kind of each chord."""
TURNAROUND: dict[bool, Degrees] = {
    False: ((9, "7"), (2, "m7"), (7, "7")),
    True: ((9, "m7b5"), (2, "m7b5"), (7, "7b9")),
}
"""What follows the home chord, one chord a bar, in major and in minor (common practice)."""
TAG: dict[bool, Degrees] = {
    False: ((4, "m7"), (9, "7"), (2, "m7"), (7, "7")),
    True: ((9, "m7b5"), (2, "m7b5"), (2, "m7b5"), (7, "7b9")),
}
"""What stands in for the home chord until it comes at last, two chords a bar (likewise)."""
TAG_TIMES = 2


@dataclass(frozen=True)
class ChordSpan:
    """A chord and how long it holds: from ``onset`` to ``end`` (ticks)."""

    onset: int
    end: int
    chord: Chord


def spans_of(melody: Melody, starts: tuple[int, ...], length: int) -> Iterator[ChordSpan]:
    """The chords of every chorus; no chord until the first one comes."""
    places = {symbol.onset: chord_of(symbol, melody) for symbol in melody.chords}
    early = [tick for tick in places if tick <= melody.pickup]
    opening = places[max(early)] if early else parse_chord("N.C.")
    chorus = {melody.pickup: opening}
    chorus |= {tick: chord for tick, chord in places.items() if tick > melody.pickup}
    ticks = [tick - melody.pickup for tick in sorted(chorus)]
    ticks = [tick for tick in ticks if tick < length]
    for start in starts:
        for tick, end in zip(ticks, [*ticks[1:], length], strict=True):
            yield ChordSpan(start + tick, start + end, chorus[tick + melody.pickup])


def chord_of(symbol: ChordSymbol, melody: Melody) -> Chord:
    """What a chord symbol means; ``PhrasingError`` names its bar if it is not known."""
    try:
        return parse_chord(symbol.text)
    except PhrasingError as error:
        bar = melody.bars[int(melody.bar_index_at(symbol.onset))].number
        sentence = str(error)
        raise PhrasingError(f"Bar {bar}: {sentence[0].lower()}{sentence[1:]}") from error


def merged(spans: Sequence[ChordSpan]) -> Iterator[ChordSpan]:
    """Neighbours with the same chord joined."""
    held: ChordSpan | None = None
    for span in spans:
        if held is not None and held.chord == span.chord and held.end == span.onset:
            held = replace(held, end=span.end)
            continue
        if held is not None:
            yield held
        held = span
    if held is not None:
        yield held


def is_at_rest(chord: Chord, melody: Melody) -> bool:
    """Whether the tune may end on this chord."""
    if not chord.sounds or 6 in chord.intervals(5):
        return False
    return not chord.is_dominant or chord.root == _tonic(melody)


def _tonic(melody: Melody) -> int:
    """The pitch class of the key; without a key, the root that the first chord has."""
    if melody.keys:
        key = melody.keys[0]
        return (7 * key.fifths + RELATIVE_MINOR * key.minor) % 12
    chords = [chord_of(symbol, melody) for symbol in melody.chords]
    return next((chord.root for chord in chords if chord.sounds), 0)


def home_of(spans: Sequence[ChordSpan], melody: Melody) -> Chord:
    """The chord to end on: that of the key, as the tune itself spells it."""
    sounding = [span.chord for span in spans if span.chord.sounds]
    if not sounding:
        return spans[-1].chord
    last, tonic = sounding[-1], _tonic(melody)
    if not melody.keys and last.is_dominant:
        tonic = (last.root + FOURTH) % 12
    home = [chord for chord in sounding if chord.root == tonic and chord.bass == tonic]
    resting = [chord for chord in home if not chord.is_dominant]
    if resting or home:
        return (resting or home)[-1]
    minor = bool(melody.keys and melody.keys[0].minor)
    return parse_chord(NAMES[tonic] + ("m6" if minor else "6"))


def turnaround(home: Chord, bars: Sequence[Bar]) -> Iterator[ChordSpan]:
    """Home and back to it again: the home chord and three that lead to it, a bar each."""
    chords = [home, *_above(home, TURNAROUND)]
    for index, bar in enumerate(bars):
        yield ChordSpan(bar.onset, bar.onset + bar.length, chords[index % len(chords)])


def tag(home: Chord, bars: Sequence[Bar]) -> Iterator[ChordSpan]:
    """What keeps away from home: two chords in each of the bars."""
    chords = list(_above(home, TAG))
    for index, bar in enumerate(bars):
        starts = (*bar.meter.beat_starts, bar.length)
        half = bar.onset + starts[len(starts) // 2]
        first, second = chords[2 * index % len(chords)], chords[(2 * index + 1) % len(chords)]
        yield ChordSpan(bar.onset, half, first)
        if half < bar.onset + bar.length:
            yield ChordSpan(half, bar.onset + bar.length, second)


def _above(home: Chord, degrees: dict[bool, Degrees]) -> Iterator[Chord]:
    if not home.sounds:
        yield from (home for _ in degrees[False])
        return
    for semitones, kind in degrees[home.third == 3]:
        yield parse_chord(NAMES[(home.root + semitones) % 12] + kind)
