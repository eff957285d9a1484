"""From marks to sound: level, gate and brightness of each note, and what a held note does.

Levels are in dB against the plain note and become velocities by the General MIDI 2 law
(also DLS 1): 40 log10(velocity / 127) dB. A mark of the first six rules stands at its own
level; the marks of contour (tenuto, stress, ghost) ride on the decrescendo of a long fall;
unmarked notes carry the line: its off-beats, its arch, its pickup, its fall. What the teacher
wants of a single note wins over all of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from phrasing.feel import Chance, Feel, MarkSound
from phrasing.marking.marking import Marking, Phrase
from phrasing.score.marks import CODE, DETACHED, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bools, Floats, Ints

CONTOUR = ("tenuto", "stress", "ghost")
LOUDEST = 127
AWAY = ("falloff", "doit")
"""Inflections that lead away from a note, and need its whole length."""
INTO_GHOST = 0.004
"""Seconds by which a note overlaps a ghost that it is slurred to: a slur still, but a strong
note that rang on would cover it."""


@dataclass(frozen=True, eq=False)
class Shape:
    """Columns with one entry a note.

    ``level``: dB against the plain note. ``gate``: the fraction of the swung written length
    that sounds, above 1 where the note overlaps the next. ``brightness``: -1 to 1.
    """

    level: Floats
    gate: Floats
    brightness: Floats

    def part(self, kept: slice) -> Shape:
        """The shape of some of the notes."""
        return Shape(self.level[kept], self.gate[kept], self.brightness[kept])

    def over(self, other: Shape, where: Bools) -> Shape:
        """This shape, and ``other`` for the notes ``where``."""
        return Shape(
            np.where(where, other.level, self.level),
            np.where(where, other.gate, self.gate),
            np.where(where, other.brightness, self.brightness),
        )


def velocities(level: ArrayLike, feel: Feel) -> Ints:
    """MIDI velocities (1 to 127) of levels (dB against the plain note), by the GM2 law.

    >>> velocities([0.0, 4.5, -9.0], Feel()).tolist()
    [80, 104, 48]
    """
    exact = feel.plain_velocity * 10.0 ** (np.asarray(level, dtype=np.float64) / 40.0)
    return np.clip(np.rint(exact), 1, LOUDEST).astype(np.int64)


def plain_shape(melody: Melody, feel: Feel) -> Shape:
    """The flat performance: every note alike.

    >>> plain_shape(melody("C5:2 D5:2"), Feel()).gate.tolist()
    [0.9, 0.9]
    """
    zeros = np.zeros(len(melody))
    return Shape(zeros, np.full(len(melody), feel.plain_gate), zeros)


def shaped(melody: Melody, marking: Marking, feel: Feel, written: Floats) -> Shape:
    """The performance that the marks ask for.

    ``written``: seconds from each note's swung onset to its swung written end.
    """
    level, darker = _line_level(melody, marking, feel)
    brightness = darker.copy()
    ridden = level.copy()
    for name, sound in feel.sounds.items():
        has = marking.mark == CODE[name]
        riding = (
            _in_falls(marking, len(melody)) if name in CONTOUR else np.zeros(len(has), bool)
        )
        level[has] = sound.level + np.where(riding, np.minimum(ridden, 0.0), 0.0)[has]
        brightness[has] = sound.brightness + np.where(riding, darker, 0.0)[has]
    level += _growth(marking, feel) + feel.line.higher * _height(melody)
    gate = _gates(melody, marking, feel, written)
    level, gate = _by_chance(level, gate, feel.chance)
    level = np.where(np.isnan(marking.own_level), level, marking.own_level)
    gate = np.where(np.isnan(marking.own_gate), gate, marking.own_gate)
    strength = feel.strength
    return Shape(
        _within_headroom(strength * level, feel),
        feel.plain_gate + strength * (gate - feel.plain_gate),
        np.clip(strength * brightness, -1.0, 1.0),
    )


def _within_headroom(level: Floats, feel: Feel) -> Floats:
    """Levels above plain drawn in together, if the loudest would saturate: order is kept."""
    headroom = 40.0 * np.log10(LOUDEST / feel.plain_velocity)
    loudest = float(level.max(initial=0.0))
    if loudest <= headroom:
        return level
    return np.where(level > 0.0, level * headroom / loudest, level)


def _line_level(melody: Melody, marking: Marking, feel: Feel) -> tuple[Floats, Floats]:
    """The level of the line under the marks (dB), and how much darker a fall makes it."""
    level = np.where(marking.flow, feel.line.off_beat, 0.0)
    for phrase in marking.phrases:
        if phrase.peak is not None and "phrase-arch" not in marking.left_out:
            inside = slice(phrase.first, phrase.last + 1)
            level[inside] += feel.line.arch * _arch(melody.onset[inside], phrase)
        if phrase.pickup and "pickup" not in marking.left_out:
            growing = np.linspace(1.0, 0.0, phrase.pickup, endpoint=False)
            level[phrase.first : phrase.first + phrase.pickup] += feel.line.pickup * growing
    darker = np.zeros(len(melody))
    for swell in marking.swells:
        inside = slice(swell.first, swell.last + 1)
        count = swell.last - swell.first
        depth = float(np.clip(feel.fall.per_note * count, feel.fall.least, feel.fall.most))
        # Half the weight of the off-beats: all of it would undo the fall at every other note.
        flow = np.where(marking.flow[inside], feel.line.off_beat / 2, 0.0)
        flow[[0, -1]] = 0.0
        level[inside] = np.linspace(0.0, -depth, count + 1) + flow
        share = feel.fall.darken * depth / feel.fall.most
        darker[inside] = np.linspace(0.0, -share, count + 1)
    return level, darker


def _by_chance(level: Floats, gate: Floats, chance: Chance) -> tuple[Floats, Floats]:
    """Levels and gates as they differ from note to note; slurs stay slurs."""
    if not (chance.level or chance.length):
        return level, gate
    rng = np.random.default_rng([chance.seed, 2])
    louder, longer = rng.normal(0.0, 1.0, (2, len(level)))
    lengths = np.minimum(gate * (1.0 + chance.length * longer), np.maximum(gate, 1.0))
    return level + chance.level * louder, np.where(gate >= 1.0, gate, lengths)


def _height(melody: Melody) -> Floats:
    """Semitones by which each note lies above the middle of the melody, an octave at most."""
    middle = np.median(melody.pitch) if len(melody) else 0.0
    return np.clip(melody.pitch - middle, -12.0, 12.0)


def _growth(marking: Marking, feel: Feel) -> Floats:
    """dB by which repeated notes grow toward what follows, around the level they have."""
    level = np.zeros(len(marking))
    for first, last in marking.growing_rows.tolist():
        whole = min(feel.line.growth * (last - first), feel.line.most_growth)
        level[first : last + 1] = np.linspace(-whole / 2, whole / 2, last - first + 1)
    return level


def _arch(onset: Ints, phrase: Phrase) -> Floats:
    """From 0 at the phrase's start to 1 at its peak and back to 0 at its end."""
    assert phrase.peak is not None
    peak = int(onset[phrase.peak - phrase.first])
    ends = [int(onset[0]) - 1, peak, int(onset[-1]) + 1]
    return np.asarray(np.interp(onset, ends, [0.0, 1.0, 0.0]))


