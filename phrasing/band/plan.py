"""What the players agree on before the count-in: where it is in two, where it breaks up."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from phrasing.band.form import ChordSpan, Form
from phrasing.feel import Band, Feel
from phrasing.score.melody import TICKS, Bar, Floats, Meter


def cheapest_line(own: Floats, steps: Sequence[Floats], turns: Floats) -> list[int]:
    """One choice for each place, at the least cost in all.

    ``own``: shape (places, choices), the cost of each choice by itself. ``steps``: for each
    place but the last, shape (choices, choices): from a choice there to one at the next
    place. ``turns``: shape (choices, choices, choices): three in a row, whatever the place.
    Dynamic programming over pairs: exact, in time places × choices³.
    """
    places, choices = own.shape
    if places < 2:
        return [int(np.argmin(row)) for row in own]
    cost = own[0][:, None] + steps[0] + own[1][None, :]
    came_from: list[np.ndarray[tuple[int, ...], np.dtype[np.int64]]] = []
    for place in range(2, places):
        ways = cost[:, :, None] + turns
        best = ways.argmin(axis=0)
        came_from.append(best)
        cheapest = np.take_along_axis(ways, best[None], axis=0)[0]
        cost = cheapest + steps[place - 1] + own[place][None, :]
    before, last = divmod(int(cost.argmin()), choices)
    line = [last, before]
    for best in reversed(came_from):
        line.append(int(best[line[-1], line[-2]]))
    return line[::-1]


# Bars as a rhythm section feels them: beats, in groups of two, three or four.
#
# A beat of a simple meter is a quarter, of a compound meter a dotted quarter; eighth-note
# meters such as 5/8 and 7/8 have beats of two and three eighths. Positions inside a beat are
# fractions of it; 0.5 stands for its "and", wherever that falls (in a beat of three eighths it
# is the third of them). Groupings are common practice, no source.

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
    for length in bar.meter.beat_lengths:
        if left <= 0:
            return
        yield min(length, left)
        left -= length
    while left > 0:
        yield min(TICKS, left)
        left -= TICKS


def _off(length: int, meter: Meter) -> int:
    """Half of a quarter; the last eighth of a longer beat; none in a beat cut short."""
    if not meter.has_no_off_beats:
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


HALF_NOTE = 2
BROKEN_BARS = 2
BROKEN: dict[int, tuple[tuple[tuple[int, float], ...], ...]] = {
    1: (((0, 0.0),),),
    2: (((0, 0.0), (1, AND)), ((0, 0.0),)),
    3: (((0, 0.0), (1, AND)), ((0, 0.0), (2, 0.0))),
    4: (((0, 0.0), (1, AND), (3, 0.0)), ((0, 0.0), (2, AND)), ((0, 0.0), (1, AND), (2, AND))),
}
"""Broken time by the size of a group: (beat from 0, part of the beat) of each note."""
SHORTEST_BROKEN = 4
"""Bars in a chorus that is long enough for a broken ending."""


@dataclass(frozen=True, eq=False)
class Plan:
    """The form in beats. Bars are given by their index.

    ``two``: bars in two; ``broken``: bars of broken time before the last chord, with the ticks
    that all players strike together; ``tops``: bars with which a section or a chorus begins.
    ``brushes``: whether the drums take them.
    """

    form: Form
    band: Band
    two: frozenset[int]
    broken: Mapping[int, tuple[int, ...]]
    tops: frozenset[int]
    brushes: bool

    @cached_property
    def beats(self) -> tuple[Beat, ...]:
        """All beats from tick 0 to the end."""
        return beats_of(self.form.bars)

    @property
    def start(self) -> int:
        """The tick at which the band comes in."""
        return self.form.count_in

    @property
    def stop(self) -> int:
        """The tick at which time-keeping ends: the last chord, or the end."""
        return self.form.end if self.form.final is None else self.form.final

    @cached_property
    def _span_onsets(self) -> list[int]:
        return [span.onset for span in self.form.spans]

    @cached_property
    def _beat_onsets(self) -> list[int]:
        return [beat.onset for beat in self.beats]

    def span_index(self, tick: int) -> int:
        """The index of the chord in force at a tick."""
        return max(bisect_right(self._span_onsets, tick) - 1, 0)

    def chord_span(self, tick: int) -> ChordSpan:
        """The chord in force at a tick."""
        return self.form.spans[self.span_index(tick)]

    def beat_at(self, tick: int) -> Beat:
        """The beat that a tick lies in."""
        return self.beats[max(bisect_right(self._beat_onsets, tick) - 1, 0)]

    def tempo(self, tick: int) -> float:
        """Quarter notes a minute at a tick."""
        return float(self.form.tempos.at(tick))

    def beat_tempo(self, beat: Beat) -> float:
        """Beats a minute: of dotted quarters in compound meters."""
        full = self.form.bars[beat.bar].meter.pulse
        return self.tempo(beat.onset) * TICKS / max(full, TICKS)

    def growth(self, tick: int) -> float:
        """dB by which the band plays stronger in later choruses."""
        passed = sum(start <= tick for start in self.form.choruses) - 1
        return min(self.band.growth * max(passed, 0), self.band.most_growth)

    def playing(self) -> Iterator[tuple[int, tuple[Beat, ...]]]:
        """The bars in which time is kept, each as (index, its beats)."""
        groups: dict[int, list[Beat]] = {}
        for beat in self.beats:
            if self.start <= beat.onset < self.stop:
                groups.setdefault(beat.bar, []).append(beat)
        for index, beats in groups.items():
            yield index, tuple(beats)


def plan_of(
    form: Form, feel: Feel, rng: np.random.Generator, *, head_in_two: bool = False
) -> Plan:
    """The plan for a form: the first chorus in two if asked for, 2/2 always in two."""
    band = feel.band
    head = form.choruses[1] if len(form.choruses) > 1 else form.end
    two = {
        index
        for index, bar in enumerate(form.bars)
        if bar.meter.unit == HALF_NOTE or (head_in_two and bar.onset < head)
    }
    tempo = float(form.tempos.at(form.count_in))
    return Plan(
        form=form,
        band=band,
        two=frozenset(two),
        broken=dict(_broken(form, rng)),
        tops=frozenset(_tops(form, band)),
        brushes=tempo < band.drums.brushes_below,
    )


def _broken(form: Form, rng: np.random.Generator) -> Iterator[tuple[int, tuple[int, ...]]]:
    if form.final is None:
        return
    last, final = form.choruses[-1], form.final
    before = [i for i, bar in enumerate(form.bars) if last <= bar.onset < final]
    if len(before) < SHORTEST_BROKEN:
        return
    beats = beats_of(form.bars)
    for index in before[-BROKEN_BARS:]:
        groups = grouped_beats([beat for beat in beats if beat.bar == index])
        yield index, tuple(tick for group in groups for tick in _struck(group, rng))


def _struck(group: tuple[Beat, ...], rng: np.random.Generator) -> Iterator[int]:
    figures = BROKEN[len(group)]
    for place, part in figures[int(rng.integers(len(figures)))]:
        yield group[place].at(part)


def _tops(form: Form, band: Band) -> Iterator[int]:
    """Where sections begin; every so many bars of a chorus where none are named."""
    named = {section.onset for section in form.sections}
    played = [i for i, bar in enumerate(form.bars) if bar.onset >= form.count_in]
    per_chorus = sum(form.bars[i].onset < [*form.choruses, form.end][1] for i in played)
    length = band.drums.section
    length = length if per_chorus % length == 0 else max(length // 2, 1)
    since = 0
    for index in played:
        onset = form.bars[index].onset
        since = 0 if onset in form.choruses else since + 1
        counted = not named and since % length == 0
        if counted or onset in named or onset in form.choruses:
            yield index
