"""What the players agree on before the count-in: the groove, where it is in two, breaks up,
where chords keep silent, and how it builds."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from phrasing.band.changes import ChordSpan
from phrasing.band.ear import NOBODY, Ear
from phrasing.band.form import Form
from phrasing.band.grooves import BALLAD, SWING, TWO_FEEL, Groove
from phrasing.band.notation import AND, Choices, choices, one_of
from phrasing.feel import Band, Feel
from phrasing.score.meters import TICKS, Bar, Floats, Meter


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
BROKEN: dict[int, Choices] = {
    1: choices("1"),
    2: choices("1 2& | 1"),
    3: choices("1 2& | 1 3"),
    4: choices("1 2& 4 | 1 3& | 1 2& 3&"),
}
"""Broken time by the size of a group."""
Grooves = tuple[tuple[int, Groove], ...]
SHORTEST_BROKEN = 4
"""Bars in a chorus that is long enough for a broken ending."""
FOUR = 4
"""Bars in which a player thinks ahead."""
MORE_AT_FIRST = 1.15
"""How much more often than on the whole chords keep silent in the first chorus."""
RATHER_BUSY = 0.3
"""How much likelier chords keep silent in a bar for each note that the melody has in it."""


@dataclass(frozen=True, eq=False)
class Plan:
    """The form in beats. Bars are given by their index.

    ``grooves``: what is played from which tick on; ``ear``: the melody as the band hears it.
    ``two``: bars in two; ``broken``: bars of broken time before the last chord, with the ticks
    that all players strike together; ``tops``: bars with which a section or a chorus begins;
    ``silent``: bars in which the chords rest, ``solo``: all but the drums. ``brushes``:
    whether the drums take them.
    """

    form: Form
    band: Band
    grooves: Grooves
    ear: Ear
    two: frozenset[int]
    broken: Mapping[int, tuple[int, ...]]
    tops: frozenset[int]
    silent: frozenset[int]
    solo: frozenset[int]
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

    def beats_in(self, bar: int) -> tuple[Beat, ...]:
        """The beats of a bar."""
        return self._by_bar.get(bar, ())

    @cached_property
    def _by_bar(self) -> dict[int, tuple[Beat, ...]]:
        groups: dict[int, list[Beat]] = {}
        for beat in self.beats:
            groups.setdefault(beat.bar, []).append(beat)
        return {bar: tuple(beats) for bar, beats in groups.items()}

    def tempo(self, tick: int) -> float:
        """Quarter notes a minute at a tick."""
        return float(self.form.tempos.at(tick))

    def beat_tempo(self, beat: Beat) -> float:
        """Beats a minute: of dotted quarters in compound meters."""
        full = self.form.bars[beat.bar].meter.pulse
        return self.tempo(beat.onset) * TICKS / max(full, TICKS)

    def chorus(self, tick: int) -> int:
        """The number of the chorus at a tick, from 0."""
        return max(bisect_right(self.form.choruses, tick) - 1, 0)

    def intensity(self, tick: int) -> float:
        """How far the band has built up: 0 in the first chorus, 1 in the last of several."""
        return _built(self.form, tick)

    def growth(self, tick: int) -> float:
        """dB by which the band plays stronger in later choruses."""
        return self.band.grown(self.chorus(tick))

    def groove_in(self, bar: int) -> Groove:
        """What is played in a bar."""
        return _groove_at(self.grooves, self.form.bars[bar].onset)

    def drums_in(self, bar: int) -> Groove:
        """What the drummer plays in a bar, who keeps the sticks or the brushes in hand."""
        groove = self.groove_in(bar)
        if groove.style in (SWING.style, BALLAD.style) and self.brushes:
            return BALLAD
        in_two = bar in self.two and groove.style == SWING.style
        return TWO_FEEL if groove.brushes or in_two else groove

    def place_in_chorus(self, bar: int) -> int:
        """How many bars of its chorus come before a bar."""
        return bar - self._chorus_bars[bisect_right(self._chorus_bars, bar) - 1]

    @cached_property
    def _chorus_bars(self) -> list[int]:
        starts = set(self.form.choruses)
        starts |= {0, self.form.count_in}
        return [i for i, bar in enumerate(self.form.bars) if bar.onset in starts]

    def playing(self) -> Iterator[tuple[int, tuple[Beat, ...]]]:
        """The bars in which time is kept, each as (index, its beats)."""
        groups: dict[int, list[Beat]] = {}
        for beat in self.beats:
            if self.start <= beat.onset < self.stop:
                groups.setdefault(beat.bar, []).append(beat)
        for index, beats in groups.items():
            yield index, tuple(beats)


def plan_of(
    form: Form,
    feel: Feel,
    rng: np.random.Generator,
    *,
    grooves: Grooves = ((0, SWING),),
    ear: Ear = NOBODY,
    head_in_two: bool = False,
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
    first, last = grooves[0][1], _groove_at(grooves, form.end)
    slow = first.style == SWING.style and tempo < band.drums.brushes_below
    broken = dict(_broken(form, rng)) if last.breaks else {}
    solo = frozenset(i for i, bar in enumerate(form.bars) if form.is_solo(bar.onset))
    return Plan(
        form=form,
        band=band,
        grooves=grooves,
        ear=ear,
        two=frozenset(two),
        broken=broken,
        tops=frozenset(_tops(form, band)),
        silent=(frozenset(_silent(form, grooves, ear, rng)) | solo) - broken.keys(),
        solo=solo,
        brushes=first.brushes or slow,
    )


def _groove_at(grooves: Grooves, tick: int) -> Groove:
    return grooves[max(bisect_right(grooves, tick, key=lambda each: each[0]) - 1, 0)][1]


def _silent(form: Form, grooves: Grooves, ear: Ear, rng: np.random.Generator) -> Iterator[int]:
    """Bars in which the chords keep silent: some of every four, the melody's busiest first.

    The first chord of a chorus is always stated.
    """
    stop = form.end if form.final is None else form.final
    played = [i for i, bar in enumerate(form.bars) if form.count_in <= bar.onset < stop]
    for first in range(0, len(played), FOUR):
        four = played[first : first + FOUR]
        four = [i for i in four if form.bars[i].onset not in form.choruses]
        start = form.bars[played[first]].onset
        share = _groove_at(grooves, start).rest * (MORE_AT_FIRST - _built(form, start) / 3)
        count = int(len(four) * share + rng.uniform(-0.3, 1.0))
        if 0 < count < len(four):
            busy = [_notes_in(form.bars[index], ear) for index in four]
            likely = np.exp(RATHER_BUSY * np.array(busy))
            yield from rng.choice(four, count, replace=False, p=likely / likely.sum()).tolist()


def _built(form: Form, tick: int) -> float:
    """How far the band has built up: 0 in the first chorus, 1 in the last of several."""
    chorus = max(bisect_right(form.choruses, tick) - 1, 0)
    return chorus / max(len(form.choruses) - 1, 1)


def _notes_in(bar: Bar, ear: Ear) -> int:
    return ear.struck(bar.onset, bar.onset + bar.length)


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
    for spot in one_of(BROKEN[len(group)], rng):
        yield group[spot.place].at(spot.part)


def _tops(form: Form, band: Band) -> Iterator[int]:
    """Where sections begin; every so many bars of a chorus where none are named."""
    named = {section.onset for section in form.sections}
    played = [i for i, bar in enumerate(form.bars) if bar.onset >= form.choruses[0]]
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
