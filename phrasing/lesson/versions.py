"""The ways to hear one melody side by side: plain, shaped, and what else a teacher asks for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import Lesson, open_lesson
from phrasing.lesson.request import Request
from phrasing.marking.marking import Marking
from phrasing.marking.readings import NONE, READINGS
from phrasing.performing.dynamics import Shape, plain_shape
from phrasing.performing.performance import Curve, Part, Performance
from phrasing.score.meters import Floats, Ints

MOST = 9
"""Versions at most: each has a number key."""
LONGEST_NAME = 40
HEARD = ("onset", "release", "pitch", "velocity", "level", "brightness")
"""The columns of a part in which a note can sound otherwise."""


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

    def sounds_like(self, other: Version) -> bool:
        """Whether every note is played the same in both."""
        one, two = self.part, other.part
        columns = all(np.array_equal(getattr(one, name), getattr(two, name)) for name in HEARD)
        return (
            columns
            and len(one.curves) == len(two.curves)
            and all(map(_same_curve, one.curves, two.curves))
        )

    def _seconds(self, ticks: Ints) -> Floats:
        """Seconds from the melody's first bar."""
        return np.asarray(self.performance.tempos.seconds(ticks)) - self.starts


def plain_version(lesson: Lesson, name: str = "plain", *, straight: bool = False) -> Version:
    """The melody unshaped, swung or with even eighths.

    >>> plain_version(lesson("C5:2 D5:2")).shape.level.tolist()
    [0.0, 0.0]
    """
    shape = plain_shape(lesson.melody, lesson.feel)
    return Version(name, lesson.plain(straight=straight), shape)


def shaped_version(lesson: Lesson, name: str = "shaped") -> Version:
    """The melody as its marks ask.

    >>> shaped_version(lesson("C5:2 D5:2")).shape.level.tolist()
    [4.5, 4.5]
    """
    return Version(name, lesson.shaped(), lesson.shape, lesson.marking, lesson.written_reasons)


def _same_curve(one: Curve, two: Curve) -> bool:
    same_ticks = np.array_equal(one.ticks, two.ticks)
    return one.kind == two.kind and same_ticks and np.array_equal(one.values, two.values)


Tell = Callable[[str], None]


def versions_of(
    lesson: Lesson,
    request: Request,
    *,
    straight: bool = False,
    readings: bool = False,
    without: tuple[str, ...] = (),
    variants: tuple[str, ...] = (),
    tell: Tell = lambda sentence: None,
) -> tuple[Version, ...]:
    """Plain, shaped, and the others asked for, in the order of the page's buttons.

    ``request`` is the one that ``lesson`` was opened with. ``straight``: even eighths,
    unshaped. ``readings``: the second reading of each choice that schooled players differ in.
    ``without``: rules to leave out, one version each. ``variants``: ``NAME=FILE``, each a
    marks table. ``tell`` is called with a sentence for each that is not made, since it would
    sound as another does. Raises ``PhrasingError`` for what is none of these, and for a
    variant that sounds like another version.

    >>> from phrasing.lesson.request import Request
    >>> found = versions_of(lesson("C5:2 D5:2"), Request())
    >>> [version.name for version in found]
    ['plain', 'shaped']
    """
    versions = [plain_version(lesson), shaped_version(lesson)]
    if straight:
        even = plain_version(lesson, "straight", straight=True)
        _add(versions, even, EVEN_ALREADY, tell)
    if readings:
        _add_readings(versions, lesson, request, tell)
    for rule in without:
        left_out = replace(request, leave_out=(*request.leave_out, rule))
        other = shaped_version(open_lesson(lesson.source, left_out), f"without {rule}")
        _add(versions, other, CHANGES_NOTHING.format(rule), tell)
    for variant in _variants(lesson, request, variants):
        _check_variant(versions, variant)
        versions.append(variant)
    if len(versions) > MOST:
        raise PhrasingError(f"{len(versions)} versions are too many; choose up to {MOST}.")
    return tuple(versions)


EVEN_ALREADY = (
    "The eighths are even already, so there is no straight version beside the plain one."
)
CHANGES_NOTHING = "“{}” changes nothing in this melody, so there is no version without it."
AGREED = "Schooled players agree on this melody: there is no second reading of it."


def _add(versions: list[Version], version: Version, otherwise: str, tell: Tell) -> None:
    """Add a version, or tell why not where it sounds like one that is there."""
    _check_name(versions, version)
    if any(version.sounds_like(other) for other in versions):
        tell(otherwise)
    else:
        versions.append(version)


def _add_readings(
    versions: list[Version], lesson: Lesson, request: Request, tell: Tell
) -> None:
    open_to = {READINGS[k] for k in set(lesson.marking.reading.tolist()) if k != NONE}
    before = len(versions)
    for choice in READINGS:
        if choice in open_to:
            other = open_lesson(lesson.source, replace(request, second_reading=choice.name))
            version = replace(shaped_version(other, choice.name), about=choice.trade_off)
            _add(versions, version, "", lambda sentence: None)
    if len(versions) == before:
        tell(AGREED)


def _variants(lesson: Lesson, request: Request, variants: tuple[str, ...]) -> Iterator[Version]:
    for text in variants:
        name, marks = _named(text)
        other = open_lesson(lesson.source, replace(request, marks=marks))
        yield shaped_version(other, name)


def _check_name(versions: Sequence[Version], version: Version) -> None:
    if version.name in [other.name for other in versions]:
        raise PhrasingError(f"Two versions are named “{version.name}”; give each its own name.")


def _check_variant(versions: Sequence[Version], variant: Version) -> None:
    _check_name(versions, variant)
    for other in versions:
        if variant.sounds_like(other):
            raise PhrasingError(
                f"Variant “{variant.name}” sounds the same as “{other.name}”: mark something"
                " else in its table, or leave it out."
            )


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
