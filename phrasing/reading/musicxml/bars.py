"""From places in printed bars to ticks of the bars as played."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Generic, TypeVar

from phrasing.reading.musicxml.measures import ZERO, PartBar, number
from phrasing.score.meters import TICKS, Bar, Meter
from phrasing.score.pitches import STEPS, pitch_class, place_of

if TYPE_CHECKING:
    from lxml import etree


LONGEST_BAR = 400
"""Quarter notes in a bar at most; more is damage, not music."""
MOST_BEATS, SMALLEST_UNIT = 128, 128
NEAR = Fraction(1, 24)
"""Quarter notes by which a bar or a tied note may miss its end: rounded tuplets, no music."""


@dataclass(frozen=True)
class BarShape:
    """A printed bar's frame.

    ``number`` as printed (0 for a pickup), ``offset``: how far into its meter it begins,
    ``length``: what it really lasts. ``damaged``: not what its meter asks for, and no reason.
    """

    number: int
    meter: Meter
    length: Fraction
    offset: Fraction = ZERO
    damaged: bool = False

    @property
    def full_length(self) -> Fraction:
        """What its meter asks for, in quarter notes."""
        return Fraction(self.meter.beats * 4, self.meter.unit)

    @property
    def is_full(self) -> bool:
        """Whether it lasts to the end of its meter's bar."""
        return self.offset + self.length >= self.full_length


def bar_shapes(parts: Sequence[Sequence[PartBar]], chosen: int) -> list[BarShape]:
    """The frame of every bar of the chosen part.

    Where the part's own bar is not filled (a writer left out its rests), the other parts say
    how long it is; an empty bar lasts its full meter. A short first bar is a pickup.
    """
    shapes: list[BarShape] = []
    meters = _meters(parts[chosen])
    for index, (bar, (meter, free)) in enumerate(zip(parts[chosen], meters, strict=True)):
        full = Fraction(meter.beats * 4, meter.unit)
        length = bar.reached if abs(bar.reached - full) > NEAR else full
        if length < full:
            others = [part[index].reached for part in parts if index < len(part)]
            length = min(full, max(others)) or full
        shape = BarShape(_printed(bar, shapes, index), meter, length)
        shapes.append(shape if free else _framed(shape, bar, shapes))
    return _with_pickup(shapes, parts[chosen])


def _printed(bar: PartBar, before: Sequence[BarShape], index: int) -> int:
    """The printed number; a bar without one has that of the bar it belongs to."""
    text = bar.element.get("number", "")
    digits = re.match(r"\s*(\d{1,6})", text)
    if digits and (not _is_implicit(bar) or int(digits[1]) == 0 or not before):
        return int(digits[1])
    if _is_implicit(bar):
        return before[-1].number if before else 0
    return before[-1].number + 1 if before else index + 1


def _is_implicit(bar: PartBar) -> bool:
    return bar.element.get("implicit") == "yes"


def _framed(shape: BarShape, bar: PartBar, before: Sequence[BarShape]) -> BarShape:
    """The bar with its offset: a short one begins late, or goes on where the last one ended."""
    if shape.length == shape.full_length or not before:
        return shape
    if shape.length > shape.full_length:
        return replace(shape, damaged=True)
    last = before[-1]
    cut_so_far = last.offset + last.length
    if not last.is_full and cut_so_far + shape.length <= shape.full_length:
        return replace(shape, offset=cut_so_far)
    starts_late = _is_implicit(bar) or _repeats(bar, "forward")
    if starts_late:
        return replace(shape, offset=shape.full_length - shape.length)
    return shape


def _repeats(bar: PartBar, direction: str) -> bool:
    return any(
        repeat.get("direction") == direction
        for placed in bar.all("barline")
        for repeat in placed.element.iterchildren("repeat")
    )


def _with_pickup(shapes: list[BarShape], bars: Sequence[PartBar]) -> list[BarShape]:
    """The bars with the first one numbered 0 if it is a pickup, and the unexplained named."""
    if len(shapes) < 2:
        return [replace(s, number=max(s.number, 1)) for s in shapes]
    first, last = shapes[0], len(shapes) - 1
    if first.length < first.full_length or _is_implicit(bars[0]):
        offset = max(ZERO, first.full_length - first.length)
        shapes[0] = replace(first, number=0, offset=offset, damaged=False)
    for index, shape in enumerate(shapes):
        short = shape.length < shape.full_length and shape.offset == 0
        after = shapes[index + 1] if index < last else None
        explained = (
            after is None
            or _is_implicit(bars[index])
            or _repeats(bars[index], "backward")
            or after.offset == shape.length
        )
        if index and short and not explained:
            shapes[index] = replace(shape, damaged=True)
    return shapes


def _meters(bars: Sequence[PartBar]) -> list[tuple[Meter, bool]]:
    """Each bar's meter, and whether it is free of it; a change inside a bar comes after it."""
    meters = []
    now = (Meter(), False)
    for bar in bars:
        later = None
        for placed in bar.all("attributes"):
            change = _change(placed.element, now[0])
            if change and placed.at == 0:
                now = change
            later = change or later
        meters.append(now)
        now = later or now
    return meters


def _change(attributes: etree._Element, meter: Meter) -> tuple[Meter, bool] | None:
    for time in attributes.iterchildren("time"):
        if time.get("number", "1") == "1":
            if time.find("senza-misura") is not None:
                return meter, True
            return signature(time) or meter, False
    return None


