"""The form of a play-along, with bars and chords in played order.

    | count-in | introduction | chorus | chorus … | ending |

A chorus is the melody from bar 1 to its end, the last bar filled up to its meter. The pickup of
each chorus falls into the bars before it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeVar

import numpy as np

from phrasing.band.changes import TAG_TIMES, ChordSpan, home_of, merged, spans_of
from phrasing.band.edges import (
    SILENCE,
    Edge,
    Ending,
    Intro,
    ended,
    final_at,
    introduction,
    slowed,
)
from phrasing.errors import PhrasingError
from phrasing.score.melody import Manner, Melody, Section
from phrasing.score.meters import Bar, Bools, Ints, TempoMap

T = TypeVar("T")
MOST_CHORUSES = 50
MOST_COUNT_IN = 8
MOST_TRADED = 16
EVEN = 1.0
"""The swing ratio of even eighths."""


class Passage(NamedTuple):
    """What of a melody is played, in which chorus, and ``shift`` ticks later than it stands.

    ``first`` and ``last``: from which tick of its own until which, None to its end.
    """

    chorus: int
    shift: int
    first: int = 0
    last: int | None = None

    @property
    def is_whole(self) -> bool:
        """Whether all of the melody is played."""
        return self.first <= 0 and self.last is None

    def holds(self, onset: Ints) -> Bools:
        """Which notes of the melody are in it, by their onsets."""
        inside: Bools = onset >= self.first
        return inside if self.last is None else inside & (onset < self.last)

    def ends(self, end: Ints) -> Ints:
        """Ends of its notes: none lasts longer than it does."""
        return end if self.last is None else np.minimum(end, self.last)


@dataclass(frozen=True)
class Form:
    """What is played when, on ticks of the whole play-along.

    ``bars`` cover it from 0 to ``end``; those of the count-in and the introduction have number
    0. ``count_in``: ticks before the band comes in, and whether they are counted
    (``counted``). ``spans`` are the chords from there to the end, one after the other.
    ``choruses``: where bar 1 of each chorus begins. ``final``: where the last chord is struck,
    ``short`` if it is not to ring; None where the band stops at the end of the form.
    ``solos``: from which tick to which the drums play alone; ``again``: what of the melody a
    tag repeats. ``sections``: where each begins,
    in played order. ``pickup``: ticks of the melody before its bar 1. ``fifths``: the key
    signature at the start, None where it is not known. ``manners``: how the author wants each
    place played, where that changes on the way.
    """

    bars: tuple[Bar, ...]
    spans: tuple[ChordSpan, ...]
    choruses: tuple[int, ...]
    count_in: int
    counted: bool
    final: int | None
    end: int
    pickup: int
    tempos: TempoMap
    sections: tuple[Section, ...]
    fifths: int | None = None
    manners: tuple[Manner, ...] = ()
    short: bool = False
    solos: tuple[tuple[int, int], ...] = ()
    again: tuple[int, int] | None = None

    @property
    def heads(self) -> tuple[int, ...]:
        """The choruses that the melody is played in: all but those that are traded in."""
        ends = (*self.choruses[1:], self.end)
        return tuple(
            number
            for number, (start, end) in enumerate(zip(self.choruses, ends, strict=True))
            if not any(start <= solo < end for solo, _ in self.solos)
        )

    def is_solo(self, tick: int) -> bool:
        """Whether the drums play alone at a tick."""
        return any(start <= tick < end for start, end in self.solos)

    def every_chorus(self, places: Sequence[tuple[int, T]]) -> Iterator[tuple[int, T]]:
        """What holds from some ticks of the melody on, on the form's ticks in each chorus."""
        for start in self.choruses:
            yield from ((max(at - self.pickup, 0) + start, each) for at, each in places)

    def offset(self, chorus: int = 0) -> int:
        """Ticks to add to the melody's, so that it fits this chorus (from 0)."""
        return self.choruses[chorus] - self.pickup

    def passages(self) -> Iterator[Passage]:
        """The melody as it is played: in every head, and its last bars again in a tag."""
        for chorus in self.heads:
            shift = self.offset(chorus)
            if self.again is None or chorus + 1 < len(self.choruses):
                yield Passage(chorus, shift)
                continue
            first, last = (tick - shift for tick in self.again)
            for times in range(TAG_TIMES + 1):
                start, later = (first if times else 0), shift + times * (last - first)
                yield Passage(chorus, later, start, None if times == TAG_TIMES else last)

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
    intro: Intro = "none",
    ending: Ending = "ring",
    trade: int = 0,
    ring: float = 2.0,
    slowest: float = 0.7,
    harmony: bool = True,
) -> Form:
    """The form of a melody or chart with chord symbols.

    ``count_in``: bars; ``intro`` and ``ending`` as in ``edges``; ``trade``: bars that the
    drums answer with as many alone, 0 for none; ``ring``: seconds for which the last chord may
    sound, at least; ``slowest``: what the tempo comes down to where it slows down;
    ``harmony``: whether anybody plays from the chords.
    Raises ``PhrasingError`` for a chord that is not known, and where there are none to play.
    """
    _check(melody, choruses, count_in, trade, harmony)
    body = _body(melody)
    length = body[-1].onset + body[-1].length - melody.pickup
    lead = _lead_in(melody, count_in, intro)
    start = sum(bar.length for bar in lead)
    opening = introduction(intro, melody, body, start)
    first = start + opening.length
    starts = tuple(first + k * length for k in range(choruses))
    bars = [*lead, *opening.bars, *_played(body, starts, melody.pickup)]
    spans = [*opening.spans, *spans_of(melody, starts, length)]
    tempos = _tempos(melody, starts, length, counted=count_in > 0 or intro != "none")
    key = melody.keys[0].fifths if melody.keys else None
    form = Form(
        bars=tuple(bars),
        spans=tuple(spans),
        choruses=starts,
        count_in=start,
        counted=count_in > 0,
        final=None,
        end=bars[-1].onset + bars[-1].length,
        pickup=melody.pickup,
        tempos=tempos,
        sections=tuple(_sections(melody, starts)),
        fifths=key,
        manners=tuple(_manners(melody, starts)),
        solos=tuple(_solos(bars, starts, length, trade)),
    )
    if ending != "none":
        form = _with_ending(form, melody, ending, ring, slowest)
    return replace(form, spans=tuple(merged(form.spans)))


