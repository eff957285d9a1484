"""Which part of a MIDI file is the melody."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.reading.sounding import Sounded
from phrasing.tempo import TICKS

DRUM_CHANNEL = 9
"""Channel 10 of General MIDI, counted from 0."""
MELODIC = ("melody", "lead", "solo", "vocal", "voice", "theme", "head", "tune", "line")
BACKING = ("bass", "drum", "perc", "chord", "pad", "string", "comp", "rhythm", "accomp",
           "click", "left", "l.h.", "harmony", "metronom", "count")  # fmt: skip
WINDS = range(57, 81)
"""General MIDI programs from 1: brass, reeds, pipes."""
BASSES = range(33, 41)


@dataclass(frozen=True, eq=False)
class TrackPart:
    """What one track plays on one channel. ``program`` from 1, None where none is set;
    ``cut``: the file stops inside it, at tick ``end`` of score time."""

    number: int
    name: str
    channel: int
    program: int | None
    notes: Sequence[Sounded]
    end: float
    cut: bool

    @property
    def is_drums(self) -> bool:
        """Whether it is on the drum channel."""
        return self.channel == DRUM_CHANNEL

    def __str__(self) -> str:
        name = f"track {self.number}" + (f" “{self.name}”" if self.name else "")
        return name + (" (drums)" if self.is_drums else "")


def melody_part(parts: Sequence[TrackPart], chosen: str | None, file: str) -> TrackPart:
    """The part ``chosen`` by number (from 1) or name, or else the most melodic one.

    Raises ``PhrasingError``: no notes, only drums, no such track (it lists what there is).
    """
    if not parts:
        raise PhrasingError(f"{file}: holds no notes; export the melody again.")
    if chosen is not None:
        return _chosen(parts, chosen, file)
    tuned = [part for part in parts if not part.is_drums]
    if not tuned:
        raise PhrasingError(f"{file}: holds only drums; export the melody's track as well.")
    return max(tuned, key=_melodic)


def _chosen(parts: Sequence[TrackPart], chosen: str, file: str) -> TrackPart:
    wanted = chosen.strip().casefold()
    by_number = [p for p in parts if str(p.number) == wanted]
    by_name = [p for p in parts if p.name.casefold() == wanted]
    within = [p for p in parts if wanted and wanted in p.name.casefold()]
    found = by_number or by_name or (within if len(within) == 1 else [])
    if not found:
        listed = ", ".join(f"{part} with {len(part.notes)} notes" for part in parts)
        raise PhrasingError(f"{file}: has no track “{chosen}”; there are {listed}.")
    return found[0]


def _melodic(part: TrackPart) -> float:
    """How much a part is like a melody: one note at a time, moving, in a singing range."""
    onset = np.array([n.onset for n in part.notes])
    pitch = np.array([n.pitch for n in part.notes], dtype=np.float64)
    ends = np.array([n.onset if n.release is None else n.release for n in part.notes])
    alone = _alone(onset, ends)
    height = float(pitch.mean())
    leaps = np.abs(np.diff(pitch))
    score = 3.0 * alone + min(len(set(pitch.tolist())), 8) / 8
    score += 1.0 * (55 <= height <= 88) + min(height, 84) / 60
    score += float((leaps[leaps > 0] <= 4).mean()) if (leaps > 0).any() else -1.0
    score += min(len(onset), 32) / 32
    score += _hints(part)
    return score


def _alone(onset: np.ndarray, ends: np.ndarray) -> float:
    """Share of notes that begin while nothing else sounds on for long."""
    if len(onset) < 2:
        return 1.0
    held = np.maximum.accumulate(ends)[:-1] - onset[1:]
    return float((held < TICKS / 8).mean())


def _hints(part: TrackPart) -> float:
    name = part.name.casefold()
    hint = 2.0 * any(word in name for word in MELODIC)
    hint -= 2.0 * any(word in name for word in BACKING)
    if part.program is not None:
        hint += 0.5 * (part.program in WINDS) - 1.5 * (part.program in BASSES)
    return hint
