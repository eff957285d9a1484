"""A melody over its band: count-in, choruses, ending."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from phrasing.band.band import PLAYERS, Backing, Player, accompany
from phrasing.band.drums import Clicks
from phrasing.band.edges import ENDINGS, INTROS, Ending, Intro
from phrasing.band.form import Passage
from phrasing.band.voicing import Instrument as Comping
from phrasing.errors import PhrasingError
from phrasing.feel import Feel
from phrasing.lesson.lesson import Lesson
from phrasing.lesson.request import BandRequest
from phrasing.marking.marking import Marking
from phrasing.performing.dynamics import Shape, velocities
from phrasing.performing.performance import (
    Part,
    Performance,
    joined,
    moved,
    of_notes,
    perform,
)
from phrasing.score.instruments import Instrument
from phrasing.score.melody import Melody

PLAIN, SHAPED, OFF = "plain", "shaped", "off"
MELODY_WAYS = (PLAIN, SHAPED, OFF)
CLICKS: dict[str, Clicks] = {"all": "all", "2,4": "2,4"}


def players_of(request: BandRequest) -> tuple[Player, ...]:
    """Who plays; ``PhrasingError`` for a player that the band does not have.

    >>> from phrasing.lesson.request import BandRequest
    >>> players_of(BandRequest(mute=("drums",)))
    ('bass', 'chords')
    """
    for name in (*request.parts, *request.mute):
        if name not in PLAYERS:
            raise PhrasingError(f"The band has no “{name}”; choose of {', '.join(PLAYERS)}.")
    wanted = request.parts or PLAYERS
    return tuple(p for p in PLAYERS if p in wanted and p not in request.mute)


def band_for(lesson: Lesson, request: BandRequest) -> Backing:
    """The band that plays a lesson's piece; raises ``PhrasingError`` for what it cannot.

    >>> from phrasing.lesson.request import BandRequest
    >>> from phrasing.lesson.lesson import lesson_on
    >>> from phrasing.lesson.request import Request
    >>> song = lesson_on(chart("| Dm7 | G7 | C6 | C6 |"), folder / "song.chart", Request())
    >>> [part.name for part in band_for(song, BandRequest(mute=("drums",))).parts]
    ['Bass', 'Piano', 'Count-in']
    """
    comping: Comping = "guitar" if request.comping == "guitar" else "piano"
    for name, value, choices in (
        ("--comping", request.comping, ("piano", "guitar")),
        ("--clicks", request.clicks, tuple(CLICKS)),
        ("--intro", request.intro, INTROS),
        ("--ending", request.ending, ENDINGS),
    ):
        if value not in choices:
            known = f"{', '.join(choices[:-1])} or {choices[-1]}"
            raise PhrasingError(f"{name} {value}: choose {known}.")
    return accompany(
        lesson.melody,
        lesson.feel,
        choruses=request.choruses,
        count_in=request.count_in,
        clicks=CLICKS[request.clicks],
        intro=cast(Intro, request.intro),
        ending=cast(Ending, request.ending),
        trade=request.trade,
        parts=players_of(request),
        comping=comping,
        head_in_two=request.two,
        style=lesson.style,
        marking=lesson.marking,
        seed=request.seed,
    )


def melody_over(
    backing: Backing,
    melody: Melody,
    marking: Marking | None,
    instrument: Instrument,
    shape: Shape | None = None,
) -> Part:
    """The melody in every chorus of the form, laid back on the ride, growing with the band.

    ``shape`` as in ``perform``.
    """
    chorus = perform(
        melody, marking, backing.feel, instrument=instrument, lay_back=True, shape=shape
    )
    form, feel = backing.form, backing.feel
    passages = [
        _louder(_passage(chorus.parts[0], melody, each), feel.band.grown(each.chorus), feel)
        for each in form.passages()
    ]
    return replace(joined(passages), place=0.0)


def _passage(part: Part, melody: Melody, passage: Passage) -> Part:
    """The notes of a chorus that a passage has, where it has them."""
    if passage.is_whole:
        return moved(part, passage.shift)
    notes = of_notes(part, np.flatnonzero(passage.holds(melody.onset)))
    return moved(replace(notes, release=passage.ends(notes.release)), passage.shift)


def _louder(part: Part, decibels: float, feel: Feel) -> Part:
    level = part.level + decibels
    return replace(part, level=level, velocity=velocities(level, feel))


def play_along(lesson: Lesson, backing: Backing, way: str = SHAPED) -> Performance:
    """The band with the melody plain, shaped or left out (``off``).

    Raises ``PhrasingError`` for another way, for a melody that is not there, and where nobody
    is left to play.
    """
    if way not in MELODY_WAYS:
        raise PhrasingError(f"The melody “{way}”? Choose {', '.join(MELODY_WAYS)}.")
    melody: Sequence[Part] = ()
    if way != OFF and not len(lesson.melody):
        raise PhrasingError(
            f"{lesson.source}: has chords but no melody to put on top; leave out --with-melody."
        )
    if way == OFF and len(backing.parts) == bool(backing.form.counted):
        raise PhrasingError("Nobody is left to play: mute fewer of bass, drums, chords.")
    if way != OFF and not backing.form.heads:
        raise PhrasingError(
            "The melody has no chorus left to play in: trade in two choruses or more."
        )
    if way != OFF:
        marking, shape = (lesson.marking, lesson.cut_shape) if way == SHAPED else (None, None)
        melody = [melody_over(backing, lesson.melody, marking, lesson.instrument, shape)]
    return backing.performance(lesson.melody.title, melody)