def _with_ending(
    form: Form, melody: Melody, ending: Ending, ring: float, slowest: float
) -> Form:
    """The form with its last chord, what comes before it, and time for it to ring."""
    final, tagged = final_at(ending, form.bars, form.spans, form.choruses[-1], melody)
    home = home_of(form.spans, melody)
    chord = form.spans[-1].chord if final < form.spans[-1].end else home
    bars, spans = _put_in(form.bars, form.spans, tagged)
    stop = tagged.bars[0].onset if tagged.bars else final
    tempos = slowed(form.tempos, bars, final, slowest) if ending == "ritard" else form.tempos
    short = ending == "stop"
    bars, spans = ended(bars, spans, final, chord, tempos, SILENCE if short else ring)
    return replace(
        form,
        bars=tuple(bars),
        spans=tuple(spans),
        final=final,
        end=bars[-1].onset + bars[-1].length,
        tempos=tempos,
        short=short,
        again=tagged.again,
        solos=tuple((a, min(b, stop)) for a, b in form.solos if a < stop),
    )


def _put_in(
    bars: Sequence[Bar], spans: Sequence[ChordSpan], tagged: Edge
) -> tuple[list[Bar], list[ChordSpan]]:
    """The bars and chords with a tag in place of what stood there."""
    if not tagged.bars:
        return list(bars), list(spans)
    start = tagged.bars[0].onset
    kept = [replace(s, end=min(s.end, start)) for s in spans if s.onset < start]
    return [*(b for b in bars if b.onset < start), *tagged.bars], [*kept, *tagged.spans]


def _solos(
    bars: list[Bar], starts: tuple[int, ...], length: int, trade: int
) -> Iterator[tuple[int, int]]:
    """Every other ``trade`` bars of the choruses in the middle: the drums' answers.

    Of one or two choruses it is the last one.
    """
    middle = starts[1:-1] if len(starts) > 2 else starts[-1:]
    traded = [b for b in bars if trade and any(s <= b.onset < s + length for s in middle)]
    for first in range(trade, len(traded), max(2 * trade, 1)):
        answer = traded[first : first + trade]
        yield answer[0].onset, answer[-1].onset + answer[-1].length


def _manners(melody: Melody, starts: Sequence[int]) -> Iterator[Manner]:
    """How the author wants each chorus played, from place to place.

    A ratio that a chart asks for is the band's; of a melody's, even eighths are.
    """
    for start in starts if melody.manners else ():
        for manner in melody.all_manners:
            onset = max(manner.onset + start - melody.pickup, start)
            swing = manner.swing if not len(melody) or manner.swing == EVEN else None
            yield replace(manner, onset=onset, swing=swing)


def _check(melody: Melody, choruses: int, count_in: int, trade: int, harmony: bool) -> None:
    if harmony and not melody.chords:
        raise PhrasingError(
            "There are no chord symbols for a band to play from; write them above the melody, "
            "or make a chord chart."
        )
    if not 1 <= choruses <= MOST_CHORUSES:
        raise PhrasingError(f"{choruses} choruses: choose 1 to {MOST_CHORUSES}.")
    if not 0 <= count_in <= MOST_COUNT_IN:
        raise PhrasingError(f"A count-in of {count_in} bars: choose 0 to {MOST_COUNT_IN}.")
    if not 0 <= trade <= MOST_TRADED:
        raise PhrasingError(f"Trading {trade} bars: choose 1 to {MOST_TRADED}, 0 for none.")


def _body(melody: Melody) -> list[Bar]:
    """The bars from bar 1 on, the last one as long as its meter asks."""
    body = [bar for bar in melody.bars if bar.onset >= melody.pickup]
    last = body[-1]
    body[-1] = replace(last, length=max(last.length, last.meter.bar_length))
    return body


def _lead_in(melody: Melody, count_in: int, intro: Intro) -> list[Bar]:
    """Bars of count-in, as many as asked for and enough for the pickup; or the pickup.

    A pickup has its place in an introduction.
    """
    if count_in == 0:
        before = [bar for bar in melody.bars if bar.onset < melody.pickup]
        return before if intro == "none" else []
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