def _in_falls(marking: Marking, count: int) -> Bools:
    inside = np.zeros(count, dtype=bool)
    for swell in marking.swells:
        inside[swell.first + 1 : swell.last + 1] = True
    return inside


def _gates(melody: Melody, marking: Marking, feel: Feel, written: Floats) -> Floats:
    """The gate of each note at full strength."""
    line = feel.line
    gate = np.full(len(melody), feel.plain_gate)
    gate[_ends_free(melody) | _long_on_beats(melody)] = line.sustained
    for name, sound in feel.sounds.items():
        has = marking.mark == CODE[name]
        gate[has] = _marked_gate(sound, written[has])
    gate = _tongued(gate, melody, marking, feel, written)
    joined = joins(marking)
    gate[joined] = 1.0 + line.joined / written[joined]
    into_ghost = joined & _before_ghost(marking)
    gate[into_ghost] = 1.0 + INTO_GHOST / written[into_ghost]
    speaking = 1.0 - line.repeated / written
    unmarked = marking.mark == UNMARKED
    speaking = np.where(unmarked, speaking, np.minimum(gate, speaking))
    gate = np.where(marking.repeated, speaking, gate)
    gate[[note for note, name in melody.inflections.items() if name in AWAY]] = 1.0
    return np.maximum(gate, np.minimum(1.0, line.shortest / written))


def _tongued(
    gate: Floats, melody: Melody, marking: Marking, feel: Feel, written: Floats
) -> Floats:
    """The gates where a tongue parts a note from another pitch: wider, the wider the interval.

    It is all that parts unmarked notes; a held mark leaves room for it, a short one has it.
    """
    interval = np.abs(np.diff(melody.pitch, append=melody.pitch[-1:]))
    parted = 1.0 - np.interp(interval, *np.array(feel.line.gaps).T) / written
    held = np.where(marking.mark == UNMARKED, parted, np.minimum(gate, parted))
    return np.where(marking.tongued & ~np.isin(marking.mark, DETACHED), held, gate)


def _marked_gate(sound: MarkSound, written: Floats) -> Floats:
    longest = np.inf if sound.longest is None else sound.longest
    shortest = 0.0 if sound.shortest is None else sound.shortest
    gate = np.minimum(sound.gate, longest / written)
    return np.maximum(gate, np.minimum(1.0, shortest / written))


def _ends_free(melody: Melody) -> Bools:
    """Notes with nothing right behind them."""
    free: Bools = np.ones(len(melody), dtype=bool)
    free[:-1] = melody.onset[1:] > melody.onset[:-1] + melody.length[:-1]
    return free


def _long_on_beats(melody: Melody) -> Bools:
    on_beat: Bools = melody.into_beat == 0
    long: Bools = melody.length * 2 >= 3 * TICKS
    return on_beat & long


def _before_ghost(marking: Marking) -> Bools:
    before: Bools = np.zeros(len(marking.mark), dtype=bool)
    before[:-1] = marking.mark[1:] == CODE["ghost"]
    return before


def joins(marking: Marking) -> Bools:
    """Which notes are slurred into the next: as marked, unless their mark is short, or the
    length that the teacher wants of them.

    >>> from phrasing.marking.precedence import mark
    >>> joins(mark(melody("C5:1 D5:1 E5:1 F5:1"))).tolist()
    [False, True, False, False]
    """
    short = np.isin(marking.mark, DETACHED) | (marking.own_gate < 1.0)
    return marking.joined & ~short & ~marking.repeated
