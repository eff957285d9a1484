"""The form of a play-along: count-in, choruses, ending, with bars and chords in played order.

    | count-in | chorus | chorus … | ending |

A chorus is the melody from bar 1 to its end, the last bar filled up to its meter. The pickup of
the first chorus falls into the count-in, that of every other chorus into the bars before it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from phrasing.errors import PhrasingError
from phrasing.score.chords import Chord, parse_chord
from phrasing.score.melody import Bar, ChordSymbol, Manner, Melody, Section, TempoMap

T = TypeVar("T")
MOST_CHORUSES = 50
MOST_COUNT_IN = 8
RELATIVE_MINOR = 9
FOURTH = 5
EVEN = 1.0
"""The swing ratio of even eighths."""
NAMES = ("C", "D♭", "D", "E♭", "E", "F", "G♭", "G", "A♭", "A", "B♭", "B")


@dataclass(frozen=True)
class ChordSpan:
    """A chord and how long it holds: from ``onset`` to ``end`` (ticks)."""

    onset: int
    end: int
    chord: Chord


@dataclass(frozen=True)
class Form:
    """What is played when, on ticks of the whole play-along.

    ``bars`` cover it from 0 to ``end``; those of the count-in have number 0. ``spans`` are
    the chords from the first chorus to the end, one after the other. ``choruses``: where
    bar 1 of each chorus begins. ``count_in``: ticks before the first chorus, and whether
    they are counted (``counted``). ``final``: where the last chord is struck, None where the
    band stops at the end of the form. ``sections``: where each begins, in played order.
    ``pickup``: ticks of the melody before its bar 1. ``fifths``: the key signature at the
    start, None where it is not known. ``manners``: how the author wants each place played,
    where that changes on the way.
    """

    bars: tuple[Bar, ...]
    spans: tuple[ChordSpan, ...]
    choruses: tuple[int, ...]
    counted: bool
    final: int | None
    end: int
    pickup: int
    tempos: TempoMap
    sections: tuple[Section, ...]
    fifths: int | None = None
    manners: tuple[Manner, ...] = ()

    @property
    def heads(self) -> range:
        """The choruses that the melody is played in."""
        return range(len(self.choruses))

    @property
    def count_in(self) -> int:
        """Ticks before the first chorus."""
        return self.choruses[0]

    def every_chorus(self, places: Sequence[tuple[int, T]]) -> Iterator[tuple[int, T]]:
        """What holds from some ticks of the melody on, on the form's ticks in each chorus."""
        for start in self.choruses:
            yield from ((max(at - self.pickup, 0) + start, each) for at, each in places)

    def offset(self, chorus: int = 0) -> int:
        """Ticks to add to the melody's, so that it fits this chorus (from 0)."""
        return self.choruses[chorus] - self.pickup

    def chord_at(self, tick: int) -> ChordSpan | None:
        """The chord in force at a tick; None before the first and after the last."""
        for span in self.spans:
            if span.onset <= tick < span.end:
                return span
        return None


def form_of(
    melody: Melody,
    *,
    choruses: int = 1,
    count_in: int = 2,
    ending: bool = True,
    ring: float = 2.0,
    harmony: bool = True,
) -> Form:
    """The form of a melody or chart with chord symbols.

    ``count_in``: bars; ``ring``: seconds for which the last chord may sound, at least;
    ``harmony``: whether anybody plays from the chords.
    Raises ``PhrasingError`` for a chord that is not known, and where there are none to play.
    """
    _check(melody, choruses, count_in, harmony)
    body = _body(melody)
    length = body[-1].onset + body[-1].length - melody.pickup
    lead = _lead_in(melody, count_in)
    first = sum(bar.length for bar in lead)
    starts = tuple(first + k * length for k in range(choruses))
    bars = [*lead, *_played(body, starts, melody.pickup)]
    spans = list(_spans(melody, starts, length))
    tempos = _tempos(melody, starts, length, counted=count_in > 0)
    final = None
    if ending:
        final = _final(bars, spans, starts[-1], melody)
        bars, spans = _with_ending(bars, spans, final, tempos, ring, melody)
    key = melody.keys[0].fifths if melody.keys else None
    return Form(
        bars=tuple(bars),
        spans=tuple(merged(spans)),
        choruses=starts,
        counted=count_in > 0,
        final=final,
        end=bars[-1].onset + bars[-1].length,
        pickup=melody.pickup,
        tempos=tempos,
        sections=tuple(_sections(melody, starts)),
        fifths=key,
        manners=tuple(_manners(melody, starts)),
    )


def _manners(melody: Melody, starts: Sequence[int]) -> Iterator[Manner]:
    """How the author wants each chorus played, from place to place.

    A ratio that a chart asks for is the band's; of a melody's, even eighths are.
    """
    for start in starts if melody.manners else ():
        for manner in melody.all_manners:
            onset = max(manner.onset + start - melody.pickup, start)
            swing = manner.swing if not len(melody) or manner.swing == EVEN else None
            yield replace(manner, onset=onset, swing=swing)


