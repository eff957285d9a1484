"""What sounds when, in the form that MIDI files and synthesizers want it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from phrasing.performing.performance import Curve, Part
from phrasing.score.meters import Bools, Floats, Ints, TempoMap
from phrasing.sound.synthesizer import ATTENUATION

OFF, CONTROL, ON = range(3)
"""What happens first where several things happen at one instant."""
BEND_RANGE = 2
"""Semitones that a full pitch bend moves where nothing is said (General MIDI 1)."""
SPARE_CHANNELS = 3
"""Channels a part has besides those its notes fill at one time, for notes dying away."""


CHOKING = ((42, 44, 46), (71, 72), (73, 74), (78, 79), (80, 81))
"""Drum keys that silence each other, such as the three hi-hats (General MIDI 2's exclusive
classes, from memory); a synthesizer does so on one channel only."""


BENDING = 8
"""Steps of the synthesizer's in which one note is bent to another: 12 ms."""
HOLDING = 0.020
"""Seconds from one setting of a note that is held up to the next."""


def in_steps(column: Floats, ends: Floats | None = None) -> Floats:
    """What lies between each value and the one before it: shape (n, ``BENDING``).

    ``ends``: what the values have become when the next one comes, where they do not stay.

    >>> in_steps(np.array([0.0, 8.0]))[1].tolist()
    [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]
    """
    ends = column if ends is None else ends
    before = np.append(column[:1], ends[:-1])[:, None]
    share = np.arange(1, BENDING + 1) / BENDING
    return np.asarray(before + (column[:, None] - before) * share)


class Cue(NamedTuple):
    """A call of the synthesizer's at a sample, and its order within that sample."""

    at: int
    order: int
    call: str
    arguments: tuple[Any, ...]


@dataclass(frozen=True, eq=False)
class Touch:
    """How each note of a part is played on the synthesizer: columns, one entry a note.

    ``velocity``; ``key``: the key that is pressed; ``start`` and ``stop``: seconds from tick 0
    at which it is pressed and let go; ``generators``: number to column of offsets, in the
    generator's unit. A ``bent`` note is not pressed: the sound of the note before it is moved
    through the values of ``bending``, number to an array of shape (notes, ``BENDING``). Notes
    that are ``edged`` sound together with a second voice of the same key, whose generators are
    ``edge``, and which is moved through ``edge_bending``; it lasts as long as its sound does.
    ``held``: centibels taken off a note's attenuation, from its start every ``HOLDING``
    seconds, shape (notes, n): so much a sound that sinks is held up. ``level``: dB
    (K-weighted) at which each note comes out, both channels together.
    """

    velocity: Ints
    key: Ints
    start: Floats
    stop: Floats
    generators: dict[int, Floats]
    bent: Bools
    edged: Bools
    edge: dict[int, Floats] = field(default_factory=dict)
    bending: dict[int, Floats] = field(default_factory=dict)
    edge_bending: dict[int, Floats] = field(default_factory=dict)
    held: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    level: Floats = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True)
class SampleClock:
    """Ticks and seconds in samples, on the synthesizer's steps of ``step`` samples.

    Tick 0 comes ``lead_in`` seconds after the start; ``rate`` in Hz.
    """

    tempos: TempoMap
    rate: int
    step: int
    lead_in: float

    def samples(self, seconds: Floats) -> Ints:
        """The samples that come these seconds after tick 0; none is before the start."""
        steps = np.rint((seconds + self.lead_in) * self.rate / self.step).astype(np.int64)
        return np.maximum(steps, 0) * self.step

    def __call__(self, ticks: Ints) -> Ints:
        """The samples at which these ticks come."""
        return self.samples(self.tempos.seconds(ticks))


