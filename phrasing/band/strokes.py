"""From what a player means to play to what sounds: swing, small differences, velocities.

A player writes strokes on ticks of score time, every "and" halfway through its beat; they
become a part in performed time. All players swing by the ride's ratio; triplets stay even.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from phrasing.band.form import Form
from phrasing.feel import Feel
from phrasing.performing.clock import wandering
from phrasing.performing.dynamics import velocities
from phrasing.performing.performance import Part, freed
from phrasing.performing.swing import SwingMap, swing_map, swinging
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Floats

TRIPLET = 0.64
"""Where in its beat a swung "and" lies that is heard as a triplet's last note (0.667 there)."""
MOST_DEVIATIONS = 2.5
"""Standard deviations beyond which no stroke strays."""


@dataclass(frozen=True)
class Stroke:
    """One note: ``onset`` and ``end`` in ticks of score time, ``level`` in dB against plain.

    ``gate``: the fraction of that time that sounds, once it is swung; ``longest``: ticks it
    sounds at most. ``after``: seconds by which it comes later than written (a rolled chord).
    ``steady``: played with the ride's steadiness.
    """

    onset: int
    end: int
    pitch: int
    level: float
    gate: float = 1.0
    longest: int | None = None
    after: float = 0.0
    steady: bool = False


@dataclass(frozen=True)
class Seat:
    """Where a player sits: name, program, kit, how the part is set in the mix, its looseness.

    ``gain``, ``pan`` and ``place`` as in ``Part``.
    ``timing``/``steady_timing`` (seconds) and ``spread`` (dB) are standard deviations;
    ``together``: what is struck at once differs alike (the notes of a chord).
    """

    name: str
    program: int
    gain: float
    timing: float
    spread: float
    steady_timing: float = 0.0
    kit: int = 1
    together: bool = False
    pan: float = 0.0
    place: float | None = None


@dataclass(frozen=True, eq=False)
class BandClock:
    """The form's score time in performed time."""

    form: Form
    beats: SwingMap
    ratio: float

    def place(self, ticks: Sequence[int]) -> Floats:
        """Performed ticks: the "and" of a beat by the ride's ratio, all else as written.

        Where the ride swings like a triplet or harder, the last note of a triplet is struck
        with its "and": apart, they would sound like a mistake.
        """
        at = np.asarray(ticks, dtype=np.int64)
        if not len(at):
            return np.zeros(0)
        starts = self.beats.starts
        beat = np.clip(np.searchsorted(starts, at, "right") - 1, 0, len(starts) - 2)
        start, length = starts[beat], starts[beat + 1] - starts[beat]
        halfway = 2 * (at - start) == length
        last = (3 * (at - start) == 2 * length) & (self.beats.off[beat] >= TRIPLET)
        half = np.where(last, start + length // 2, at)
        return np.where(halfway | last, self.beats.swung(half), at.astype(np.float64))


def clock_of(form: Form, feel: Feel) -> BandClock:
    """The clock of a form, swung by the ride's ratio at each tempo."""
    nothing = np.zeros(0, np.int64)
    bars = Melody(
        nothing, nothing, nothing, form.bars, tempos=form.tempos, manners=form.manners
    )
    ways = swinging(bars, feel.swing, ride=True)
    first = float(ways[0].ratio(form.tempos.at(form.count_in)))
    return BandClock(form, swing_map(bars, ways), first)


def part_of(
    strokes: Sequence[Stroke],
    seat: Seat,
    clock: BandClock,
    feel: Feel,
    rng: np.random.Generator,
) -> Part:
    """The strokes as a part, in order of onset, none before the start or past the end."""
    form = clock.form
    onset = clock.place([s.onset for s in strokes])
    release = onset + _lengths(strokes, onset, clock)
    onset = onset + _lateness(strokes, seat, form, rng)
    onsets = np.clip(np.rint(onset), 0, form.end - 1).astype(np.int64)
    level = np.array([s.level for s in strokes], dtype=np.float64)
    level = level + seat.spread * _deviations(strokes, seat, rng)
    pitch = np.array([s.pitch for s in strokes], dtype=np.int64)
    order = np.lexsort((pitch, onsets))
    onsets, pitch, level = onsets[order], pitch[order], level[order]
    released = np.rint(np.minimum(release[order], form.end)).astype(np.int64)
    released = np.maximum(released, onsets + 1)
    return Part(
        name=seat.name,
        program=seat.program,
        onset=onsets,
        release=freed(onsets, released, pitch),
        pitch=pitch,
        velocity=velocities(level, feel),
        level=level,
        brightness=np.zeros(len(order)),
        source=np.full(len(order), -1, dtype=np.int64),
        gain=seat.gain,
        kit=seat.kit,
        pan=seat.pan,
        place=seat.place,
    )


def _lengths(strokes: Sequence[Stroke], onset: Floats, clock: BandClock) -> Floats:
    """Performed ticks for which each stroke sounds."""
    gates = np.array([s.gate for s in strokes])
    longest = np.array([np.inf if s.longest is None else s.longest for s in strokes])
    written = clock.place([s.end for s in strokes]) - onset
    return np.asarray(np.minimum(gates * written, longest))


def _lateness(
    strokes: Sequence[Stroke], seat: Seat, form: Form, rng: np.random.Generator
) -> Floats:
    """Ticks by which each stroke is off its place."""
    steady = np.array([s.steady for s in strokes], dtype=bool)
    after = np.array([s.after for s in strokes], dtype=np.float64)
    looseness = np.where(steady, seat.steady_timing, seat.timing)
    seconds = after + looseness * _deviations(strokes, seat, rng)
    tempo = form.tempos.at(np.array([s.onset for s in strokes], dtype=np.int64))
    return np.asarray(seconds * tempo / 60.0 * TICKS, dtype=np.float64)


REMEMBERED = 0.8
"""How much of a deviation goes on from beat to beat."""


def _deviations(strokes: Sequence[Stroke], seat: Seat, rng: np.random.Generator) -> Floats:
    """One standard deviate a stroke, the same for all of a chord where they go together.

    Most of it wanders from beat to beat, and remembers; the rest is new at every stroke.
    """
    beat = np.array([s.onset for s in strokes], dtype=np.int64) // TICKS
    beat -= beat.min(initial=0)
    slow = wandering(int(beat.max(initial=-1)) + 1, rng)[beat]
    fresh = np.sqrt(1 - REMEMBERED**2) * rng.standard_normal(len(strokes))
    deviates = np.clip(REMEMBERED * slow + fresh, -MOST_DEVIATIONS, MOST_DEVIATIONS)
    if seat.together and strokes:
        _, first = np.unique([s.onset for s in strokes], return_inverse=True)
        return np.asarray(deviates[first])
    return deviates
