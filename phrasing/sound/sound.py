"""Performance → sound, block by block: FluidSynth played note by note, in a small room.

Onsets fall on the synthesizer's blocks of 64 samples (within 0.73 ms at 44.1 kHz), the same
block for the same instant in every performance. The first beat sounds ``LEAD_IN`` seconds
after the start. Memory does not grow with the length of the piece's sound.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from operator import itemgetter

import numpy as np

from phrasing.performing.performance import Part, Performance
from phrasing.score.meters import Ints
from phrasing.sound.breath import Breath
from phrasing.sound.events import (
    Cue,
    SampleClock,
    Touch,
    assign_channels,
    bend_range,
    drum_channels,
    note_cues,
    note_ends,
    pan_value,
)
from phrasing.sound.soundfonts import Soundfont
from phrasing.sound.streams import BLOCK, Frames, Room, Samples, Spectra
from phrasing.sound.synthesizer import STEP, Synthesizer
from phrasing.sound.touch import touch_of

LEAD_IN = 0.1
"""Seconds of silence before the first beat, so that players and decoders miss nothing."""
LONGEST_TAIL = 6.0
"""Seconds after the last bar at which a sound that will not die away is given up."""


def render(
    performance: Performance, soundfont: Soundfont, *, rate: int = 44100, room: bool = True
) -> Iterator[Samples]:
    """Blocks of stereo samples, shape (2, ``BLOCK``), until the last note has died away.

    The level is the synthesizer's own, far below full scale. The blocks are the caller's to
    keep. Raises ``NoSoundError`` without a synthesizer library.
    """
    heard = analysed(performance, soundfont, rate=rate, room=room)
    return (samples for samples, _ in heard)


def analysed(
    performance: Performance, soundfont: Soundfont, *, rate: int, room: bool
) -> Iterator[tuple[Samples, Spectra]]:
    """The blocks of ``render`` with their spectra, which a meter of loudness takes up."""
    frames, space = Frames(), Room(rate)
    for block in _dry(performance, soundfont, rate, room):
        spectra = frames(block)
        yield space.around(block, spectra) if room else (block, spectra)


def _dry(
    performance: Performance, soundfont: Soundfont, rate: int, longer: bool
) -> Iterator[Samples]:
    """The synthesizer's own sound, and a ``longer`` silence after it for a room to ring in."""
    cast = cast_of(performance, soundfont)
    with Synthesizer(soundfont, rate, cast.channels) as synthesizer:
        for channel, part in cast.seats:
            synthesizer.program(
                channel, part.kit if part.is_drums else part.program, drums=part.is_drums
            )
            synthesizer.pan(channel, pan_value(part.pan))
            synthesizer.bend_range(channel, bend_range(part))
        tail = int(LONGEST_TAIL * rate)
        played, airs = play(synthesizer, cast.cues(rate), cast.end(rate), tail), cast.airs(rate)
        for index, block in enumerate(played):
            for air in airs:
                air.add(block, index * BLOCK)
            yield block
    if longer:
        yield np.zeros((2, BLOCK), np.float32)


@dataclass(frozen=True, eq=False)
class Cast:
    """A performance on the synthesizer's channels.

    ``touches`` has one entry a part, ``on`` and ``edges`` one array a part: the channel of each
    note, and that of its edge. ``channels`` is how many there are in all, a multiple of 16.
    """

    performance: Performance
    touches: tuple[Touch, ...]
    on: tuple[Ints, ...]
    edges: tuple[Ints, ...]
    channels: int

    @property
    def seats(self) -> Iterator[tuple[int, Part]]:
        """Each channel in use, and the part that plays on it."""
        for part, *on in zip(self.performance.parts, self.on, self.edges, strict=True):
            yield from ((channel, part) for channel in np.unique(on).tolist())

    def cues(self, rate: int) -> list[Cue]:
        """All that is to be done, in order of time."""
        clock = clock_of(self.performance, rate)
        parts = zip(self.performance.parts, self.touches, self.on, self.edges, strict=True)
        cues = [cue for each in parts for cue in note_cues(*each, clock)]
        cues.sort(key=itemgetter(1))
        cues.sort(key=itemgetter(0))  # twice by one number is faster than once by two
        return cues

    def airs(self, rate: int) -> list[Breath]:
        """The air of those parts that are heard to breathe."""
        clock = clock_of(self.performance, rate)
        parts = zip(self.performance.parts, self.touches, strict=True)
        return [Breath(*each, clock) for each in parts if each[0].breath is not None]

    def end(self, rate: int) -> int:
        """The sample at which the last bar ends."""
        return end_of(self.performance, rate)


def cast_of(performance: Performance, soundfont: Soundfont) -> Cast:
    """Find how the notes are to be touched, and put each part on channels of its own."""
    parts = performance.parts
    touches = tuple(touch_of(part, performance.tempos, soundfont) for part in parts)
    first, on, edges = 0, [], []
    for part, touch in zip(parts, touches, strict=True):
        own, second = _seats(part, touch)
        on.append(own + first)
        edges.append(second + first)
        first += 1 + max(int(own.max(initial=0)), int(second.max(initial=0)))
    return Cast(performance, touches, tuple(on), tuple(edges), -(-first // 16) * 16)


def _seats(part: Part, touch: Touch) -> tuple[Ints, Ints]:
    """A channel for each note and its edge, from 0; what is bent stays on its channel."""
    if part.is_drums:
        own = drum_channels(part.pitch)
        return own, own
    ends = note_ends(part)
    struck = np.flatnonzero(~touch.bent)
    chain = np.cumsum(~touch.bent) - 1
    lasting = np.maximum.reduceat(ends, struck) if len(struck) else ends
    own = assign_channels(part.onset[struck], lasting)[chain]
    edged = touch.edged[struck]
    edges = np.zeros(len(struck), np.int64)
    edges[edged] = assign_channels(part.onset[struck][edged], lasting[edged])
    edges[edged] += int(own.max(initial=0)) + 1
    return own, edges[chain]


def play(
    synthesizer: Synthesizer, cues: list[Cue], end: int, longest_tail: int
) -> Iterator[Samples]:
    """Blocks of ``BLOCK`` samples until ``end`` and until nothing sounds any more."""
    waiting, at = iter(cues), 0
    cue = next(waiting, None)
    while cue is not None or at < end or (synthesizer.voices and at < end + longest_tail):
        block, done = np.empty((2, BLOCK), np.float32), 0
        while cue is not None and cue.at < at + BLOCK:
            if cue.at > at + done:
                synthesizer.pull(block, done, cue.at - at)
                done = cue.at - at
            getattr(synthesizer, cue.call)(*cue.arguments)
            cue = next(waiting, None)
        synthesizer.pull(block, done, BLOCK)
        at += BLOCK
        yield block


def end_of(performance: Performance, rate: int) -> int:
    """The sample at which the performance's last bar ends."""
    return int(clock_of(performance, rate)(np.array([performance.end]))[0])


def clock_of(performance: Performance, rate: int) -> SampleClock:
    """What turns the performance's ticks into samples."""
    return SampleClock(performance.tempos, rate, STEP, LEAD_IN)


def starts_at(rate: int) -> float:
    """Seconds from the start of the sound to tick 0."""
    return round(LEAD_IN * rate / STEP) * STEP / rate
