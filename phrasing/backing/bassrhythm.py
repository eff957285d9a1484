"""From the pitches of a bass line to what is played: skips, triplets, held notes, levels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from phrasing.backing.bassplaces import Place
from phrasing.backing.plan import Plan
from phrasing.backing.pulse import AND
from phrasing.backing.strokes import Stroke
from phrasing.feel import Bass

DECORATIONS: dict[str, float] = {"skip": 4.0, "lead": 2.5, "held": 2.0, "triplet": 1.0}
"""What may happen once in a bar, and how often against each other."""
OCTAVE = 12


def played(
    places: list[Place], pitches: list[int], plan: Plan, bass: Bass, rng: np.random.Generator
) -> list[Stroke]:
    """The strokes of a line."""
    decorated = dict(_decorations(places, plan, bass, rng))
    strokes: list[Stroke] = []
    skipped = False
    for i, (place, pitch) in enumerate(zip(places, pitches, strict=True)):
        if skipped:
            skipped = False
            continue
        kind = decorated.get(i)
        skipped = kind == "held"
        end = places[i + 1].end if skipped else place.end
        following = pitches[i + 1] if i + 1 < len(pitches) else pitch
        level = _level(place, plan, bass)
        main = Stroke(place.onset, end, pitch, level)
        strokes += _with_decoration(main, kind, place, following, bass)
    return [replace(stroke, gate=bass.gate) for stroke in strokes]


def _level(place: Place, plan: Plan, bass: Bass) -> float:
    level = bass.level + plan.growth(place.onset) + (bass.in_two if place.in_two else 0.0)
    if place.role == "arrival":
        return level + bass.arrival
    return level + (bass.back_beat if place.beat.place % 2 else 0.0)


def _decorations(
    places: list[Place], plan: Plan, bass: Bass, rng: np.random.Generator
) -> Iterator[tuple[int, str]]:
    """Indices of places with something to happen, at most one in a bar."""
    bars: dict[int, list[int]] = {}
    for i, place in enumerate(places):
        bars.setdefault(place.beat.bar, []).append(i)
    kinds = list(DECORATIONS)
    weights = np.array(list(DECORATIONS.values())) / sum(DECORATIONS.values())
    for members in bars.values():
        if rng.random() < bass.plain:
            continue
        kind = kinds[int(rng.choice(len(kinds), p=weights))]
        fitting = [i for i in members if _fits(kind, i, places, plan, bass)]
        if fitting:
            yield fitting[int(rng.integers(len(fitting)))], kind


def _fits(kind: str, i: int, places: list[Place], plan: Plan, bass: Bass) -> bool:
    """Whether a decoration has room at a place: a whole beat, in walking time."""
    place = places[i]
    beat = place.beat
    whole = place.onset == beat.onset and place.end >= beat.end and beat.off > 0
    if place.broken or not whole or i + 1 >= len(places):
        return False
    after = places[i + 1]
    if kind == "held":
        weak = after.role == "weak" and after.beat.bar == beat.bar
        return weak and after.onset == place.end and not place.in_two
    if kind == "triplet":
        return plan.beat_tempo(beat) < bass.busy_until and place.role != "approach"
    if kind == "lead":
        return plan.beat_tempo(beat) < bass.busy_until and after.onset == beat.end
    return True


def _with_decoration(
    main: Stroke, kind: str | None, place: Place, following: int, bass: Bass
) -> list[Stroke]:
    """The note and what comes after it in its last beat."""
    beat, pitch = place.beat, main.pitch
    ghost = main.level + bass.ghost
    if kind == "skip":
        off = beat.at(AND)
        short = Stroke(main.onset, off, pitch, main.level)
        return [short, Stroke(off, beat.end, _near(following, pitch, bass), ghost)]
    if kind == "lead":
        off, step = beat.at(AND), 1 if following < pitch else -1
        lead = Stroke(off, beat.end, _inside(following + step, bass), main.level - bass.arrival)
        return [Stroke(main.onset, off, pitch, main.level), lead]
    if kind == "triplet":
        second, third = beat.at(1 / 3), beat.at(2 / 3)
        low = pitch - OCTAVE if pitch - OCTAVE >= bass.low else pitch
        return [
            Stroke(main.onset, second, pitch, main.level),
            Stroke(second, third, pitch, ghost),
            Stroke(third, beat.end, low, ghost),
        ]
    return [main]


def _near(following: int, pitch: int, bass: Bass) -> int:
    """What a skip plucks: the note just played, or the next one if that is a step away."""
    return following if 0 < abs(following - pitch) <= 2 else _inside(pitch, bass)


def _inside(pitch: int, bass: Bass) -> int:
    return min(max(pitch, bass.low), bass.high)
