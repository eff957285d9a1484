"""How a play-along begins and ends: introductions, tags, the last chord, slowing down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from phrasing.band.changes import (
    TAG_TIMES,
    ChordSpan,
    home_of,
    is_at_rest,
    merged,
    spans_of,
    tag,
    turnaround,
)
from phrasing.score.chords import Chord
from phrasing.score.melody import Melody
from phrasing.score.meters import Bar, TempoMap

Intro = Literal["none", "four", "last-four"]
Ending = Literal["ring", "ritard", "tag", "stop", "none"]
INTROS: tuple[str, ...] = get_args(Intro)
ENDINGS: tuple[str, ...] = get_args(Ending)
FOUR = 4
TAG_BARS = 2
SLOWING_BARS = 2
"""Bars in which the band slows down before the last chord."""
SILENCE = 1.0
"""Seconds that follow a short last chord, at least."""


@dataclass(frozen=True)
class Edge:
    """Bars and the chords in them, which come before or after what there is already.

    ``again``: the ticks from which to which a melody is played again in them, time after time.
    """

    bars: tuple[Bar, ...] = ()
    spans: tuple[ChordSpan, ...] = ()
    again: tuple[int, int] | None = None

    @property
    def length(self) -> int:
        """Ticks in all."""
        return sum(bar.length for bar in self.bars)


def introduction(kind: Intro, melody: Melody, body: Sequence[Bar], start: int) -> Edge:
    """Four bars from tick ``start``: round the key, or the last four bars of the tune.

    ``body``: the bars of a chorus. A shorter tune than that is played as it is.
    """
    if kind == "none":
        return Edge()
    length = body[-1].onset + body[-1].length - melody.pickup
    chorus = list(spans_of(melody, (0,), length))
    if kind == "four":
        meter = melody.meter
        bars = tuple(_bars(start, [replace(body[0], meter=meter)] * FOUR, meter.bar_length))
        return Edge(bars, tuple(turnaround(home_of(chorus, melody), bars)))
    last = body[-FOUR:]
    shift = start - (last[0].onset - melody.pickup)
    moved = [replace(s, onset=s.onset + shift, end=s.end + shift) for s in chorus]
    spans = [replace(s, onset=max(s.onset, start)) for s in moved if s.end > start]
    return Edge(tuple(_bars(start, last)), tuple(spans))


def _bars(start: int, models: Sequence[Bar], length: int | None = None) -> Iterator[Bar]:
    """Bars without a number, like the models, one after the other from a tick."""
    for passing, model in enumerate(models, 1):
        own = length or model.length
        yield Bar(start, own, 0, model.meter, passing=passing)
        start += own


def final_at(
    kind: Ending, bars: Sequence[Bar], spans: Sequence[ChordSpan], start: int, melody: Melody
) -> tuple[int, Edge]:
    """Where the last chord is struck, and what is put in before it.

    It comes in the last two bars of the chorus from ``start`` if they rest, else after them;
    a tag comes first, in place of those bars: under a melody its last two bars again, with
    their chords, in a chart what keeps away from home.
    """
    end = bars[-1].onset + bars[-1].length
    rests = list(merged(spans))[-1]
    places: list[int] = []
    if is_at_rest(rests.chord, melody):
        places = [bar.onset for bar in bars[-2:] if bar.onset >= rests.onset]
    final = next((place for place in places if place > start), end)
    if kind != "tag":
        return final, Edge()
    before = [bar for bar in bars if bar.onset < final][-1]
    meter, length = before.meter, before.meter.bar_length
    onsets = range(final, final + TAG_BARS * TAG_TIMES * length, length)
    tagged = tuple(
        Bar(onset, length, before.number + i, meter) for i, onset in enumerate(onsets, 1)
    )
    said = [bar for bar in bars if start <= bar.onset < final][-TAG_BARS:]
    if len(melody) and [bar.length for bar in said] == [length] * TAG_BARS:
        again = (said[0].onset, final)
        return onsets.stop, Edge(tagged, tuple(_repeated(spans, *again)), again)
    return onsets.stop, Edge(tagged, tuple(tag(home_of(spans, melody), tagged)))


def _repeated(spans: Sequence[ChordSpan], first: int, last: int) -> Iterator[ChordSpan]:
    """The chords between two ticks as often again as a tag asks for."""
    inside = [span for span in spans if span.onset < last and span.end > first]
    for times in range(1, TAG_TIMES + 1):
        later = times * (last - first)
        for span in inside:
            onset, end = max(span.onset, first) + later, min(span.end, last) + later
            yield replace(span, onset=onset, end=end)


def ended(
    bars: Sequence[Bar],
    spans: Sequence[ChordSpan],
    final: int,
    chord: Chord,
    tempos: TempoMap,
    ring: float,
) -> tuple[list[Bar], list[ChordSpan]]:
    """Bars added until ``ring`` seconds after the last chord, and that chord held."""
    last, found = bars[-1], list(bars)
    end = last.onset + last.length
    while end <= final or float(tempos.seconds(end) - tempos.seconds(final)) < ring:
        number, length = found[-1].number + 1, last.meter.bar_length
        found.append(Bar(end, length, number, last.meter))
        end += length
    kept = [replace(s, end=min(s.end, final)) for s in spans if s.onset < final]
    return found, [*kept, ChordSpan(final, end, chord)]


def slowed(tempos: TempoMap, bars: Sequence[Bar], final: int, slowest: float) -> TempoMap:
    """The tempos, slower from beat to beat before the last chord, down to ``slowest`` times."""
    before = [bar for bar in bars if bar.onset < final][-SLOWING_BARS:]
    if not before:
        return tempos
    start = before[0].onset
    beat = before[-1].meter.beat_lengths[0]
    count = max((final - start) // beat, 1)
    slower = {start + k * beat: 1.0 - (1.0 - slowest) * k / count for k in range(1, count + 1)}
    ticks = sorted({tick for tick in (*tempos.onsets, *slower) if tick <= final})
    factors = [
        slower.get(max((t for t in slower if t <= tick), default=-1), 1.0) for tick in ticks
    ]
    values = [float(tempos.at(t)) * f for t, f in zip(ticks, factors, strict=True)]
    return TempoMap(tuple(ticks), tuple(values))