def _check(melody: Melody, choruses: int, count_in: int, harmony: bool) -> None:
    if harmony and not melody.chords:
        raise PhrasingError(
            "There are no chord symbols for a band to play from; write them above the melody, "
            "or make a chord chart."
        )
    if not 1 <= choruses <= MOST_CHORUSES:
        raise PhrasingError(f"{choruses} choruses: choose 1 to {MOST_CHORUSES}.")
    if not 0 <= count_in <= MOST_COUNT_IN:
        raise PhrasingError(f"A count-in of {count_in} bars: choose 0 to {MOST_COUNT_IN}.")


def _body(melody: Melody) -> list[Bar]:
    """The bars from bar 1 on, the last one as long as its meter asks."""
    body = [bar for bar in melody.bars if bar.onset >= melody.pickup]
    last = body[-1]
    body[-1] = replace(last, length=max(last.length, last.meter.bar_length))
    return body


def _lead_in(melody: Melody, count_in: int) -> list[Bar]:
    """Bars of count-in, as many as asked for and enough for the pickup; or the pickup."""
    if count_in == 0:
        return [bar for bar in melody.bars if bar.onset < melody.pickup]
    meter = melody.meter
    count = max(count_in, -(-melody.pickup // meter.bar_length))
    length = meter.bar_length
    return [Bar(k * length, length, 0, meter, passing=k + 1) for k in range(count)]


def _played(body: list[Bar], starts: tuple[int, ...], pickup: int) -> Iterator[Bar]:
    passings = Counter[int]()
    for start in starts:
        for bar in body:
            passings[bar.number] += 1
            onset = bar.onset - pickup + start
            yield replace(bar, onset=onset, passing=passings[bar.number])


def _spans(melody: Melody, starts: tuple[int, ...], length: int) -> Iterator[ChordSpan]:
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


def merged(spans: list[ChordSpan]) -> Iterator[ChordSpan]:
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


def _tempos(melody: Melody, starts: tuple[int, ...], length: int, *, counted: bool) -> TempoMap:
    """The tempos of every chorus; the count-in has that of bar 1."""
    pickup = melody.pickup
    tempos = {0: float(melody.tempos.at(pickup if counted else 0))}
    changes = dict(zip(melody.tempos.onsets, melody.tempos.tempos, strict=True))
    if not counted:
        tempos |= {tick: tempo for tick, tempo in changes.items() if tick < pickup}
    for start in starts:
        tempos[start] = float(melody.tempos.at(pickup))
        inside = {t: v for t, v in changes.items() if pickup < t < pickup + length}
        tempos |= {t - pickup + start: tempo for t, tempo in inside.items()}
    ticks = sorted(tempos)
    kept = [t for i, t in enumerate(ticks) if not i or tempos[t] != tempos[ticks[i - 1]]]
    return TempoMap(tuple(kept), tuple(tempos[t] for t in kept))


def _sections(melody: Melody, starts: tuple[int, ...]) -> Iterator[Section]:
    for start in starts:
        for section in melody.sections:
            at = max(section.onset, melody.pickup) - melody.pickup + start
            yield replace(section, onset=at)


def _final(bars: list[Bar], spans: list[ChordSpan], start: int, melody: Melody) -> int:
    """Where the last chord is struck: in the last two bars if they rest, else after them."""
    end = bars[-1].onset + bars[-1].length
    rests = list(merged(spans))[-1]
    if not _is_at_rest(rests.chord, melody):
        return end
    places = [bar.onset for bar in bars[-2:] if bar.onset >= rests.onset]
    return next((place for place in places if place > start), end)


def _is_at_rest(chord: Chord, melody: Melody) -> bool:
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


def _with_ending(
    bars: list[Bar],
    spans: list[ChordSpan],
    final: int,
    tempos: TempoMap,
    ring: float,
    melody: Melody,
) -> tuple[list[Bar], list[ChordSpan]]:
    """Bars added until the last chord may ring for long enough, and that chord held."""
    chord = spans[-1].chord if final < spans[-1].end else _resolution(spans, melody)
    last, bars = bars[-1], list(bars)
    end = last.onset + last.length
    while float(tempos.seconds(end) - tempos.seconds(final)) < ring:
        number, length = bars[-1].number + 1, last.meter.bar_length
        bars.append(Bar(end, length, number, last.meter))
        end += length
    kept = [replace(s, end=min(s.end, final)) for s in spans if s.onset < final]
    return bars, [*kept, ChordSpan(final, end, chord)]


def _resolution(spans: list[ChordSpan], melody: Melody) -> Chord:
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
