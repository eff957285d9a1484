"""What sounds when, in the form that MIDI files and synthesizers want it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from phrasing.performing.performance import Curve, Part
from phrasing.score.melody import Floats, Ints, TempoMap

OFF, CONTROL, ON = range(3)
"""What happens first where several things happen at one instant."""
BEND_RANGE = 2
"""Semitones that a full pitch bend moves where nothing is said (General MIDI 1)."""
SPARE_CHANNELS = 3
"""Channels a part has besides those its notes fill at one time, for notes dying away."""


CHOKING = ((42, 44, 46), (71, 72), (73, 74), (78, 79), (80, 81))
"""Drum keys that silence each other, such as the three hi-hats (General MIDI 2's exclusive
classes, from memory); a synthesizer does so on one channel only."""


class Cue(NamedTuple):
    """A call of the synthesizer's at a sample, and its order within that sample."""

    at: int
    order: int
    call: str
    arguments: tuple[Any, ...]


@dataclass(frozen=True, eq=False)
class Touch:
    """How each note of a part is played on the synthesizer: columns, one entry a note.

    ``velocity``; ``generators``: number to column of offsets, in the generator's unit;
    ``overlap``: seconds that it may run into the next note, infinite where it may at will;
    ``key``: the key that is pressed.
    """

    velocity: Ints
    generators: dict[int, Floats]
    overlap: Floats
    key: Ints


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
        """Spans of seconds in samples."""
        return np.rint(seconds * self.rate / self.step).astype(np.int64) * self.step

    def __call__(self, ticks: Ints) -> Ints:
        """The samples at which these ticks come."""
        return self.samples(self.tempos.seconds(ticks) + self.lead_in)


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

    def over(self, start: int, stop: int) -> Iterator[tuple[int, int]]:
        """Its value at ``start`` and its changes until ``stop``."""
        first, last = np.searchsorted(self.when, (start, stop), "right").tolist()
        yield start, int(self.values[first - 1]) if first else self.neutral
        yield from zip(
            self.when[first:last].tolist(), self.values[first:last].tolist(), strict=True
        )


def note_cues(part: Part, touch: Touch, channels: Ints, clock: SampleClock) -> Iterator[Cue]:
    """The cues of a part's notes and curves, note by note; a note lasts a step at least."""
    ends = note_ends(part)
    starts = clock(part.onset)
    stops = np.maximum(_stops(clock(ends), starts, touch, clock), starts + clock.step)
    tracks = [_track(curve, clock) for curve in part.curves]
    state: dict[tuple[int, int | str], float] = {}
    for note in np.flatnonzero(ends > part.onset).tolist():
        channel, at, stop = int(channels[note]), int(starts[note]), int(stops[note])
        for generator, column in touch.generators.items():
            value = float(column[note])
            if state.get((channel, generator), 0.0) != value:
                yield Cue(at, CONTROL, "generator", (channel, generator, value))
                state[channel, generator] = value
        for track in tracks:
            for when, setting in track.over(at, stop):
                if state.get((channel, track.call), track.neutral) != setting:
                    yield Cue(when, CONTROL, track.call, (channel, setting))
                    state[channel, track.call] = setting
        key = int(touch.key[note])
        yield Cue(at, ON, "note_on", (channel, key, int(touch.velocity[note])))
        yield Cue(stop, OFF, "note_off", (channel, key))


def _stops(stops: Ints, starts: Ints, touch: Touch, clock: SampleClock) -> Ints:
    """Where notes stop that are not to run far into the next one."""
    stops = stops.copy()
    short = np.flatnonzero(np.isfinite(touch.overlap))
    latest = starts[short + 1] + clock.samples(touch.overlap[short])
    stops[short] = np.minimum(stops[short], latest)
    return stops


def _track(curve: Curve, clock: SampleClock) -> _Track:
    if curve.kind == "bend":
        return _Track("bend", 0, clock(curve.ticks), bend_value(curve.values))
    return _Track("expression", 127, clock(curve.ticks), expression_value(curve.values))
