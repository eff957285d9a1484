"""The performance: when each note really sounds, how loud and how bright."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from phrasing.melody import Bar
from phrasing.tempo import Floats, Ints, TempoMap

DRUMS = 0
"""The ``program`` of a drum part, which plays General MIDI drum keys (channel 10)."""


@dataclass(frozen=True, eq=False)
class Curve:
    """A controller over time: at ``ticks`` (ascending) it takes ``values`` and holds them.

    ``expression``: dB added to the part, 0 or below. ``bend``: semitones.
    """

    kind: Literal["expression", "bend"]
    ticks: Ints
    values: Floats


@dataclass(frozen=True, eq=False)
class Part:
    """One player. Columns have one entry a sounded note, in order of onset.

    ``onset`` and ``release``: ticks of performed time (960 to the quarter), already swung
    and laid back; ``Performance.tempos.seconds`` turns them into seconds. ``pitch``: MIDI
    number or drum key. ``velocity``: 1 to 127. ``level``: dB against the plain note
    (velocity ``Feel.plain_velocity``), as it is to be heard. ``brightness``: -1 to 1.
    ``source``: index of the note in the melody (a grace note has its main note's), -1 where
    there is none. ``program``: General MIDI program from 1, or ``DRUMS``.
    ``gain``: dB by which the whole part is set in a mix.
    """

    name: str
    program: int
    onset: Ints
    release: Ints
    pitch: Ints
    velocity: Ints
    level: Floats
    brightness: Floats
    source: Ints
    curves: tuple[Curve, ...] = ()
    gain: float = 0.0

    @property
    def is_drums(self) -> bool:
        """Whether it plays the drum kit."""
        return self.program == DRUMS


@dataclass(frozen=True, eq=False)
class Performance:
    """All that sounds: the parts, and the clock they share.

    ``bars`` are the melody's, on the same ticks; ``end`` (ticks) is where the last bar ends.
    """

    parts: tuple[Part, ...]
    tempos: TempoMap
    bars: tuple[Bar, ...]
    title: str
    end: int
    swing: tuple[float, ...] = ()
