"""Which part of a MIDI file is the melody."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.reading.midi import smf
from phrasing.reading.midi.bars import FileClock
from phrasing.reading.source import decoded
from phrasing.score.doubts import Answer, Doubt
from phrasing.score.instruments import instrument_in, instrument_of_program, sax_doubt
from phrasing.score.meters import TICKS, Floats, Ints

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
class SingleLine:
    """One note at a time: ``onset`` ascending, ``release`` never past the next onset.

    ``graces``: (index of the main note, pitch) of notes with no length, in playing order.
    """

    onset: Floats
    release: Floats
    pitch: Ints
    velocity: Floats
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


def one_line(notes: list[Sounded], end: float) -> SingleLine:
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
    return SingleLine(
        np.array([n.onset for n in top], dtype=np.float64),
        np.array([_release(n) for n in top], dtype=np.float64),
        np.array([n.pitch for n in top], dtype=np.int64),
        np.array([n.velocity for n in top], dtype=np.float64),
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


DRUM_CHANNEL = 9
"""Channel 10 of General MIDI, counted from 0."""
MELODIC = ("melody", "lead", "solo", "vocal", "voice", "theme", "head", "tune", "line")
BACKING = ("bass", "drum", "perc", "chord", "pad", "string", "comp", "rhythm", "accomp",
           "click", "left", "l.h.", "harmony", "metronom", "count")  # fmt: skip
WINDS = range(57, 81)
"""General MIDI programs from 1: brass, reeds, pipes."""
BASSES = range(33, 41)
SINGING = (55, 88)
"""Mean pitches between which most melodies lie."""
CLOSE = 0.6
"""Points by which another part may be less like a melody and still be one. A design parameter:
less than what a name, a register or a single line counts."""


@dataclass(frozen=True, eq=False)
class TrackPart:
    """What one track plays on one channel, in score time.

    ``number`` counts the parts from 1, of ``among``. ``program`` from 1, None where none is
    set. ``cut``: the file stops inside the track, at ``end``. ``doubt``: whether it is the
    melody.
    """

    number: int
    among: int
    name: str
    channel: int
    program: int | None
    notes: Sequence[Sounded]
    end: float
    cut: bool
    doubt: Doubt | None = None

    @property
    def is_drums(self) -> bool:
        """Whether it is on the drum channel."""
        return self.channel == DRUM_CHANNEL

    @property
    def instrument(self) -> str | None:
        """The key of its instrument, by its program; among its rows by its name."""
        named = instrument_in(self.name)
        by_program = instrument_of_program(self.program) if self.program else None
        if named is not None and self.program in (None, named.program):
            return named.key
        return by_program.key if by_program else None

    @property
    def instrument_doubt(self) -> Doubt | None:
        """Which saxophone it is, where neither name nor program tells."""
        return sax_doubt(self.name) if self.program is None else None

    def __str__(self) -> str:
        place = f"track {self.number} of {self.among}"
        return f"{self.name} ({place})" if self.name else place


def parts_of(file: smf.MidiFile, clock: FileClock) -> list[TrackPart]:
    """The parts that have notes, one for each channel of each track."""
    found = [
        (track, channel)
        for track in file.tracks
        for channel in sorted({event[1] for event in track.notes})
        if any(c == channel and velocity for _, c, _, velocity in track.notes)
    ]
    return [
        _part(track, channel, number, len(found), clock)
        for number, (track, channel) in enumerate(found, 1)
    ]


def _part(
    track: smf.Track, channel: int, number: int, among: int, clock: FileClock
) -> TrackPart:
    events = [event for event in track.notes if event[1] == channel]
    at = clock.score([event[0] for event in events]).tolist()
    notes = paired((t, pitch, v) for t, (_, _, pitch, v) in zip(at, events, strict=True))
    end = float(clock.score(track.end))
    name = _name(track, channel)
    program = _program(track, channel, events[0][0])
    return TrackPart(number, among, name, channel, program, notes, end, track.cut)


def _name(track: smf.Track, channel: int) -> str:
    """The track's name, or the channel where it is one of several in the track."""
    if len({event[1] for event in track.notes}) > 1:
        return f"channel {channel + 1}"
    names = (decoded(data) for _, kind, data in track.metas if kind == smf.NAME)
    return next(names, "")


def _program(track: smf.Track, channel: int, first_note: int) -> int | None:
    """The last program set before the first note, or else the first one set, from 1."""
    programs = [(tick, program) for tick, c, program in track.programs if c == channel]
    before = [program for tick, program in programs if tick <= first_note]
    chosen = before[-1:] or [program for _, program in programs[:1]]
    return chosen[0] + 1 if chosen else None


def melody_part(parts: Sequence[TrackPart], chosen: str | None, file: str) -> TrackPart:
    """The part ``chosen`` by number (from 1) or name, or else the most melodic one.

    Raises ``PhrasingError``: only drums, no such track (it lists what there is).
    """
    if chosen is not None:
        return _chosen(parts, chosen, file)
    tuned = [part for part in parts if not part.is_drums]
    if not tuned:
        raise PhrasingError(f"{file}: holds only drums; export the melody's track as well.")
    return replace(max(tuned, key=_melodic), doubt=_part_doubt(tuned))


def _part_doubt(parts: Sequence[TrackPart]) -> Doubt | None:
    """Which part is the melody, where others are nearly as melodic as the one that is taken."""
    tuned = sorted(parts, key=_melodic, reverse=True)
    close = [p for p in tuned if _melodic(p) > _melodic(tuned[0]) - CLOSE]
    if len(close) < 2:
        return None
    answers = (Answer(str(part.number), _listed(part)) for part in close)
    return Doubt("track", "Which part is the melody?", tuple(answers))


def _chosen(parts: Sequence[TrackPart], chosen: str, file: str) -> TrackPart:
    wanted = chosen.strip().casefold()
    by_number = [part for part in parts if str(part.number) == wanted]
    by_name = [part for part in parts if part.name.casefold() == wanted]
    within = [part for part in parts if wanted and wanted in part.name.casefold()]
    found = by_number or by_name or (within if len(within) == 1 else [])
    if not found:
        listed = "; ".join(_listed(part) for part in parts)
        raise PhrasingError(f"{file}: has no track “{chosen}”; choose from {listed}.")
    return found[0]


def _listed(part: TrackPart) -> str:
    name = f" {part.name}" if part.name else ""
    drums = ", drums" if part.is_drums else ""
    count = len(part.notes)
    return f"{part.number}{name} ({count} note{'s' if count > 1 else ''}{drums})"


def _melodic(part: TrackPart) -> float:
    """How much a part is like a melody: one note at a time, moving, in a singing range."""
    onset = np.array([n.onset for n in part.notes])
    pitch = np.array([n.pitch for n in part.notes], dtype=np.float64)
    ends = np.array([n.onset if n.release is None else n.release for n in part.notes])
    leaps = np.abs(np.diff(pitch))
    moves = leaps[leaps > 0]
    height = float(pitch.mean())
    score = 3.0 * _alone(onset, ends) + float(SINGING[0] <= height <= SINGING[1])
    score += min(height, 84) / 60 + min(len(np.unique(pitch)), 8) / 8 + min(len(onset), 32) / 32
    score += float((moves <= 4).mean()) if len(moves) else -1.0
    return score + _hints(part)


def _alone(onset: Floats, ends: Floats) -> float:
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
