"""The drums: what keeps time in each groove, comments, set-ups, and the count-in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

import numpy as np

from phrasing.band.grooves import Groove, Layer
from phrasing.band.notation import AND, Spot, bar_of, figure, one_of
from phrasing.band.plan import Beat, Plan, grouped_beats
from phrasing.band.strokes import Stroke
from phrasing.feel import Drums
from phrasing.score.meters import TICKS, Ints

KICK, SIDE_STICK, SNARE = 36, 37, 38
SLAP, SWIRL, TAP = 39, 40, 38
"""On the brush set of General MIDI 2 (and GS): slap, swirl and tap."""
CLOSED, PEDAL, OPEN = 42, 44, 46
LOW_TOM, HIGH_TOM = 45, 50
CRASH, RIDE = 49, 51
STANDARD_KIT, JAZZ_KIT, BRUSH_KIT = 1, 33, 41
"""General MIDI 2 drum sets, from 1."""
KIT: dict[str, tuple[int, int]] = {
    "ride": (RIDE, RIDE),
    "hats": (OPEN, CLOSED),
    "closed": (CLOSED, CLOSED),
    "pedal": (PEDAL, PEDAL),
    "kick": (KICK, KICK),
    "snare": (SNARE, SNARE),
    "stick": (SIDE_STICK, SIDE_STICK),
    "high": (HIGH_TOM, HIGH_TOM),
    "low": (LOW_TOM, LOW_TOM),
    "swirl": (SWIRL, SWIRL),
    "tap": (TAP, TAP),
    "slap": (SLAP, SLAP),
}
"""Drum keys by their names in a groove: on the beats 1 and 3, and on 2 and 4."""

STROKE = TICKS // 8
"""Ticks for which a struck key is held; drums ring by themselves."""
FILL_BEATS = 2
TURN_TO_KICK = 0.25
"""How often the last stroke of a comment goes to the bass drum instead."""
FAST_QUARTERS = 0.7
"""How often the time is in plain beats where it is fast."""
TAKEN_UP = 0.5
"""How often the drums alone go on with another motif."""
CRESCENDO = 3.0
"""dB by which a set-up grows to its last stroke."""
ACCENT = 3.0
"""dB by which a stroke marked louder or lighter differs."""
FEET = ("hat", "feather")
"""What goes on where time is broken up."""
BUSIER = 0.6
"""How much more often drums comment in the last chorus than in the first."""

Group = tuple[Beat, ...]


class Drummer:
    """Plays one play-along."""

    def __init__(self, plan: Plan, drums: Drums, rng: np.random.Generator) -> None:
        self.plan, self.drums, self.rng = plan, drums, rng
        self.motif = ""

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
        groove = self.plan.drums_in(index)
        if index in self.plan.solo:
            yield from self._foot(groove, index, group)
            yield from self._alone(groove, index, group)
            return
        if index in self.plan.broken:
            yield from self._foot(groove, index, group)
            yield from self._broken(group, self.plan.broken[index])
            return
        yield from self._time(groove, index, group)
        with_melody = list(self._with_melody(group))
        talks = groove.talks * self.drums.comping * self._busy(group)
        if ends_section and len(group) >= FILL_BEATS:
            yield from self._fill(groove, group)
        elif with_melody:
            yield from with_melody
        elif self.rng.random() < talks:
            yield from self._comment(groove, index, group)

    def _busy(self, group: Group) -> float:
        """How much the drums talk here: more in later choruses, and where the melody rests."""
        start, end = group[0].onset, group[-1].end
        more = 1.0 + BUSIER * self.plan.intensity(start)
        return more * (1.3 if self.plan.ear.leaves_room(start, end) else 1.0)

    def _hit(self, tick: int, key: int, level: float, *, steady: bool = False) -> Stroke:
        return Stroke(tick, tick + STROKE, key, level, steady=steady)

    @property
    def _softer(self) -> float:
        """dB by which all but the brushes themselves is softer where brushes are played."""
        return self.drums.softer if self.plan.brushes else 0.0

    def _time(self, groove: Groove, index: int, group: Group) -> Iterator[Stroke]:
        """What keeps time: each layer of the groove by itself, no drum twice at once."""
        intensity = self.plan.intensity(group[0].onset)
        for layer in groove.layers:
            if layer.above <= intensity <= layer.below:
                yield from self._layer(layer, index, group)

    def _foot(self, groove: Groove, index: int, group: Group) -> Iterator[Stroke]:
        for layer in groove.layers:
            if layer.level in FEET and not layer.steady:
                yield from self._layer(layer, index, group)

    def _layer(self, layer: Layer, index: int, group: Group) -> Iterator[Stroke]:
        number = self.plan.place_in_chorus(index)
        spots = one_of(bar_of(layer.rhythm, len(group), number), self.rng)
        if layer.thins and self._is_fast(group) and self.rng.random() < FAST_QUARTERS:
            spots = figure(" ".join(str(beat + 1) for beat in range(len(group))))
        for spot in spots:
            beat = group[spot.place]
            if spot.part == AND and not beat.off:
                continue
            level = getattr(self.drums, layer.level) + layer.louder + ACCENT * spot.accent
            level += self._shade(spot) if layer.shaded else 0.0
            level += self._softer if layer.level == "hat" else 0.0
            key = KIT[layer.drum][spot.place % 2]
            if layer.held:
                yield Stroke(beat.onset, beat.end, key, level)
            else:
                yield self._hit(beat.at(spot.part), key, level, steady=layer.steady)

    def _is_fast(self, group: Group) -> bool:
        return self.plan.beat_tempo(group[0]) > self.drums.quarters_from

    def _shade(self, spot: Spot) -> float:
        """dB of a ride's stroke against its plain beat."""
        if spot.part:
            return self.drums.skip
        return self.drums.back_beat if spot.place % 2 else 0.0

    def _comment(self, groove: Groove, index: int, group: Group) -> Iterator[Stroke]:
        number = self.plan.place_in_chorus(index)
        spots = one_of(bar_of(groove.comments, len(group), number), self.rng)
        for i, spot in enumerate(spots):
            tick = group[spot.place].at(spot.part)
            if i == len(spots) - 1 and self.rng.random() < TURN_TO_KICK:
                yield self._hit(tick, KICK, self.drums.kick + self._softer)
            else:
                key = KIT[groove.comment_on][0]
                wide = abs(self.drums.skip)
                shade = float(self.rng.uniform(-wide, wide))
                yield self._hit(tick, key, self.drums.snare + shade)

    def _with_melody(self, group: Group) -> Iterator[Stroke]:
        """Set up the melody's linked pairs, and catch what it accents off the beat."""
        start, end = group[0].onset, group[-1].end
        ear, drums = self.plan.ear, self.drums
        for first, second in ear.pairs:
            if start <= second < end and self.rng.random() < drums.sets_up:
                ready = max(start, min(first, second - TICKS // 2))
                yield self._hit(ready, self._snare(), drums.snare + self._softer)
                yield self._hit(second, KICK, drums.caught + self._softer)
        for i in range(*_range(ear.onset, start, end)):
            if ear.strong[i] and self.rng.random() < drums.catches:
                key = KICK if self.rng.random() < 0.5 else self._snare()
                yield self._hit(int(ear.onset[i]), key, drums.caught - 2.0 + self._softer)

    def _snare(self) -> int:
        return TAP if self.plan.brushes else SNARE

    def _fill(self, groove: Groove, group: Group) -> Iterator[Stroke]:
        last = group[-FILL_BEATS:]
        fill = figure(groove.fills[int(self.rng.integers(len(groove.fills)))])
        for i, spot in enumerate(fill):
            grown = CRESCENDO * (i + 1 - len(fill)) / len(fill)
            level = self.drums.fill + self._softer + grown
            yield self._hit(last[spot.place].at(spot.part), KIT[spot.note][0], level)

    def _alone(self, groove: Groove, index: int, group: Group) -> Iterator[Stroke]:
        """The drums' answer: a motif of two beats, taken up again and varied, then a set-up."""
        last = index + 1 not in self.plan.solo
        for first in range(0, len(group), FILL_BEATS):
            pair = group[first : first + FILL_BEATS]
            if len(pair) == FILL_BEATS and (self.rng.random() < TAKEN_UP or not self.motif):
                self.motif = groove.fills[int(self.rng.integers(len(groove.fills)))]
            for spot in figure(self.motif):
                if spot.place < len(pair):
                    level = self.drums.fill + self._softer + float(self.rng.uniform(0.0, 4.0))
                    key = KIT[spot.note][0]
                    yield self._hit(pair[spot.place].at(spot.part), key, level)
        if last:
            yield self._hit(group[-1].at(AND), KICK, self.drums.fill + self._softer)

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
        if self.plan.form.short:
            yield self._hit(final, self._snare(), self.drums.fill + self._softer + growth)
            yield self._hit(final, KICK, self.drums.fill + self._softer + growth)
            return
        yield Stroke(final, self.plan.form.end, CRASH, self.drums.crash + self._softer + growth)
        yield self._hit(final, KICK, self.drums.fill + self._softer + growth)


def _range(onsets: Ints, start: int, end: int) -> tuple[int, int]:
    """The indices of what begins from one tick to another."""
    first, last = np.searchsorted(onsets, (start, end), "left").tolist()
    return first, last


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
