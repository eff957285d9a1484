"""The count-in: clicks before the band comes in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

import numpy as np

from phrasing.band.plan import AND, Beat, Plan, grouped_beats
from phrasing.band.strokes import Stroke
from phrasing.feel import Drums
from phrasing.score.melody import TICKS

KICK, SIDE_STICK, SNARE = 36, 37, 38
SLAP, SWIRL, TAP = 39, 40, 38
"""On the brush set of General MIDI 2 (and GS): slap, swirl and tap."""
CLOSED, PEDAL, OPEN = 42, 44, 46
LOW_TOM, HIGH_TOM = 45, 50
CRASH, RIDE = 49, 51
STANDARD_KIT, JAZZ_KIT, BRUSH_KIT = 1, 33, 41
"""General MIDI 2 drum sets, from 1."""

Spot = tuple[int, float]
Figure = tuple[Spot, ...]
THIRD, TWO_THIRDS = 1 / 3, 2 / 3


def on(*beats: float) -> Figure:
    """A figure from beats written as 1, 2.5 (its "and"), 3 …"""
    return tuple((int(beat) - 1, AND if beat % 1 else 0.0) for beat in beats)


RIDE_FIGURES: dict[int, tuple[tuple[float, Figure], ...]] = {
    1: ((1.0, on(1)),),
    2: ((5.0, on(1, 2, 2.5)), (1.0, on(1, 2))),
    3: (
        (6.0, on(1, 2, 2.5, 3)),
        (2.0, on(1, 2, 2.5, 3, 3.5)),
        (1.5, on(1, 2, 3)),
        (1.0, on(1, 2, 3, 3.5)),
    ),
    4: (
        (8.0, on(1, 2, 2.5, 3, 4, 4.5)),
        (1.4, on(1, 2, 3, 4, 4.5)),
        (1.4, on(1, 2, 2.5, 3, 4)),
        (0.8, on(1, 2, 2.5, 3, 3.5, 4, 4.5)),
        (0.5, on(1, 1.5, 2, 3, 3.5, 4)),
        (0.6, on(1, 2, 3, 4)),
    ),
}
HAT_FIGURES: dict[int, Figure] = {1: (), 2: on(2), 3: on(2), 4: on(2, 4)}
SNARE_FIGURES: dict[int, tuple[tuple[float, Figure], ...]] = {
    1: ((1.0, ()),),
    2: ((2.0, on(2.5)), (2.0, on(1.5)), (1.0, ((1, TWO_THIRDS),))),
    3: (
        (3.0, on(2.5)),
        (2.0, on(3.5)),
        (2.0, on(1.5, 3)),
        (1.0, on(3)),
        (1.0, on(2.5, 3.5)),
        (1.0, ((1, THIRD), (1, TWO_THIRDS))),
    ),
    4: (
        (3.0, on(2.5)),
        (3.0, on(4.5)),
        (2.0, on(1.5)),
        (2.0, on(3.5)),
        (2.0, on(2.5, 4.5)),
        (1.5, on(2.5, 4)),
        (1.0, on(3.5, 4.5)),
        (1.0, on(4)),
        (1.0, on(1.5, 3)),
        (1.0, ((1, THIRD), (1, TWO_THIRDS))),
        (1.0, ((2, TWO_THIRDS), (3, TWO_THIRDS))),
        (1.0, ((3, THIRD), (3, TWO_THIRDS))),
    ),
}
FILLS: tuple[tuple[tuple[int, float, int], ...], ...] = (
    ((0, 0.0, SNARE), (0, THIRD, SNARE), (1, 0.0, HIGH_TOM), (1, AND, LOW_TOM)),
    ((0, AND, SNARE), (1, 0.0, SNARE), (1, AND, SNARE)),
    ((0, 0.0, SNARE), (0, AND, SNARE), (1, 0.0, KICK), (1, AND, SNARE)),
    ((0, 0.0, SNARE), (0, TWO_THIRDS, HIGH_TOM), (1, 0.0, LOW_TOM), (1, TWO_THIRDS, KICK)),
    ((0, AND, SNARE), (1, AND, KICK)),
    ((1, 0.0, SNARE), (1, THIRD, SNARE), (1, TWO_THIRDS, SNARE)),
)
"""Set-ups over the last two beats before a section: (beat, part of it, drum key)."""


def ticks(figure: Figure, group: tuple[Beat, ...]) -> list[tuple[int, Spot]]:
    """Where a figure falls in a group of beats, its spots kept beside the ticks."""
    return [(group[place].at(part), (place, part)) for place, part in figure]


def chosen(figures: tuple[tuple[float, Figure], ...], rng: np.random.Generator) -> Figure:
    """One of the figures, by their weights."""
    weights = np.array([weight for weight, _ in figures])
    return figures[int(rng.choice(len(figures), p=weights / weights.sum()))][1]


# The drums: ride, hi-hat foot, feathered bass drum, comping, set-ups; brushes when slow.

STROKE = TICKS // 8
"""Ticks for which a struck key is held; drums ring by themselves."""
FILL_BEATS = 2
TURN_TO_KICK = 0.25
"""How often the last stroke of a snare figure goes to the bass drum instead."""
FAST_QUARTERS = 0.7
"""How often the ride plays plain quarters at a fast tempo."""
CRESCENDO = 3.0
"""dB by which a set-up grows to its last stroke."""

Group = tuple[Beat, ...]


class Drummer:
    """Plays one play-along."""

    def __init__(self, plan: Plan, drums: Drums, rng: np.random.Generator) -> None:
        self.plan, self.drums, self.rng = plan, drums, rng

    def play(self) -> list[Stroke]:
        """All strokes, from the first chorus to the last chord."""
        strokes: list[Stroke] = []
        for index, beats in self.plan.playing():
            groups = grouped_beats(beats)
            growth = self.plan.growth(beats[0].onset)
            for group in groups:
                ends_section = group is groups[-1] and index + 1 in self.plan.tops
                bar = list(self._group(index, group, ends_section=ends_section))
                strokes += [_louder(stroke, growth) for stroke in bar]
            top = self._top(index, beats[0].onset)
            strokes += [_louder(stroke, growth) for stroke in top]
        return _once([*strokes, *self._last_chord()])

    def _top(self, index: int, tick: int) -> Iterator[Stroke]:
        """A new section begins with the bass drum, a new chorus with a cymbal on it."""
        if index not in self.plan.tops or tick == self.plan.start:
            return
        yield self._hit(tick, KICK, self.drums.kick + self._softer)
        if tick in self.plan.form.choruses:
            yield self._hit(tick, CRASH, self.drums.crash + self._softer)

    def _group(self, index: int, group: Group, *, ends_section: bool) -> Iterator[Stroke]:
        broken = self.plan.broken.get(index)
        yield from self._feet(group, in_two=index in self.plan.two)
        if broken is not None:
            yield from self._broken(group, broken)
            return
        fills = ends_section and len(group) >= FILL_BEATS
        if self.plan.brushes:
            yield from self._brushes(group)
        elif index in self.plan.two:
            yield from self._hats(group)
        else:
            yield from self._ride(group)
        if fills:
            yield from self._fill(group)
        elif self.rng.random() < self.drums.comping:
            yield from self._comping(group)

    def _hit(self, tick: int, key: int, level: float, *, steady: bool = False) -> Stroke:
        return Stroke(tick, tick + STROKE, key, level, steady=steady)

    @property
    def _softer(self) -> float:
        """dB by which all but the brushes themselves is softer where brushes are played."""
        return self.drums.softer if self.plan.brushes else 0.0

    def _feet(self, group: Group, *, in_two: bool) -> Iterator[Stroke]:
        for tick, _ in ticks(HAT_FIGURES[len(group)], group):
            yield self._hit(tick, PEDAL, self.drums.hat + self._softer)
        for beat in group:
            if not in_two or beat.place % 2 == 0:
                yield self._hit(beat.onset, KICK, self.drums.feather)

    def _ride(self, group: Group) -> Iterator[Stroke]:
        for tick, level in self._time(group):
            yield self._hit(tick, RIDE, self.drums.ride + level, steady=True)

    def _time(self, group: Group) -> Iterator[tuple[int, float]]:
        """The ride's figure: ticks, and dB against its plain beat."""
        fast = self.plan.beat_tempo(group[0]) > self.drums.quarters_from
        figure = chosen(RIDE_FIGURES[len(group)], self.rng)
        if fast and self.rng.random() < FAST_QUARTERS:
            figure = on(*range(1, len(group) + 1))
        for tick, (place, part) in ticks(figure, group):
            if part == AND and not group[place].off:
                continue
            accent = self.drums.back_beat if place % 2 else 0.0
            yield tick, self.drums.skip if part else accent

    def _hats(self, group: Group) -> Iterator[Stroke]:
        """In two: the hi-hat open on 1 and 3, closed with the stick on 2 and 4."""
        for tick, level in self._time(group):
            place = next(b.place for b in reversed(group) if b.onset <= tick)
            key = CLOSED if place % 2 else OPEN
            yield self._hit(tick, key, self.drums.hat + level, steady=True)

    def _brushes(self, group: Group) -> Iterator[Stroke]:
        for beat in group:
            lighter = self.drums.skip if beat.place % 2 else 0.0
            yield Stroke(beat.onset, beat.end, SWIRL, self.drums.swirl + lighter)
        slapped = {tick for tick, _ in ticks(HAT_FIGURES[len(group)], group)}
        for tick, level in self._time(group):
            if tick not in slapped:
                yield self._hit(tick, TAP, self.drums.tap + level, steady=True)
        for tick in sorted(slapped):
            yield self._hit(tick, SLAP, self.drums.slap, steady=True)

    def _comping(self, group: Group) -> Iterator[Stroke]:
        figure = ticks(chosen(SNARE_FIGURES[len(group)], self.rng), group)
        for i, (tick, _) in enumerate(figure):
            last = i == len(figure) - 1
            if last and self.rng.random() < TURN_TO_KICK:
                yield self._hit(tick, KICK, self.drums.kick + self._softer)
            else:
                yield self._hit(tick, self._snare(), self.drums.snare + self._shade())

    def _snare(self) -> int:
        return TAP if self.plan.brushes else SNARE

    def _shade(self) -> float:
        """Comping strokes differ more than time-keeping does."""
        reach = abs(self.drums.skip)
        return float(self.rng.uniform(-reach, reach))

    def _fill(self, group: Group) -> Iterator[Stroke]:
        last = group[-FILL_BEATS:]
        fill = FILLS[int(self.rng.integers(len(FILLS)))]
        for i, (place, part, key) in enumerate(fill):
            grown = CRESCENDO * (i + 1 - len(fill)) / len(fill)
            yield self._hit(last[place].at(part), key, self.drums.fill + self._softer + grown)

    def _broken(self, group: Group, struck: tuple[int, ...]) -> Iterator[Stroke]:
        """With the others: bass drum and snare in turn, the cymbal on the beats alone."""
        start, end = group[0].onset, group[-1].end
        hits = [tick for tick in struck if start <= tick < end]
        for i, tick in enumerate(hits):
            key = self._snare() if i % 2 else KICK
            yield self._hit(tick, key, self.drums.fill + self._softer)
        cymbal, level = RIDE, self.drums.ride + self.drums.skip
        if self.plan.brushes:
            cymbal, level = SWIRL, self.drums.swirl
        for beat in group:
            yield self._hit(beat.onset, cymbal, level, steady=True)

    def _last_chord(self) -> Iterator[Stroke]:
        final = self.plan.form.final
        if final is None:
            return
        growth = self.plan.growth(final)
        yield Stroke(final, self.plan.form.end, CRASH, self.drums.crash + self._softer + growth)
        yield self._hit(final, KICK, self.drums.fill + self._softer + growth)


def _louder(stroke: Stroke, level: float) -> Stroke:
    return replace(stroke, level=stroke.level + level)


def _once(strokes: list[Stroke]) -> list[Stroke]:
    """Of strokes on one drum at one time, the loudest."""
    loudest: dict[tuple[int, int], Stroke] = {}
    for stroke in strokes:
        place = stroke.onset, stroke.pitch
        if place not in loudest or loudest[place].level < stroke.level:
            loudest[place] = stroke
    return list(loudest.values())


Clicks = Literal["all", "2,4"]


def clicked(plan: Plan, clicks: Clicks) -> Iterator[Stroke]:
    """Clicks on all beats of the count-in, or on 2 and 4 (in other groups, on all of them)."""
    level = plan.band.drums.click
    for beat in plan.beats:
        if beat.onset >= plan.start or not plan.form.counted:
            return
        four = beat.size % 2 == 0
        if clicks == "all" or not four or beat.place % 2:
            yield Stroke(beat.onset, beat.onset + STROKE, SIDE_STICK, level, steady=True)
