"""Where the bass plays, and what each place asks of its note."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from phrasing.backing.plan import Plan
from phrasing.backing.pulse import Beat, grouped_beats
from phrasing.chords import Chord
from phrasing.feel import Bass
from phrasing.tempo import TICKS

Role = Literal["arrival", "approach", "strong", "weak"]
NEAREST = TICKS // 4
"""Ticks before or after the arrival of a chord in which nothing else is played."""


@dataclass(frozen=True)
class Place:
    """A place for a note, from ``onset`` to ``end`` (ticks).

    ``toward``: the chord after ``chord``, None at the end. ``is_top``: a section begins here,
    or it is the last chord. ``alone``: the only note of its chord. ``broken``: in broken time,
    or the last chord.
    """

    onset: int
    end: int
    chord: Chord
    toward: Chord | None
    role: Role
    beat: Beat
    is_top: bool
    in_two: bool
    broken: bool
    alone: bool = False


def places_of(plan: Plan, bass: Bass, rng: np.random.Generator) -> list[Place]:
    """The beats the bass plays on, and wherever a chord arrives; none without chord."""
    arrivals = {span.onset for span in plan.form.spans if span.chord.sounds}
    ticks = arrivals | {t for t in _walked(plan, bass, rng) if _is_free(t, arrivals)}
    ticks = {tick for tick in ticks if plan.start <= tick < plan.stop}
    if plan.form.final is not None:
        ticks.add(plan.form.final)
    order = sorted(tick for tick in ticks if plan.chord_span(tick).chord.sounds)
    places = [_place(plan, bass, *pair) for pair in pairwise([*order, plan.form.end])]
    return [_leading(place, after) for place, after in pairwise([*places, None]) if place]


def _is_free(tick: int, arrivals: set[int]) -> bool:
    """Whether no chord arrives so near that there is no room for another note."""
    around = range(tick - NEAREST, tick + NEAREST + 1)
    return not any(other in arrivals for other in around if other != tick)


def _walked(plan: Plan, bass: Bass, rng: np.random.Generator) -> Iterator[int]:
    for index, beats in plan.playing():
        if index in plan.broken:
            yield from plan.broken[index]
            continue
        for group in grouped_beats(beats):
            if _is_in_two(plan, bass, group[0]):
                yield from _in_two(group, bass, rng)
            else:
                yield from _walking(group, bass, rng)


def _is_in_two(plan: Plan, bass: Bass, beat: Beat) -> bool:
    return beat.bar in plan.two or plan.beat_tempo(beat) < bass.two_below


def _in_two(group: tuple[Beat, ...], bass: Bass, rng: np.random.Generator) -> Iterator[int]:
    for beat in group:
        last = beat.place == len(group) - 1
        picks_up = last and rng.random() < bass.two_pickup
        if beat.place == 0 or (beat.place == 2 and not last) or picks_up:
            yield beat.onset


def _walking(group: tuple[Beat, ...], bass: Bass, rng: np.random.Generator) -> Iterator[int]:
    """Every beat; in a waltz, now and then, not the second."""
    held = len(group) == 3 and rng.random() > (1.0 + bass.plain) / 2
    yield from (beat.onset for beat in group if not (held and beat.place == 1))


def _place(plan: Plan, bass: Bass, onset: int, end: int) -> Place:
    index, beat = plan.span_index(onset), plan.beat_at(onset)
    span, spans = plan.form.spans[index], plan.form.spans
    following = spans[index + 1] if index + 1 < len(spans) else None
    final = onset == plan.form.final
    top = final or (beat.count == 0 and beat.bar in plan.tops and onset == beat.onset)
    strong = beat.onset == onset and (beat.place == 0 or (beat.place == 2 and beat.size == 4))
    arrives = onset == span.onset or final
    silent = following is not None and not following.chord.sounds
    return Place(
        onset=onset,
        end=min(end, span.end) if silent else end,
        chord=span.chord,
        toward=following.chord if following is not None else None,
        role="arrival" if arrives or top else "strong" if strong else "weak",
        beat=beat,
        is_top=top or index == 0,
        in_two=_is_in_two(plan, bass, beat),
        broken=final or beat.bar in plan.broken,
    )


def _leading(place: Place, after: Place | None) -> Place:
    """A note of a beat at most that comes directly before an arrival leads to it."""
    leads = after is None or (after.role == "arrival" and after.onset == place.end)
    if place.role == "arrival":
        return replace(place, alone=leads)
    short = after is not None and place.end - place.onset <= place.beat.length
    return replace(place, role="approach") if leads and short else place
