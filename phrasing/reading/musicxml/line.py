"""One line of notes from a part: its top voice, the top note of each chord, ties merged."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING

from phrasing.reading.musicxml.bars import Transpositions, sounding
from phrasing.reading.musicxml.measures import ZERO, PartBar, Placed, number
from phrasing.reading.musicxml.parts import is_slash

if TYPE_CHECKING:
    from lxml import etree


FEW = Fraction(1, 4)
"""A voice with less than this share of the busiest one's notes only fills in."""


@dataclass(frozen=True)
class Struck:
    """What one voice strikes at one place of a bar: a note, a chord, a rest or a grace note.

    ``element`` is the top note and ``pitch`` what it sounds at (None: a rest), ``elements``
    are all notes of the chord. ``at`` and ``length`` in quarter notes from the bar's start.
    """

    at: Fraction
    length: Fraction
    pitch: int | None
    element: etree._Element
    elements: tuple[etree._Element, ...]
    is_grace: bool


@dataclass(frozen=True)
class _Written:
    """A note as it stands in the file: its place, sounding pitch, voice and staff."""

    placed: Placed
    pitch: int | None
    voice: str
    staff: int
    head: bool


@dataclass(frozen=True)
class TopVoice:
    """The line in each printed bar, and what was left out on the way to it.

    ``staff`` and ``voice`` it mostly comes from; ``staves`` and ``voices`` that the part has;
    ``dropped``: notes under the top of a chord, by bar index; ``unplayable``: bar indices
    with notes that have no pitch in the MIDI range.
    """

    bars: list[list[Struck]]
    staff: int
    voice: str
    staves: int
    voices: int
    dropped: dict[int, int] = field(default_factory=dict)
    unplayable: tuple[int, ...] = ()


Voice = tuple[int, str]


def top_voice(
    bars: Sequence[PartBar],
    concert_score: bool,
    slashed: frozenset[etree._Element] = frozenset(),
) -> TopVoice:
    """The top voice of a part with notes: on its first staff, bar by bar.

    ``slashed``: notes that are hidden under rhythm slashes, and are taken for rests.
    Where a bar does not have that voice at all (no rests either), the next one down counts.
    """
    written, unplayable = _written_notes(bars, concert_score, slashed)
    homes = _homes(bars, written)
    ranked = _ranked(written, homes)
    again = _repeated_bars(bars)
    lines: list[list[Struck]] = []
    dropped: dict[int, int] = {}
    for index, notes in enumerate(written):
        present = {homes[note.staff, note.voice] for note in notes}
        chosen = next((voice for voice in ranked if voice in present), None)
        top = [note for note in notes if homes[note.staff, note.voice] == chosen]
        line = _one_at_a_time(_chords(top))
        pitched = sum(note.pitch is not None for note in top)
        if pitched > _count(line):
            dropped[index] = pitched - _count(line)
        lines.append(lines[again[index]] if index in again and not pitched else line)
    staves = len({staff for staff, _ in homes})
    staff, voice = ranked[0] if ranked else (1, "1")
    return TopVoice(lines, staff, voice, staves, len(ranked), dropped, unplayable)


def _repeated_bars(bars: Sequence[PartBar]) -> dict[int, int]:
    """The bars with a sign to play the last ones again (%), and which bar each repeats."""
    again: dict[int, int] = {}
    back = 0
    for index, bar in enumerate(bars):
        for placed in bar.all("attributes"):
            for sign in placed.element.iterfind("measure-style/measure-repeat"):
                asked = int(number(sign.text, Fraction(1)))
                back = asked if sign.get("type") == "start" and 0 < asked <= index else 0
        if back:
            again[index] = index - back
    return again


def _count(line: Iterable[Struck]) -> int:
    return sum(struck.pitch is not None for struck in line)


def _written_notes(
    bars: Sequence[PartBar], concert_score: bool, slashed: frozenset[etree._Element]
) -> tuple[list[list[_Written]], tuple[int, ...]]:
    """All notes and rests of a part, at sounding pitch, and the bars with impossible ones."""
    by = Transpositions(concert_score)
    written: list[list[_Written]] = []
    unplayable = []
    for index, bar in enumerate(bars):
        notes: list[_Written] = []
        for placed in bar.placed:
            if placed.element.tag == "attributes":
                by.take(placed.element)
            elif placed.element.tag == "note":
                note = _written_note(placed, by, notes)
                if placed.element in slashed:
                    note = replace(note, pitch=None)
                elif note.pitch is None and _should_sound(placed.element):
                    unplayable.append(index)
                notes.append(note)
        written.append(notes)
    return written, tuple(dict.fromkeys(unplayable))