def note_ends(part: Part) -> Ints:
    """Ticks at which each note of the part is switched off.

    A note still sounding when its own pitch comes again ends there: one key cannot be pressed
    twice. Of two notes that start together on one pitch the earlier in the column ends as it
    begins, and is not to be played; every other note lasts a tick at least.
    """
    ends = np.maximum(part.release, part.onset + 1)
    order = np.lexsort((np.arange(len(ends)), part.onset, part.pitch))
    same = part.pitch[order][1:] == part.pitch[order][:-1]
    ends[order[:-1]] = np.where(
        same, np.minimum(ends[order[:-1]], part.onset[order[1:]]), ends[order[:-1]]
    )
    return ends


def bend_value(semitones: Floats, span: float = BEND_RANGE) -> Ints:
    """Pitch bends, -8192 to 8191, where a full bend moves ``span`` semitones."""
    return np.clip(np.rint(semitones / span * 8192), -8192, 8191).astype(np.int64)


def bend_range(part: Part) -> int:
    """Semitones that a full pitch bend has to move in this part, two at least."""
    bends = [np.abs(c.values).max(initial=0) for c in part.curves if c.kind == "bend"]
    return max(BEND_RANGE, math.ceil(max(bends, default=0)))


def expression_value(level: Floats) -> Ints:
    """Values of controller 7 or 11 that lie ``level`` dB (0 or below) under the full one.

    General MIDI 2: 40·log10(value/127) dB. 1 at least, so that it never mutes.
    """
    return np.clip(np.rint(127 * 10 ** (level / 40)), 1, 127).astype(np.int64)


def pan_value(pan: float) -> int:
    """The value of controller 10 for a seat from -1 (left) to 1 (right); 64 is the middle."""
    return max(0, min(127, round(64 + 63 * pan)))


def assign_channels(onset: Ints, end: Ints) -> Ints:
    """A channel for each note, from 0: the one that has been free longest.

    A note has its channel to itself, and the channel's last note has died away, so that what
    is set for one note does not touch the sound of another.
    """
    free_since = np.full(_most_at_once(onset, end) + SPARE_CHANNELS, -1, dtype=np.int64)
    channels = np.zeros(len(onset), dtype=np.int64)
    for note, (start, stop) in enumerate(zip(onset.tolist(), end.tolist(), strict=True)):
        channels[note] = channel = int(np.argmin(free_since))
        free_since[channel] = max(start, stop)
    return channels


def drum_channels(keys: Ints) -> Ints:
    """A channel for each stroke, from 0: each drum has its own, those that choke share one.

    So what is set for one drum does not touch another that still rings.
    """
    chokes = {key: group[0] for group in CHOKING for key in group}
    drums = [chokes.get(key, key) for key in keys.tolist()]
    return np.unique(np.array(drums, dtype=np.int64), return_inverse=True)[1]


def _most_at_once(onset: Ints, end: Ints) -> int:
    sounding = np.arange(1, len(onset) + 1) - np.searchsorted(np.sort(end), onset, "right")
    return int(sounding.max(initial=1))


@dataclass(frozen=True, eq=False)
class _Track:
    """A curve on the synthesizer's clock: the call that sets it, and its values by sample."""

    call: str
    neutral: int
    when: Ints
    values: Ints

    def over(self, start: int, due: int, stop: int) -> Iterator[tuple[int, int]]:
        """From ``start`` its value when the note is ``due``, then its changes until ``stop``.

        What it did before belongs to the note before.
        """
        first, last = np.searchsorted(self.when, (due, stop), "right").tolist()
        yield start, int(self.values[first - 1]) if first else self.neutral
        yield from zip(
            self.when[first:last].tolist(), self.values[first:last].tolist(), strict=True
        )


