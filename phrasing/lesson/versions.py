"""The ways to hear one melody side by side: plain, shaped, and what else a teacher asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import Lesson, open_lesson
from phrasing.lesson.request import Request
from phrasing.marking.marking import Marking
from phrasing.performing.dynamics import Shape, plain_shape
from phrasing.performing.performance import Part, Performance
from phrasing.score.melody import Floats, Ints

MOST = 9
"""Versions at most: each has a number key."""
LONGEST_NAME = 40
SECOND = "second reading"
"""The name of the version in which the other reading is played."""


@dataclass(frozen=True, eq=False)
class Version:
    """One way to hear a melody.

    ``shape`` has a level and a gate for each note of the melody. ``marking`` and ``reasons``
    (notes named as the instrument's player reads them) are None where nothing is shaped.
    ``lead``: ticks of the performance before the melody's first bar. ``about``: a sentence for
    those who choose it, such as what it gains and what it costs.
    """

    name: str
    performance: Performance
    shape: Shape
    marking: Marking | None = None
    reasons: tuple[str | None, ...] | None = None
    lead: int = 0
    about: str | None = None

    @cached_property
    def part(self) -> Part:
        """The part that plays the melody."""
        return next(part for part in self.performance.parts if (part.source >= 0).any())

    @cached_property
    def rows(self) -> Ints:
        """For each note of the melody, its row in the part's columns (not its grace notes')."""
        rows = np.empty(len(self.shape.level), dtype=np.int64)
        rows[self.part.source] = np.arange(len(self.part.source))
        return rows

    @property
    def onset(self) -> Floats:
        """When each note begins, in seconds."""
        return self._seconds(self.part.onset[self.rows])

    @property
    def release(self) -> Floats:
        """When each note is let go, in seconds."""
        return self._seconds(self.part.release[self.rows])

    @property
    def struck(self) -> Floats:
        """When anything at all is struck, by anybody: seconds, ascending."""
        onsets = [part.onset for part in self.performance.parts]
        return self._seconds(np.unique(np.concatenate(onsets)))

    @property
    def starts(self) -> float:
        """Seconds from the start of the performance to the melody's first bar."""
        return float(self.performance.tempos.seconds(self.lead))

    def _seconds(self, ticks: Ints) -> Floats:
        """Seconds from the melody's first bar."""
        return np.asarray(self.performance.tempos.seconds(ticks)) - self.starts


def plain_version(lesson: Lesson, name: str = "plain", *, straight: bool = False) -> Version:
    """The melody unshaped, swung or with even eighths."""
    shape = plain_shape(lesson.melody, lesson.feel)
    return Version(name, lesson.plain(straight=straight), shape)


def shaped_version(lesson: Lesson, name: str = "shaped") -> Version:
    """The melody as its marks ask."""
    return Version(name, lesson.shaped(), lesson.shape, lesson.marking, lesson.written_reasons)


def versions_of(
    lesson: Lesson,
    request: Request,
    *,
    straight: bool = False,
    without: tuple[str, ...] = (),
    variants: tuple[str, ...] = (),
    readings: bool = False,
) -> tuple[Version, ...]:
    """Plain, shaped, and the others asked for, in the order of the page's buttons.

    ``request`` is the one that ``lesson`` was opened with. ``straight``: even eighths,
    unshaped. ``without``: rules to leave out, one version each. ``variants``:
    ``NAME=FILE``, each a marks table. ``readings``: the second reading, where schooled players
    differ in this melody. Raises ``PhrasingError`` for what is none of these.
    """
    versions = [plain_version(lesson), shaped_version(lesson)]
    if readings and lesson.marking.has_second_reading:
        other = open_lesson(lesson.source, replace(request, second_reading=True))
        versions.append(shaped_version(other, SECOND))
    if straight:
        versions.append(plain_version(lesson, "straight", straight=True))
    versions += _others(lesson, request, without, variants)
    names = [version.name for version in versions]
    for name in names:
        if names.count(name) > 1:
            raise PhrasingError(f"Two versions are named “{name}”; give each its own name.")
    if len(versions) > MOST:
        raise PhrasingError(f"{len(versions)} versions are too many; choose up to {MOST}.")
    return tuple(versions)


def _others(
    lesson: Lesson, request: Request, without: tuple[str, ...], variants: tuple[str, ...]
) -> Iterator[Version]:
    for rule in without:
        left_out = (*request.leave_out, rule)
        other = open_lesson(lesson.source, replace(request, leave_out=left_out))
        yield shaped_version(other, f"without {rule}")
    for text in variants:
        name, marks = _named(text)
        other = open_lesson(lesson.source, replace(request, marks=marks))
        yield shaped_version(other, name)


def _named(text: str) -> tuple[str, Path]:
    name, equals, file = text.partition("=")
    name = " ".join(name.split())
    if not equals or not name or not file.strip():
        raise PhrasingError(
            f"Variant “{text}”: write its name, “=” and its marks table, such as "
            "“stress on top=top.csv”."
        )
    if len(name) > LONGEST_NAME:
        raise PhrasingError(f"Variant “{name}”: a name has up to {LONGEST_NAME} letters.")
    return name, Path(file.strip())
