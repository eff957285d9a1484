"""Bars as a rhythm section feels them: beats, in groups of two, three or four.

A beat of a simple meter is a quarter, of a compound meter a dotted quarter; eighth-note meters
such as 5/8 and 7/8 have beats of two and three eighths. Positions inside a beat are fractions
of it; 0.5 stands for its "and", wherever that falls (in a beat of three eighths it is the
third of them). Groupings are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from phrasing.melody import Bar, Meter
from phrasing.tempo import TICKS

GROUPS: dict[int, tuple[int, ...]] = {
    1: (1,),
    2: (2,),
    3: (3,),
    4: (4,),
    5: (3, 2),
    6: (3, 3),
    7: (4, 3),
    8: (4, 4),
    9: (3, 3, 3),
}
AND = 0.5


@dataclass(frozen=True)
class Beat:
    """One beat: where it starts, its ``length``, and where its "and" lies (ticks into it).

    ``off`` is 0 where the beat is cut short and has none. ``place``: its place, from 0, in a
    group of ``size`` beats. ``bar``: the index of its bar; ``count``: its number in the bar,
    from 0.
    """

    onset: int
    length: int
    off: int
    place: int
    size: int
    bar: int
    count: int

    @property
    def end(self) -> int:
        """The tick at which the next one starts."""
        return self.onset + self.length

    def at(self, part: float) -> int:
        """The tick at a fraction of the beat, 0.5 being its "and"."""
        return self.onset + (
            self.off if part == AND and self.off else round(part * self.length)
        )


def beats_of(bars: tuple[Bar, ...]) -> tuple[Beat, ...]:
    """All beats of these bars; together they cover every bar."""
    return tuple(beat for index, bar in enumerate(bars) for beat in _bar_beats(bar, index))


def grouped_beats(beats: Sequence[Beat]) -> list[tuple[Beat, ...]]:
    """The beats of a bar in their groups."""
    starts = [i for i, beat in enumerate(beats) if beat.place == 0]
    return [tuple(beats[a:b]) for a, b in pairwise([*starts, len(beats)])]


def _bar_beats(bar: Bar, index: int) -> Iterator[Beat]:
    lengths = list(_lengths(bar))
    places = [(p, size) for size in grouped(len(lengths), bar.meter) for p in range(size)]
    onset = bar.onset
    for count, (length, (place, size)) in enumerate(zip(lengths, places, strict=True)):
        yield Beat(onset, length, _off(length, bar.meter), place, size, index, count)
        onset += length


def _lengths(bar: Bar) -> Iterator[int]:
    """Lengths of the bar's beats; a rest that is no whole beat comes last."""
    left = bar.length
    for length in _beat_lengths(bar.meter):
        if left <= 0:
            return
        yield min(length, left)
        left -= length
    while left > 0:
        yield min(TICKS, left)
        left -= TICKS


def _beat_lengths(meter: Meter) -> Iterator[int]:
    beat, count = meter.beat_length, meter.bar_length // meter.beat_length
    unit = 4 * TICKS // meter.unit
    if beat > unit or not meter.is_even or count == 1:
        yield from [beat] * max(count, 1)
        return
    # Twos and a three: 5/8 as 3+2, 7/8 as 2+2+3.
    pairs = [2] * (count // 2)
    pairs[0 if count == 5 else -1] += count % 2
    yield from (pair * unit for pair in pairs)


def _off(length: int, meter: Meter) -> int:
    """Half of a quarter; the last eighth of a longer beat; none in a beat cut short."""
    if not meter.is_even:
        return TICKS // 2 if length == TICKS else 0
    unit = 4 * TICKS // meter.unit
    return length - unit if length in (2 * unit, 3 * unit) else 0


def grouped(count: int, meter: Meter) -> tuple[int, ...]:
    """How ``count`` beats of a meter are grouped: in fours, threes and twos."""
    if meter.unit == 2 and count == 2 * meter.beats and meter.beats % 2:
        return (2,) * meter.beats
    if count in GROUPS:
        return GROUPS[count]
    return (4, *grouped(count - 4, meter)) if count else ()