def _should_sound(note: etree._Element) -> bool:
    return note.find("pitch") is not None and note.find("cue") is None and not is_slash(note)


def _written_note(placed: Placed, by: Transpositions, before: Sequence[_Written]) -> _Written:
    note = placed.element
    staff = (note.findtext("staff") or "1").strip()
    voice = (note.findtext("voice") or "1").strip()
    pitch = note.find("pitch")
    sounds = None
    if pitch is not None and _should_sound(note):
        sounds = sounding(pitch, by.of(staff))
    head = note.find("chord") is None or not before
    place = int(staff) if staff.isascii() and staff.isdigit() else 1
    if head:
        return _Written(placed, sounds, voice, place, True)
    return _Written(placed, sounds, before[-1].voice, before[-1].staff, False)


def _homes(
    bars: Sequence[PartBar], written: Sequence[Sequence[_Written]]
) -> dict[Voice, Voice]:
    """For each voice on each staff, the one it belongs to.

    A voice that moves between staves is one voice, on the staff with most of its notes. Where
    it would be in two places at once, each staff has a voice of that name.
    """
    counts = Counter((n.staff, n.voice) for bar in written for n in bar if n.pitch is not None)
    present = {(note.staff, note.voice) for bar in written for note in bar}
    at_once = _at_once(bars, written)
    homes = {}
    for staff, voice in present:
        same = sorted(key for key in present if key[1] == voice)
        home = max(same, key=lambda key: counts[key])
        homes[staff, voice] = (staff, voice) if voice in at_once else home
    return homes


def _at_once(bars: Sequence[PartBar], written: Sequence[Sequence[_Written]]) -> frozenset[str]:
    """The names of voices with more in some bar than one after the other can be."""
    found = set()
    for bar, notes in zip(bars, written, strict=True):
        lasts: dict[str, Fraction] = {}
        for note in notes:
            if note.head:
                lasts[note.voice] = lasts.get(note.voice, ZERO) + note.placed.length
        found |= {voice for voice, length in lasts.items() if length > bar.reached}
    return frozenset(found)


def _ranked(bars: Iterable[Iterable[_Written]], homes: dict[Voice, Voice]) -> list[Voice]:
    """The voices with notes, the top one first: by staff, then by how high they lie.

    A voice with few notes only fills in, and comes after the others of its staff.
    """
    pitches: dict[Voice, list[int]] = {}
    for bar in bars:
        for note in bar:
            if note.pitch is not None:
                pitches.setdefault(homes[note.staff, note.voice], []).append(note.pitch)
    most: Counter[int] = Counter()
    for (staff, _), found in pitches.items():
        most[staff] = max(most[staff], len(found))

    def rank(voice: Voice) -> tuple[int, bool, float, str]:
        found = pitches[voice]
        few = len(found) < FEW * most[voice[0]]
        return voice[0], few, -sum(found) / len(found), voice[1]

    return sorted(pitches, key=rank)


def _chords(notes: Sequence[_Written]) -> list[Struck]:
    """Notes gathered into chords, in order of their places."""
    groups: list[list[_Written]] = []
    for note in notes:
        if note.head or not groups:
            groups.append([note])
        else:
            groups[-1].append(note)
    return sorted(map(_struck, groups), key=lambda struck: struck.at)


def _struck(chord: Sequence[_Written]) -> Struck:
    top = max(chord, key=lambda note: -1 if note.pitch is None else note.pitch)
    return Struck(
        at=top.placed.at,
        length=top.placed.length,
        pitch=top.pitch,
        element=top.placed.element,
        elements=tuple(note.placed.element for note in chord),
        is_grace=top.placed.element.find("grace") is not None or _has_no_length(top),
    )


def _has_no_length(note: _Written) -> bool:
    """Whether it is a pitch that takes no time, as some programs write grace notes."""
    return note.pitch is not None and not note.placed.length


def _one_at_a_time(chords: Sequence[Struck]) -> list[Struck]:
    """The highest of what starts together; grace notes stay before it."""
    line: list[Struck] = []
    for _, together in groupby(chords, key=lambda struck: struck.at):
        struck = list(together)
        line += [grace for grace in struck if grace.is_grace]
        sounding_now = [s for s in struck if not s.is_grace]
        if sounding_now:
            line.append(max(sounding_now, key=lambda s: -1 if s.pitch is None else s.pitch))
    return line
