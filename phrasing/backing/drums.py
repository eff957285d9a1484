"""The drums: ride, hi-hat foot, feathered bass drum, comping, set-ups; brushes when slow."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from phrasing.backing import kit
from phrasing.backing.kit import chosen, ticks
from phrasing.backing.plan import Plan
from phrasing.backing.pulse import AND, Beat, grouped_beats
from phrasing.backing.strokes import Stroke
from phrasing.feel import Drums
from phrasing.tempo import TICKS

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
        yield self._hit(tick, kit.KICK, self.drums.kick + self._softer)
        if tick in self.plan.form.choruses:
            yield self._hit(tick, kit.CRASH, self.drums.crash + self._softer)

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
        for tick, _ in ticks(kit.HAT_FIGURES[len(group)], group):
            yield self._hit(tick, kit.PEDAL, self.drums.hat + self._softer)
        for beat in group:
            if not in_two or beat.place % 2 == 0:
                yield self._hit(beat.onset, kit.KICK, self.drums.feather)

    def _ride(self, group: Group) -> Iterator[Stroke]:
        for tick, level in self._time(group):
            yield self._hit(tick, kit.RIDE, self.drums.ride + level, steady=True)

    def _time(self, group: Group) -> Iterator[tuple[int, float]]:
        """The ride's figure: ticks, and dB against its plain beat."""
        fast = self.plan.beat_tempo(group[0]) > self.drums.quarters_from
        figure = chosen(kit.RIDE_FIGURES[len(group)], self.rng)
        if fast and self.rng.random() < FAST_QUARTERS:
            figure = kit.on(*range(1, len(group) + 1))
        for tick, (place, part) in ticks(figure, group):
            if part == AND and not group[place].off:
                continue
            accent = self.drums.back_beat if place % 2 else 0.0
            yield tick, self.drums.skip if part else accent

    def _hats(self, group: Group) -> Iterator[Stroke]:
        """In two: the hi-hat open on 1 and 3, closed with the stick on 2 and 4."""
        for tick, level in self._time(group):
            place = next(b.place for b in reversed(group) if b.onset <= tick)
            key = kit.CLOSED if place % 2 else kit.OPEN
            yield self._hit(tick, key, self.drums.hat + level, steady=True)

    def _brushes(self, group: Group) -> Iterator[Stroke]:
        for beat in group:
            lighter = self.drums.skip if beat.place % 2 else 0.0
            yield Stroke(beat.onset, beat.end, kit.SWIRL, self.drums.swirl + lighter)
        slapped = {tick for tick, _ in ticks(kit.HAT_FIGURES[len(group)], group)}
        for tick, level in self._time(group):
            if tick not in slapped:
                yield self._hit(tick, kit.TAP, self.drums.tap + level, steady=True)
        for tick in sorted(slapped):
            yield self._hit(tick, kit.SLAP, self.drums.slap, steady=True)

    def _comping(self, group: Group) -> Iterator[Stroke]:
        figure = ticks(chosen(kit.SNARE_FIGURES[len(group)], self.rng), group)
        for i, (tick, _) in enumerate(figure):
            last = i == len(figure) - 1
            if last and self.rng.random() < TURN_TO_KICK:
                yield self._hit(tick, kit.KICK, self.drums.kick + self._softer)
            else:
                yield self._hit(tick, self._snare(), self.drums.snare + self._shade())

    def _snare(self) -> int:
        return kit.TAP if self.plan.brushes else kit.SNARE

    def _shade(self) -> float:
        """Comping strokes differ more than time-keeping does."""
        return float(self.rng.uniform(self.drums.skip, -self.drums.skip))

    def _fill(self, group: Group) -> Iterator[Stroke]:
        last = group[-FILL_BEATS:]
        fill = kit.FILLS[int(self.rng.integers(len(kit.FILLS)))]
        for i, (place, part, key) in enumerate(fill):
            grown = CRESCENDO * (i + 1 - len(fill)) / len(fill)
            yield self._hit(last[place].at(part), key, self.drums.fill + self._softer + grown)

    def _broken(self, group: Group, struck: tuple[int, ...]) -> Iterator[Stroke]:
        """With the others: bass drum and snare in turn, the cymbal on the beats alone."""
        start, end = group[0].onset, group[-1].end
        hits = [tick for tick in struck if start <= tick < end]
        for i, tick in enumerate(hits):
            key = self._snare() if i % 2 else kit.KICK
            yield self._hit(tick, key, self.drums.fill + self._softer)
        cymbal, level = kit.RIDE, self.drums.ride + self.drums.skip
        if self.plan.brushes:
            cymbal, level = kit.SWIRL, self.drums.swirl
        for beat in group:
            yield self._hit(beat.onset, cymbal, level, steady=True)

    def _last_chord(self) -> Iterator[Stroke]:
        final = self.plan.form.final
        if final is None:
            return
        growth = self.plan.growth(final)
        yield Stroke(
            final, self.plan.form.end, kit.CRASH, self.drums.crash + self._softer + growth
        )
        yield self._hit(final, kit.KICK, self.drums.fill + self._softer + growth)


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
