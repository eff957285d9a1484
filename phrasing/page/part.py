"""The part that a page shows, in each version: the author's own score, else a new one.

What the page shows is what is played, in the order of playing: repeats are written out, so that
every note has one place, which lights up when it sounds, and its own marks. All else is as its
author wrote it: words, lyrics, letters, bar lines, dynamics, spelling.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from phrasing.lesson.handout import original_of
from phrasing.lesson.lesson import Lesson
from phrasing.lesson.versions import Version
from phrasing.paper.annotating import annotated_score, own_part
from phrasing.paper.cutting import height_of
from phrasing.paper.manuscript import as_its_author_marked, credits_of, stressed_ids
from phrasing.paper.musicxml import new_score
from phrasing.paper.notes import drafted, note_ids, parsed
from phrasing.paper.original import Original, ids_in
from phrasing.reading.musicxml.measures import PartBar, part_bars
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS

if TYPE_CHECKING:
    from lxml import etree


@dataclass(frozen=True)
class InkedNote:
    """A sounding written note: its name, its tick, and the note of the melody it belongs to."""

    name: str
    tick: int
    note: int


@dataclass(frozen=True)
class PlayersPart:
    """The part as MusicXML in each version, and the names of the notes with a star in it.

    ``notes``: the written notes in order, a note tied on by each of its pieces; ``credits``:
    who wrote it, a line each.
    """

    scores: tuple[bytes, ...]
    stressed: tuple[tuple[str, ...], ...]
    notes: tuple[InkedNote, ...]
    credits: tuple[str, ...] = ()


def players_part(lesson: Lesson, versions: Sequence[Version]) -> PlayersPart:
    """The part of a lesson in these versions.

    >>> from phrasing.lesson.versions import shaped_version
    >>> tune = lesson("C5:2 D5:2")
    >>> [note.tick for note in players_part(tune, [shaped_version(tune)]).notes]
    [0, 960]
    """
    original = original_of(lesson)
    found = _authors(original, lesson, versions) if original else None
    return found or _newly_written(lesson, versions)


def _newly_written(lesson: Lesson, versions: Sequence[Version]) -> PlayersPart:
    ids = note_ids(lesson.melody)
    return PlayersPart(
        tuple(
            new_score(
                lesson.melody, each.marking, instrument=lesson.instrument, slurs=lesson.slurs
            )
            for each in versions
        ),
        tuple(stressed_ids(ids, each.marking) for each in versions),
        tuple(_drafted_notes(lesson, ids)),
    )


def _drafted_notes(lesson: Lesson, ids: Sequence[str]) -> Iterator[InkedNote]:
    melody = lesson.melody
    names = drafted(melody, None, lesson.instrument, None).names
    notes, note = {name: index for index, name in enumerate(ids)}, 0
    for tick, name in sorted(names.items()):
        note = notes.get(name, note)
        yield InkedNote(name, tick, note)


# The author's score


def _authors(
    original: Original, lesson: Lesson, versions: Sequence[Version]
) -> PlayersPart | None:
    """The author's part with its bars as they are played; None where it has not all notes."""
    melody = lesson.melody
    played = replace(original, bars=tuple(bar.printed for bar in melody.bars))
    ids = ids_in(played, melody)
    scores: list[bytes] = []
    notes: tuple[InkedNote, ...] = ()
    for version in versions:
        marking = version.marking or as_its_author_marked(melody, lesson.marking)
        slurs = lesson.slurs and version.marking is not None
        content = annotated_score(played, melody, marking, slurs=slurs)
        found = _named(own_part(content, ids), melody, ids)
        if found is None:
            return None
        score, notes = found
        scores.append(score)
    return PlayersPart(
        tuple(scores),
        tuple(stressed_ids(ids, each.marking) for each in versions),
        notes,
        credits_of(scores[0]),
    )


def _named(
    score: bytes, melody: Melody, ids: Sequence[str]
) -> tuple[bytes, tuple[InkedNote, ...]] | None:
    """The score with a name for every note tied on, and its written notes in order."""
    from lxml import etree

    root = parsed(score)
    bars = part_bars(next(root.iterchildren("part")))
    inked = tuple(_inked(bars, melody, ids))
    if len(bars) != len(melody.bars) or len({each.note for each in inked}) != len(melody):
        return None
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8"), inked


def _inked(bars: Sequence[PartBar], melody: Melody, ids: Sequence[str]) -> Iterator[InkedNote]:
    """The melody's written notes; those tied on get a name after the one they belong to."""
    notes = {name: index for index, name in enumerate(ids)}
    held: dict[tuple[str, ...], int] = {}
    for bar, place in zip(bars, melody.bars, strict=False):
        for placed in bar.all("note"):
            element, height = placed.element, height_of(placed.element)
            tick = place.onset + round(placed.at * TICKS)
            note = notes.get(element.get("id", ""))
            if note is None and _is_tied(element, "stop") and height in held:
                note = held[height]
                element.set("id", f"{ids[note]}-from-{tick}")
            if note is None:
                continue
            held.pop(height, None)
            if _is_tied(element, "start"):
                held[height] = note
            yield InkedNote(element.get("id", ""), tick, note)


def _is_tied(note: etree._Element, side: str) -> bool:
    return any(tie.get("type") == side for tie in note.iterchildren("tie"))
