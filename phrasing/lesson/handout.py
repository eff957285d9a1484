"""A lesson as a sheet on disk."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any, get_args

from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import Lesson
from phrasing.paper.annotating import annotated_score
from phrasing.paper.musicxml import new_score
from phrasing.paper.sheet import Layout, write_sheet

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
        source=lesson.source if _is_the_authors(lesson) else None,
        slurs=lesson.slurs,
    )


def marked_score(lesson: Lesson) -> bytes:
    """The lesson as MusicXML: the author's own score with the marks, or a new one.

    A new one is written where there is no score to add to: for a MIDI file, and where the
    melody is an excerpt or was transposed, so that the file says something else.

    >>> marked_score(lesson("C5:2 D5:2")).startswith(b"<?xml")
    True
    """
    told: dict[str, Any] = {"swing": whole_ratio(lesson.ratio), "slurs": lesson.slurs}
    if _is_the_authors(lesson):
        return annotated_score(lesson.source, lesson.melody, lesson.marking, **told)
    return new_score(lesson.melody, lesson.marking, instrument=lesson.instrument, **told)


def _is_the_authors(lesson: Lesson) -> bool:
    """Whether the lesson is a score as its author wrote it."""
    return lesson.is_as_in_file and bool(lesson.melody.ids)


def whole_ratio(ratio: float) -> tuple[int, int]:
    """A ratio, rounded to a tenth, in whole numbers in lowest terms, as MusicXML wants it."""
    simple = Fraction(round(ratio * TENTHS), TENTHS)
    return simple.numerator, simple.denominator