def signature(time: etree._Element) -> Meter | None:
    """The meter that a ``<time>`` gives, None for one that is none; parts of a composite one
    are summed up.

    >>> from lxml import etree
    >>> time = "<time><beats>3+2</beats><beat-type>{}</beat-type></time>"
    >>> signature(etree.fromstring(time.format(8))), signature(etree.fromstring(time.format(0)))
    (Meter(beats=5, unit=8), None)
    """
    beats = [element.text or "" for element in time.iterchildren("beats")]
    units = [number(element.text) for element in time.iterchildren("beat-type")]
    pairs = list(zip(beats, units, strict=False))
    if not pairs or any(unit not in (1, 2, 4, 8, 16, 32, 64, SMALLEST_UNIT) for unit in units):
        return None
    smallest = max(unit for _, unit in pairs)
    total = sum(_sum(beat) * smallest / unit for beat, unit in pairs)
    if total != int(total) or not 0 < total <= MOST_BEATS:
        return None
    return Meter(int(total), int(smallest))


def _sum(beats: str) -> Fraction:
    return sum((number(term) for term in beats.split("+")), ZERO)


# From written to sounding pitch: notes, key signatures and names in transposing parts.

MOST_FIFTHS = 7
"""Flats or sharps in a key signature at most."""
# Diatonic steps of the usual interval of so many semitones, where a score leaves them out.
_USUAL_STEPS = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)


@dataclass(frozen=True)
class Transposition:
    """From written to sounding: ``semitones``, octaves included, and ``fifths`` for names."""

    semitones: int = 0
    fifths: int = 0

    def key(self, written: int) -> int:
        """The concert key signature of a written one, in its simplest spelling."""
        moved = written + self.fifths
        return moved if abs(moved) <= MOST_FIFTHS else (moved + 5) % 12 - 5

    def place(self, written: int) -> int:
        """The concert name of a written one, both places on the line of fifths.

        A name that would need a double sharp or flat only because of this is respelled.
        """
        moved = written + self.fifths
        needs_two = not place_of("F", -1) <= moved <= place_of("B", 1)
        return (moved + 5) % 12 - 5 if self.fifths and needs_two else moved


class Transpositions:
    """The transpositions in force while a part is read from its start, staff by staff.

    In a score printed at concert pitch only octaves count (MusicXML 4.0,
    ``<concert-score>``).
    """

    def __init__(self, concert_score: bool) -> None:
        self.concert_score = concert_score
        self.by_staff: dict[str, Transposition] = {}

    def take(self, attributes: etree._Element) -> None:
        """What changes with these ``<attributes>``."""
        for element in attributes.iterchildren("transpose"):
            staff = element.get("number", "")
            if not staff:
                self.by_staff.clear()
            self.by_staff[staff] = _transposition(element, self.concert_score)

    def of(self, staff: str) -> Transposition:
        """What holds on a staff."""
        return self.by_staff.get(staff) or self.by_staff.get("") or Transposition()


def _transposition(transpose: etree._Element, concert_score: bool) -> Transposition:
    octaves = int(number(transpose.findtext("octave-change")))
    if concert_score:
        return Transposition(12 * octaves)
    chromatic = round(number(transpose.findtext("chromatic")))
    given = transpose.findtext("diatonic")
    diatonic = _usual_steps(chromatic) if given is None else round(number(given))
    return Transposition(chromatic + 12 * octaves, 7 * chromatic - 12 * diatonic)


def _usual_steps(semitones: int) -> int:
    octaves, rest = divmod(abs(semitones), 12)
    steps = 7 * octaves + _USUAL_STEPS[rest]
    return steps if semitones >= 0 else -steps


def sounding(pitch: etree._Element, by: Transposition) -> int | None:
    """The MIDI number that a ``<pitch>`` sounds at; None where it is none.

    A microtone sounds at the nearest semitone.
    """
    step = (pitch.findtext("step") or "").strip().upper()
    octave = pitch.findtext("octave")
    if len(step) != 1 or step not in STEPS or octave is None:
        return None
    natural = pitch_class(place_of(step)) + 12 * (round(number(octave)) + 1)
    midi = round(natural + number(pitch.findtext("alter"))) + by.semitones
    return midi if 0 <= midi <= 127 else None


Value = TypeVar("Value", bound=Hashable)


@dataclass(frozen=True)
class AtPlace(Generic[Value]):
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
        bar = Bar(onset, length, shape.number, shape.meter, offset, passings[index], index)
        played.append(PlayedBar(index, bar))
        onset += length
    return played


def every_time(
    events: Sequence[AtPlace[Value]], played: Sequence[PlayedBar]
) -> list[tuple[int, Value]]:
    """Each event at each time its bar comes by; of two at one tick the one that comes last."""
    by_bar: dict[int, list[AtPlace[Value]]] = {}
    for event in events:
        by_bar.setdefault(event.bar, []).append(event)
    found: dict[int, Value] = {}
    for place in played:
        for event in by_bar.get(place.index, ()):
            found[place.bar.onset + to_ticks(event.at)] = event.value
    end = played[-1].bar.onset + played[-1].bar.length if played else 0
    return sorted((tick, value) for tick, value in found.items() if tick < end)


def in_force(
    events: Sequence[AtPlace[Value]], played: Sequence[PlayedBar]
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
