"""Drum keys (General MIDI 1, channel 10) and what a drummer plays, group of beats by group.

A place in a group is (beat from 0, part of the beat), 0.5 being the "and". Each table gives,
by the size of the group, figures with their weights against each other. Common practice, no
source, but the ride's 1 2 2& 3 4 4&, the hi-hat foot on 2 and 4 and the feathered bass drum
are what every method teaches.
"""

from __future__ import annotations

import numpy as np

from phrasing.backing.pulse import AND, Beat

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
