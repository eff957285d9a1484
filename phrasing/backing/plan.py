"""What the players agree on before the count-in: where it is in two, where it breaks up."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from phrasing.backing.form import Form, Span
from phrasing.backing.pulse import AND, Beat, beats_of, grouped_beats
from phrasing.feel import Band, Feel
from phrasing.tempo import TICKS

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

    def chord_span(self, tick: int) -> Span:
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
        full = self.form.bars[beat.bar].meter.beat_length
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
