"""From places in printed bars to ticks of the bars as played."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Generic, TypeVar

from phrasing.melody import Bar
from phrasing.reading.scorebars import BarShape
from phrasing.tempo import TICKS

Value = TypeVar("Value", bound=Hashable)


@dataclass(frozen=True)
class Event(Generic[Value]):
    """Something at a place of a printed bar: its index, quarter notes from its start."""

    bar: int
    at: Fraction
    value: Value


@dataclass(frozen=True)
class PlayedBar:
    """A bar as played, and the index of the printed one."""

    index: int
    bar: Bar


def to_ticks(quarters: Fraction) -> int:
    """Quarter notes in the nearest whole tick."""
    return round(quarters * TICKS)


def played_bars(shapes: Sequence[BarShape], order: Sequence[int]) -> list[PlayedBar]:
    """The printed bars in the order of playing, each with its place in time."""
    played: list[PlayedBar] = []
    passings: Counter[int] = Counter()
    onset = 0
    for index in order:
        shape = shapes[index]
        passings[index] += 1
        length = max(1, to_ticks(shape.length))
        offset = to_ticks(shape.offset)
        bar = Bar(onset, length, shape.number, shape.meter, offset, passings[index])
        played.append(PlayedBar(index, bar))
        onset += length
    return played


def every_time(
    events: Sequence[Event[Value]], played: Sequence[PlayedBar]
) -> list[tuple[int, Value]]:
    """Each event at each time its bar comes by; of two at one tick the one that comes last."""
    by_bar: dict[int, list[Event[Value]]] = {}
    for event in events:
        by_bar.setdefault(event.bar, []).append(event)
    found: dict[int, Value] = {}
    for place in played:
        for event in by_bar.get(place.index, ()):
            found[place.bar.onset + to_ticks(event.at)] = event.value
    end = played[-1].bar.onset + played[-1].bar.length if played else 0
    return sorted((tick, value) for tick, value in found.items() if tick < end)


def in_force(
    events: Sequence[Event[Value]], played: Sequence[PlayedBar]
) -> list[tuple[int, Value]]:
    """Where the value changes that holds from each event to the next one in print.

    A bar that is played again has again what held in it, whatever came in between.
    """
    ordered = sorted(events, key=lambda event: (event.bar, event.at))
    places = [(event.bar, event.at) for event in ordered]
    changes: list[tuple[int, Value]] = []
    for place in played:
        first = bisect_right(places, (place.index, Fraction(0)))
        last = bisect_right(places, (place.index, Fraction(10**9)))
        held = [(place.bar.onset, ordered[first - 1].value)] if first else []
        inside = [
            (place.bar.onset + to_ticks(event.at), event.value) for event in ordered[first:last]
        ]
        for tick, value in held + inside:
            if not changes or changes[-1][1] != value:
                changes.append((tick, value))
    return changes
