"""A lesson as a sheet on disk."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import get_args

from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import Lesson
from phrasing.paper.annotating import annotated_score
from phrasing.paper.musicxml import new_score
from phrasing.paper.sheet import Layout, write_sheet

LAYOUTS: tuple[Layout, ...] = get_args(Layout)
SIMPLE = 10
"""The largest second number of a ratio in whole numbers: 1.74 becomes 7 : 4, 1.9 19 : 10."""


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
    )


def marked_score(lesson: Lesson) -> bytes:
    """The lesson as MusicXML: the author's own score with the marks, or a new one.

    A new one is written where there is no score to add to: for a MIDI file, and where the
    melody is an excerpt or was transposed, so that the file says something else.
    """
    ratio = whole_ratio(lesson.ratio)
    if _is_the_authors(lesson):
        return annotated_score(lesson.source, lesson.melody, lesson.marking, swing=ratio)
    return new_score(lesson.melody, lesson.marking, instrument=lesson.instrument, swing=ratio)


def _is_the_authors(lesson: Lesson) -> bool:
    """Whether the lesson is a score as its author wrote it."""
    return lesson.is_as_in_file and bool(lesson.melody.ids)


def whole_ratio(ratio: float) -> tuple[int, int]:
    """A ratio in small whole numbers in lowest terms, as MusicXML and readers want it."""
    simple = Fraction(ratio).limit_denominator(SIMPLE)
    return simple.numerator, simple.denominator
