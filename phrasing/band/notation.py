"""Rhythms as a player counts them: ``1 2& 3`` and ``8: 1 2 2& 3 | 2: 1 3``.

Beats are numbers from 1; behind one stand ``&`` for its "and", ``t`` and ``l`` for the second
and the last note of a triplet ("1 trip let"), ``e`` and ``a`` for the second and the last
sixteenth ("1 e and a"). Then may follow ``>`` (louder) or ``<`` (lighter), and after a colon
what is to be played: a chord's length in beats, a bass note, a drum. Alternatives stand
between bars ``|``, each after its weight; ``-`` is a rest.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

AND = 0.5
PARTS = {"": 0.0, "&": AND, "t": 1 / 3, "l": 2 / 3, "e": 0.25, "a": 0.75}
WEIGHTS = {"": 0, ">": 1, "<": -1}
SPOT = re.compile(r"(\d)([&tlea]?)([<>]?)(?::(\S+))?")
CHOICE = re.compile(r"\s*(?:(\d+(?:\.\d+)?):\s+)?(.*?)\s*", re.DOTALL)


class Spot(NamedTuple):
    """A place in a group of beats: its beat (from 0), the part of it, and what is there.

    ``accent``: 1 louder, -1 lighter, 0 neither; ``note``: what follows the colon.
    """

    place: int
    part: float
    accent: int = 0
    note: str = ""


Figure = tuple[Spot, ...]
Choices = tuple[tuple[float, Figure], ...]


@lru_cache(maxsize=512)
def figure(text: str) -> Figure:
    """The spots of one rhythm.

    >>> figure("1 2&>:0.5")
    (Spot(place=0, part=0.0, accent=0, note=''), Spot(place=1, part=0.5, accent=1, note='0.5'))
    >>> figure("-")
    ()
    """
    return tuple(_spot(word) for word in text.split() if word != "-")


def _spot(word: str) -> Spot:
    found = SPOT.fullmatch(word)
    if found is None:
        raise ValueError(f"“{word}” is no place in a bar")
    beat, part, accent, note = found.groups()
    return Spot(int(beat) - 1, PARTS[part], WEIGHTS[accent], note or "")


@lru_cache(maxsize=512)
def choices(text: str) -> Choices:
    """Alternatives and their weights, 1 where none is given.

    >>> [weight for weight, _ in choices("3: 1 2& | 1 3")]
    [3.0, 1.0]
    """
    found = []
    for part in text.split("|"):
        match = CHOICE.fullmatch(part)
        assert match is not None
        found.append((float(match[1] or 1), figure(match[2])))
    return tuple(found)


def one_of(
    alternatives: Choices, rng: np.random.Generator, likely: Sequence[float] | None = None
) -> Figure:
    """One of the alternatives by their weights, each times what makes it ``likely`` here."""
    weights = np.array([weight for weight, _ in alternatives])
    if likely is not None:
        weights = weights * np.asarray(likely)
    total = weights.sum()
    if len(weights) == 1 or total <= 0:
        return alternatives[0][1]
    return alternatives[int(rng.choice(len(weights), p=weights / total))][1]


Rhythm = Mapping[int, tuple[str, ...]]
"""By the size of a group of beats: alternatives for each bar of a cycle."""
USUAL = 4
"""The size that others are cut from where they have nothing of their own."""


@lru_cache(maxsize=512)
def _cut(text: str, size: int) -> Choices:
    return tuple(
        (weight, tuple(spot for spot in spots if spot.place < size))
        for weight, spots in choices(text)
    )


def bar_of(rhythm: Rhythm, size: int, number: int) -> Choices:
    """The alternatives for a group of ``size`` beats in bar ``number`` (from 0) of a cycle.

    >>> bar_of({4: ("1 2& 4", "2 3&")}, 4, 3) == choices("2 3&")
    True
    """
    cycle = rhythm.get(size) or rhythm[USUAL]
    return _cut(cycle[number % len(cycle)], size)
