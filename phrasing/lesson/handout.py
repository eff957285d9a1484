"""A lesson as a sheet on disk."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any, get_args

from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import Lesson
from phrasing.paper.annotating import SwingSign, annotated_score
from phrasing.paper.musicxml import new_score
from phrasing.paper.original import Original
from phrasing.paper.sheet import Layout, write_sheet
from phrasing.performing.swing import swinging
from phrasing.score.transposing import Move

LAYOUTS: tuple[Layout, ...] = get_args(Layout)
TENTHS = 10
"""A printed ratio is rounded to so many parts: 1.74 becomes 17 : 10, 1.98 2 : 1."""


def write_handout(
    lesson: Lesson,
    path: Path,
    *,
    layout: str = "marked",
    reasons: bool = False,
    paper: str = "a4",
) -> tuple[Path, ...]:
    """Write the lesson's sheet; see ``sheet.write_sheet``. Returns the files written."""
    if layout not in LAYOUTS:
        raise PhrasingError(f"--layout {layout}: choose one of {', '.join(LAYOUTS)}.")
    return write_sheet(
        lesson.melody,
        lesson.marking,
        path,
        instrument=lesson.instrument,
        swing=whole_ratio(lesson.ratio),
        paper=paper,
        layout=layout,
        reasons=reasons,
        source=original_of(lesson),
        slurs=lesson.slurs,
    )


def missing_signs(lesson: Lesson) -> tuple[str, ...]:
    """A sentence if words of the sheet have signs that no fount at hand has, else none.

    >>> missing_signs(lesson("C5:2 D5:2"))
    ()
    """
    from phrasing.paper.scripts import unprintable

    melody = lesson.melody
    words = [melody.title, *(s.name for s in melody.sections), *(c.text for c in melody.chords)]
    missing = unprintable("".join([*words, *_words_of(lesson)]))
    if not missing:
        return ()
    signs = "signs" if len(missing) > 1 else "sign"
    return (
        f"No fount on this computer draws the {signs} “{missing[:20]}”, left out of the sheet; "
        "install one for that script and print it again.",
    )


def _words_of(lesson: Lesson) -> list[str]:
    """What the author's score says in words, names and lyrics."""
    from phrasing.reading.musicxml.file import open_score

    if not lesson.melody.ids:
        return []
    said = open_score(lesson.source).iter("words", "text", "creator", "part-name")
    return [element.text or "" for element in said]


def marked_score(lesson: Lesson) -> bytes:
    """The lesson as MusicXML: the author's own score with the marks, or a new one.

    Where the melody was moved, cut or given to another instrument, so is the author's score. A
    new one is written where there is none to add to, for a MIDI file.

    >>> marked_score(lesson("C5:2 D5:2")).startswith(b"<?xml")
    True
    """
    told: dict[str, Any] = {"swing": whole_ratio(lesson.ratio), "slurs": lesson.slurs}
    original = original_of(lesson)
    if original is None:
        return new_score(lesson.melody, lesson.marking, instrument=lesson.instrument, **told)
    return annotated_score(
        original, lesson.melody, lesson.marking, later=_later_swings(lesson), **told
    )


def original_of(lesson: Lesson) -> Original | None:
    """The author's score and what the lesson changes in it; None where there is none.

    >>> original_of(lesson("C5:2 D5:2")) is None
    True
    """
    melody = lesson.melody
    if not melody.ids:
        return None
    return Original(
        lesson.source,
        lesson.move,
        Move(lesson.move.semitones - 12 * lesson.octave, lesson.move.fifths),
        lesson.instrument,
        lesson.is_given_away,
        tuple(bar.printed for bar in melody.bars) if lesson.is_cut else (),
    )


def _later_swings(lesson: Lesson) -> list[SwingSign]:
    """Where the swing changes on the way, and to which ratio."""
    tempos = lesson.melody.tempos
    return [
        SwingSign(way.onset, whole_ratio(float(way.at(tempos.at(way.onset)))), way.sixteenths)
        for way in swinging(lesson.melody, lesson.feel.swing)[1:]
    ]


def whole_ratio(ratio: float) -> tuple[int, int]:
    """A ratio, rounded to a tenth, in whole numbers in lowest terms, as MusicXML wants it."""
    simple = Fraction(round(ratio * TENTHS), TENTHS)
    return simple.numerator, simple.denominator
