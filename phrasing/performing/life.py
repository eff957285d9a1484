"""What a note does while it sounds: its shape in level, its vibrato, how it is bent.

Curves are in seconds from the note's onset. Levels are in dB, 0 or below, so that a note is
never louder than its mark asks; it has its level in its first 60 ms. Measured players are
loudest a little before the middle of a note (0.445 of its length: Weimar Jazz Database,
counted for this project); everything else here is a design parameter, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from phrasing.feel import Life
from phrasing.marking.marking import Marking
from phrasing.score.marks import MARK_NAMES, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bools, Floats

AT_ONCE = 0.060
"""Seconds for which a marcato has all its weight."""
Points = list[tuple[float, float]]
"""Seconds from a note's onset, and dB or semitones there; straight lines between."""


@dataclass(frozen=True, eq=False)
class Situation:
    """What decides how the notes of a melody live: columns, one entry a note.

    ``sounding``: seconds. ``mark``: codes. ``leads``: goes straight on into another note.
    ``ends``: a rest follows. ``bent``: the name of an inflection, empty where there is none.
    """

    sounding: Floats
    mark: tuple[str, ...]
    leads: Bools
    ends: Bools
    tapers: Bools
    bent: tuple[str, ...]


def situation(melody: Melody, marking: Marking, sounding: Floats) -> Situation:
    """What decides how each note lives; ``sounding``: seconds for which it is heard alone."""
    rest = np.append(melody.onset[1:], melody.end + TICKS) - melody.onset - melody.length
    short = (marking.mark == UNMARKED) & (melody.length < TICKS)
    names = (MARK_NAMES[code] if code >= 0 else "" for code in marking.mark.tolist())
    bent = (melody.inflections.get(note, "") for note in range(len(melody)))
    return Situation(
        sounding,
        tuple(names),
        rest <= 0,
        rest >= TICKS // 2,
        short & (rest >= TICKS // 2),
        tuple(bent),
    )


def level_points(now: Situation, note: int, life: Life) -> Points:
    """What the level of a note does; nothing for a note too short for it."""
    sounding, mark = float(now.sounding[note]), now.mark[note]
    if now.bent[note] in ("falloff", "doit"):
        return [(sounding * (1 - life.bent_share), 0.0), (sounding, -life.bent_fade)]
    if mark in ("marcato", "clipped") and sounding > 2 * AT_ONCE:
        settled = min(2.5 * AT_ONCE, sounding)
        return [(AT_ONCE, 0.0), (settled, -life.overshoot)]
    if mark == "accent" and sounding > life.swell_from:
        return [(0.0, 0.0), (0.3 * sounding, -life.swell), (0.85 * sounding, 0.0)]
    if now.tapers[note] and life.taper:
        return [(sounding / 2, 0.0), (sounding, -life.taper)]
    if sounding > life.grow_from and now.leads[note] and mark in ("", "tenuto"):
        return [(0.0, 0.0), (0.2 * sounding, -life.grow), (0.95 * sounding, 0.0)]
    if sounding > life.arch_from:
        end = life.arch + (life.ending if now.ends[note] and sounding > life.grow_from else 0.0)
        peak = life.peak * sounding
        return [(0.0, -life.arch / 3), (peak, 0.0), (0.7 * sounding, 0.0), (sounding, -end)]
    return []


def bend_points(now: Situation, note: int, life: Life) -> Points:
    """What the pitch of a note does, vibrato apart: semitones against its own pitch."""
    sounding, inflection = float(now.sounding[note]), now.bent[note]
    into, away = min(life.into, sounding / 2), life.bent_share * sounding
    if inflection == "scoop":
        return [(0.0, -life.scoop), (0.4 * into, -0.8 * life.scoop), (into, 0.0)]
    if inflection == "plop":
        return [(0.0, life.plop), (0.8 * into, 0.0)]
    if inflection == "falloff":
        return [(sounding - away, 0.0), (sounding, -life.falloff)]
    if inflection == "doit":
        return [(sounding - away, 0.0), (sounding, life.doit)]
    return []


def vibrato_points(
    sounding: float, life: Life, strength: float
) -> Iterator[tuple[float, float]]:
    """Vibrato of a held note: (seconds from its onset, semitones), delayed, growing.

    The longer the note, the deeper, up to ``life.vibrato_full`` seconds.
    """
    depth = life.vibrato_depth * strength * min(1.0, sounding / life.vibrato_full)
    for at in np.arange(life.vibrato_delay, sounding, life.step):
        since = float(at) - life.vibrato_delay
        growth = min(1.0, since / life.vibrato_grow)
        yield float(at), depth * growth * float(np.sin(2 * np.pi * life.vibrato_rate * since))
    yield sounding, 0.0


def has_vibrato(now: Situation, note: int, life: Life) -> bool:
    """Whether a note is held so long, and bent by nothing else."""
    return float(now.sounding[note]) > life.vibrato_from and now.bent[note] not in (
        "falloff",
        "doit",
    )


def lines(
    now: Situation, note: int, life: Life, strength: float
) -> Iterator[tuple[Literal["expression", "bend"], Points]]:
    """All that a note does: level and pitch, each as a line in small steps."""
    level, bend = level_points(now, note, life), bend_points(now, note, life)
    if level:
        yield "expression", drawn(level, life, strength)
    if bend:
        yield "bend", drawn(bend, life, strength)
    if has_vibrato(now, note, life):
        yield "bend", list(vibrato_points(float(now.sounding[note]), life, strength))


def drawn(points: Points, life: Life, strength: float) -> Points:
    """The line through the points in steps of ``life.step`` seconds.

    >>> drawn([(0.0, 0.0), (0.1, -2.0)], Life(step=0.05), 0.5)
    [(0.0, 0.0), (0.05, -0.5), (0.1, -1.0)]
    """
    at, values = np.array(points).T
    moments = np.append(np.arange(0.0, at[-1] - life.step / 2, life.step), at[-1])
    line = strength * np.interp(moments, at, values)
    return list(zip(moments.tolist(), (line + 0.0).tolist(), strict=True))
