"""From note-on and note-off events to one line of notes.

Positions are floats in ticks of score time (960 to the quarter), not yet quantized.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from phrasing.tempo import TICKS, Floats, Ints

CHORD_SPREAD = TICKS / 16
"""Notes that start this close together and sound on together are one chord."""
LEGATO = TICKS / 4
"""A note held less than this into the next one is only joined to it."""
HUNG = 4 * TICKS
"""How long a note lasts at most whose end never comes: a whole note."""
SHARED = 0.75
"""A lower note is under a higher one when they share this much of the shorter one's time."""


@dataclass
class Sounded:
    """A note as it was played; ``release`` is None while it sounds or where no end came."""

    onset: float
    release: float | None
    pitch: int
    velocity: int


@dataclass
class Tidied:
    """What was put in order on the way to one line: onsets (ticks), for the report."""

    chord_notes: list[float] = field(default_factory=list)
    duplicates: list[float] = field(default_factory=list)
    overlaps: list[float] = field(default_factory=list)
    hung: list[float] = field(default_factory=list)
    graces: list[float] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Line:
    """One note at a time: ``onset`` ascending, ``release`` never past the next onset.

    ``graces``: (index of the main note, pitch) of notes with no length, in playing order.
    """

    onset: Floats
    release: Floats
    pitch: Ints
    graces: tuple[tuple[int, int], ...]
    tidied: Tidied = field(default_factory=Tidied)


def paired(events: Iterable[tuple[float, int, int]]) -> list[Sounded]:
    """Notes from (onset, pitch, velocity) events of one channel, velocity 0 for an end.

    An end belongs to the note of its pitch that began last. An end that nothing waits for,
    at the very tick where its pitch begins, is the end of that note: a grace without length.
    """
    notes: list[Sounded] = []
    open_notes: dict[int, list[Sounded]] = {}
    early: dict[int, float] = {}
    for at, pitch, velocity in events:
        waiting = open_notes.setdefault(pitch, [])
        if velocity:
            ended = at if early.pop(pitch, None) == at else None
            note = Sounded(at, ended, pitch, velocity)
            notes.append(note)
            if ended is None:
                waiting.append(note)
        elif waiting:
            waiting.pop().release = at
        else:
            early[pitch] = at
    return notes


def one_line(notes: list[Sounded], end: float) -> Line:
    """The top line of ``notes``; what never ends lasts to the next onset or to ``end``,
    a whole note at most."""
    tidied = Tidied()
    notes = _without_duplicates(sorted(notes, key=lambda n: n.onset), tidied)
    _end_hung_notes(notes, end, tidied)
    struck = [n for n in notes if _span(n) > 0]
    top = _top_notes(struck, tidied)
    graces = _graces([n for n in notes if _span(n) <= 0], top, tidied)
    for note, following in pairwise(top):
        if _release(note) > following.onset + LEGATO:
            tidied.overlaps.append(note.onset)
        note.release = min(_release(note), following.onset)
    return Line(
        np.array([n.onset for n in top], dtype=np.float64),
        np.array([_release(n) for n in top], dtype=np.float64),
        np.array([n.pitch for n in top], dtype=np.int64),
        graces,
        tidied,
    )


def _release(note: Sounded) -> float:
    return note.onset if note.release is None else note.release


def _span(note: Sounded) -> float:
    return _release(note) - note.onset


def _without_duplicates(notes: list[Sounded], tidied: Tidied) -> list[Sounded]:
    """Of notes with the same onset and pitch the one that lasts longest."""
    kept: dict[tuple[float, int], Sounded] = {}
    for note in notes:
        twin = kept.setdefault((note.onset, note.pitch), note)
        if twin is not note:
            tidied.duplicates.append(note.onset)
            if note.release is None or (
                twin.release is not None and note.release > twin.release
            ):
                twin.release = note.release
    return list(kept.values())


def _end_hung_notes(notes: list[Sounded], end: float, tidied: Tidied) -> None:
    following = end
    latest = end
    for note in reversed(notes):
        if note.onset < latest:
            following, latest = latest, note.onset
        if note.release is None:
            tidied.hung.append(note.onset)
            note.release = min(max(following, note.onset), note.onset + HUNG)


def _top_notes(notes: list[Sounded], tidied: Tidied) -> list[Sounded]:
    """The highest note at each time: chords keep their top, held notes cover lower ones."""
    top: list[Sounded] = []
    for note in notes:
        if top and _same_chord(top[-1], note):
            tidied.chord_notes.append(note.onset)
            if note.pitch > top[-1].pitch:
                top[-1] = note
        elif top and _covered(note, top[-1]):
            tidied.chord_notes.append(note.onset)
        else:
            top.append(note)
    return top


def _same_chord(first: Sounded, second: Sounded) -> bool:
    shared = min(_release(first), _release(second)) - second.onset
    together = second.onset - first.onset <= CHORD_SPREAD
    return together and shared > SHARED * min(_span(first), _span(second))


def _covered(note: Sounded, held: Sounded) -> bool:
    """Whether ``note`` lies under a higher one that is held through most of it."""
    shared = min(_release(held), _release(note)) - note.onset
    return note.pitch < held.pitch and shared > SHARED * _span(note)


def _graces(
    silent: list[Sounded], top: list[Sounded], tidied: Tidied
) -> tuple[tuple[int, int], ...]:
    """Notes without length, each before the first note of the line that does not precede it."""
    onsets = np.array([n.onset for n in top])
    found: list[tuple[int, int]] = []
    for note in silent:
        main = int(np.searchsorted(onsets, note.onset - 0.5))
        if main < len(top) and top[main].pitch != note.pitch:
            found.append((main, note.pitch))
            tidied.graces.append(note.onset)
    return tuple(found)