def note_cues(
    part: Part, touch: Touch, channels: Ints, edges: Ints, clock: SampleClock
) -> Iterator[Cue]:
    """The cues of a part's notes and curves, note by note; a note lasts a step at least.

    ``channels``: for each note its channel; ``edges``: that of its edge.
    """
    tracks = [_track(curve, clock, bend_range(part)) for curve in part.curves]
    board = _Board(touch, clock, clock(part.onset), tracks)
    goes_on = np.append(touch.bent[1:], False)
    for note in np.flatnonzero(note_ends(part) > part.onset).tolist():
        voices = [(int(channels[note]), touch.generators, touch.bending)]
        if touch.edged[note]:
            voices.append((int(edges[note]), touch.edge, touch.edge_bending))
        for channel, struck, bent in voices:
            if touch.bent[note]:
                yield from board.bend(note, channel, bent)
            else:
                yield from board.strike(note, channel, struck)
            yield from board.hold(note, channel, struck)
            yield from board.curves(note, channel)
            if not goes_on[note]:
                yield board.let_go(note, channel)


class _Board:
    """What is set on the synthesizer's channels, and the cues that change it."""

    def __init__(
        self, touch: Touch, clock: SampleClock, due: Ints, tracks: list[_Track]
    ) -> None:
        self._touch, self._tracks, self._step = touch, tracks, clock.step
        self._due = due
        self._starts = clock.samples(touch.start)
        self._stops = np.maximum(clock.samples(touch.stop), self._starts + clock.step)
        self._keys, self._velocities = touch.key.tolist(), touch.velocity.tolist()
        self._set: dict[tuple[int, int | str], float] = {}
        self._holding = HOLDING * clock.rate / clock.step

    def strike(self, note: int, channel: int, generators: dict[int, Floats]) -> Iterator[Cue]:
        """Set the generators and press the key."""
        at = int(self._starts[note])
        for generator, column in generators.items():
            yield from self._move(at, channel, generator, float(column[note]))
        yield Cue(at, ON, "note_on", (channel, self._keys[note], self._velocities[note]))

    def bend(self, note: int, channel: int, bending: dict[int, Floats]) -> Iterator[Cue]:
        """Move the sounding note's generators, in steps around the instant."""
        first = int(self._starts[note]) - self._step * (BENDING // 2)
        for generator, values in bending.items():
            for step, value in enumerate(values[note].tolist(), 1):
                yield from self._move(first + step * self._step, channel, generator, value)

    def hold(self, note: int, channel: int, generators: dict[int, Floats]) -> Iterator[Cue]:
        """Hold up a sound that sinks, until the next note comes."""
        held = self._touch.held[note : note + 1].ravel()
        if not held.any():
            return
        base, start = float(generators[ATTENUATION][note]), int(self._starts[note])
        last = int(self._stops[note]) - BENDING * self._step
        for index, taken in enumerate(held[1:].tolist(), 1):
            at = start + round(index * self._holding) * self._step
            if at < last:
                yield from self._move(at, channel, ATTENUATION, base - taken)

    def curves(self, note: int, channel: int) -> Iterator[Cue]:
        """The curves while the note sounds."""
        start, due, stop = (int(c[note]) for c in (self._starts, self._due, self._stops))
        for track in self._tracks:
            was = self._set.get((channel, track.call), track.neutral)
            for at, value in track.over(start, max(start, due), stop):
                if value != was:
                    yield Cue(at, CONTROL, track.call, (channel, value))
                    was = value
            self._set[channel, track.call] = was

    def let_go(self, note: int, channel: int) -> Cue:
        """Let the key go."""
        return Cue(int(self._stops[note]), OFF, "note_off", (channel, self._keys[note]))

    def _move(self, at: int, channel: int, generator: int, value: float) -> Iterator[Cue]:
        if self._set.get((channel, generator), 0.0) != value:
            yield Cue(at, CONTROL, "generator", (channel, generator, value))
            self._set[channel, generator] = value


def _track(curve: Curve, clock: SampleClock, semitones: int) -> _Track:
    if curve.kind == "bend":
        return _Track("bend", 0, clock(curve.ticks), bend_value(curve.values, semitones))
    return _Track("expression", 127, clock(curve.ticks), expression_value(curve.values))
