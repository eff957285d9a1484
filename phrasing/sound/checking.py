"""What a soundfont can do for each instrument: how late it speaks, how far it can be shaped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from phrasing.performing.performance import Part
from phrasing.score.instruments import Instrument
from phrasing.sound.probing import AS_IT_IS, CUTOFFS, PLAIN, Answer, Answers, ask
from phrasing.sound.soundfonts import Soundfont
from phrasing.sound.synthesizer import Synthesizer
from phrasing.sound.touch import MOST_LOSS, is_silent

EVERY = 3
"""Semitones between the keys that are listened to."""


@dataclass(frozen=True)
class Checked:
    """What was found: ``there``: whether the soundfont has the instrument's program.

    ``late``: seconds after which its notes are there, as the soundfont has them: the median
    and the latest. ``darker``/``brighter``: dB by which the power above 3 kHz can be changed
    against the rest, at a median key. ``silent``: keys (MIDI numbers) of those
    listened to that the soundfont leaves out.
    """

    instrument: Instrument
    there: bool
    late: tuple[float, float]
    darker: float
    brighter: float
    silent: tuple[int, ...]


def checked(soundfont: Soundfont, instruments: Iterable[Instrument]) -> Iterator[Checked]:
    """Listen to each instrument over its range, as far as the soundfont has it."""
    for instrument in instruments:
        with Synthesizer(soundfont) as synthesizer:
            there = synthesizer.program(0, instrument.program)
        nothing = np.zeros(0, dtype=np.int64)
        part = Part(
            name=instrument.name,
            program=instrument.program,
            onset=nothing,
            release=nothing,
            pitch=nothing,
            velocity=nothing,
            level=np.zeros(0),
            brightness=np.zeros(0),
            source=nothing,
        )
        keys = range(instrument.low, instrument.high + 1, EVERY)
        yield _found(
            instrument, there, list(keys), ask(soundfont, part, [(k, PLAIN) for k in keys])
        )


def _found(instrument: Instrument, there: bool, keys: list[int], known: Answers) -> Checked:
    silent = tuple(key for key in keys if is_silent(known.notes[key, PLAIN]))
    sounding = [key for key in keys if key not in silent]
    late = [known.keys[key].late for key in sounding] or [0.0]
    tilts = [_reach(known.notes[key, PLAIN]) for key in sounding] or [(0.0, 0.0)]
    darker, brighter = (float(np.median(column)) for column in zip(*tilts, strict=True))
    when = float(np.median(late)), float(max(late))
    return Checked(instrument, there, when, darker, brighter, silent)


def _reach(answer: Answer) -> tuple[float, float]:
    """dB by which a key's highs can be lowered and raised against its level."""
    levels, highs = np.array(answer.levels), np.array(answer.highs)
    own = highs[AS_IT_IS] - levels[AS_IT_IS]
    usable = (levels > levels.max() - MOST_LOSS) & (CUTOFFS <= 0)
    edged = np.array(answer.edged_highs) - np.array(answer.edged)
    opened = (highs - levels)[AS_IT_IS:]
    darker = own - (highs - levels)[usable].min()
    return float(darker), float(max(edged.max(), opened.max()) - own)
