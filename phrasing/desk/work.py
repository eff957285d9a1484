"""One melody on the desk: what was read, what was decided, and the lesson that makes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phrasing.desk.changes import (
    ASK,
    BAND,
    FEEL,
    GATE,
    LEVEL,
    LINE,
    MARK,
    NO_MARK,
    RULE,
    Decisions,
    Step,
    checked,
    decided,
    feel_of,
    lines_of,
    marks_of,
    notes_in,
    own_of,
    request_of,
    turned,
)
from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import Lesson, lesson_on, read_as_asked
from phrasing.lesson.request import BandRequest, Request
from phrasing.lesson.versions import LONGEST_NAME, MOST, Version, plain_version, shaped_version
from phrasing.score.instruments import instrument_named
from phrasing.score.marks import MARK_NAMES, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.transposing import as_written
from phrasing.score.words import where

if TYPE_CHECKING:
    from phrasing.band.band import Backing

PLAIN, SHAPED = "plain", "shaped"
GIVEN_BACK = "given back to the rules"


@dataclass(frozen=True)
class Reading:
    """A state of the desk that is kept as a version: its name and what was decided then."""

    name: str
    held: Decisions


Read = Callable[[Path, Request], Melody]


class Source:
    """A melody's file, read once for each way in which it can be asked for.

    ``read``: what reads it.
    """

    def __init__(self, path: Path, read: Read = read_as_asked) -> None:
        self.path = path
        self._reader = read
        self._read: dict[Request, Melody] = {}

    def melody(self, request: Request) -> Melody:
        """As it is asked for. The tempo counts for a take without a click alone: it decides
        how the beats are counted."""
        asked = Request(
            track=request.track,
            pickup=request.pickup,
            meter=request.meter,
            as_written=request.as_written,
        )
        found = self._once(asked)
        if not found.reading.is_free or request.tempo is None:
            return found
        return self._once(replace(asked, tempo=request.tempo))

    def _once(self, asked: Request) -> Melody:
        if asked not in self._read:
            self._read[asked] = self._reader(self.path, asked)
        return self._read[asked]


@dataclass(frozen=True, eq=False)
class Work:
    """A melody on the desk.

    ``asked``: what is wished besides what is decided here. ``steps`` are in the order in which
    they were done.
    """

    source: Source
    asked: Request
    steps: tuple[Step, ...] = ()
    readings: tuple[Reading, ...] = ()

    @property
    def path(self) -> Path:
        """The melody's file."""
        return self.source.path

    @cached_property
    def read(self) -> Melody:
        """The melody as it is in the file, read as it is decided."""
        return self.source.melody(request_of(decided(self.steps), self.asked))

    @cached_property
    def held(self) -> dict[str, Any]:
        """All decisions that hold; what names notes that are not there holds no more."""
        return self._fitting(decided(self.steps))

    def _fitting(self, held: Decisions) -> dict[str, Any]:
        count = len(self.read)
        return {key: v for key, v in held.items() if all(n < count for n in notes_in(key))}

    @cached_property
    def lesson(self) -> Lesson:
        """The melody as it is decided now; raises ``PhrasingError`` for what cannot be."""
        return self.lesson_with(self.held)

    def lesson_with(self, held: Decisions) -> Lesson:
        """The melody as it would be with these decisions."""
        return lesson_on(
            self.read,
            self.path,
            request_of(held, self.asked),
            author=marks_of(held),
            lines=lines_of(held),
            own=own_of(held),
            feel=feel_of(held),
        )

    @cached_property
    def versions(self) -> tuple[Version, ...]:
        """Plain, shaped, and the readings that were kept, in the order of their buttons."""
        plain = self._over_band(plain_version(self.lesson, PLAIN), self.lesson, PLAIN)
        readings = (
            self.shaped(self.lesson_with(self._at_this_tempo(reading)), reading.name)
            for reading in self.readings
        )
        return plain, self.shaped(self.lesson), *readings

    @cached_property
    def band(self) -> Backing | None:
        """The band that plays under all versions, where one is asked for and finds chords."""
        if not self.held.get(BAND) or not self.lesson.melody.chords:
            return None
        from phrasing.lesson.playalong import band_for

        return band_for(self.lesson, BandRequest(count_in=0, ending="none"))

    def shaped(self, lesson: Lesson, name: str = SHAPED) -> Version:
        """A lesson's shaped version, over the band if there is one."""
        return self._over_band(shaped_version(lesson, name), lesson, SHAPED)

    def _over_band(self, version: Version, lesson: Lesson, way: str) -> Version:
        if self.band is None:
            return version
        from phrasing.lesson.playalong import play_along

        played = play_along(lesson, self.band, way)
        return replace(version, performance=played, lead=self.band.form.offset(0))

    def _at_this_tempo(self, reading: Reading) -> dict[str, Any]:
        """A reading's marks and feel in the key, the tempo and for the horn of now.

        Versions are compared at the same instant, so all of them share these.
        """
        held = self._fitting(reading.held)
        other = {key: value for key, value in held.items() if not key.startswith(ASK)}
        return other | {key: value for key, value in self.held.items() if key.startswith(ASK)}

    @cached_property
    def as_read(self) -> Melody:
        """The melody of now as its player reads it, after which notes are named."""
        return as_written(self.lesson.melody, self.lesson.instrument)

    @property
    def last(self) -> Step | None:
        """The last step that stands."""
        return next((step for step in reversed(self.steps) if step.stands), None)


def laid_out(path: Path, asked: Request) -> Work:
    """A melody as it comes from its file; raises ``PhrasingError`` where there is none."""
    work = Work(Source(path), asked)
    if len(work.read) == 0:
        raise PhrasingError(f"{path}: has chords but no melody; “phrasing backing” plays it.")
    return work


def changed(work: Work, sets: Any, said: str | None = None) -> Work:
    """The work with one more step; raises ``PhrasingError`` for what cannot be done.

    ``sets``: keys and values as in ``changes``; ``said``: the step's sentence where the
    desk has a better one than can be found from the keys.
    """
    keys = checked(sets, len(work.read))
    number = max((step.number for step in work.steps), default=0) + 1
    step = Step(number, _cleared(work, keys), said or sentence(work, keys))
    return _possible(replace(work, steps=(*work.steps, step)))


def _cleared(work: Work, keys: dict[str, Any]) -> dict[str, Any]:
    """The keys, and with another part of the file nothing that was said of its notes."""
    track = ASK + "track"
    if track not in keys or keys[track] == work.held.get(track):
        return keys
    return {key: None for key in work.held if notes_in(key)} | keys


def taken_back(work: Work, number: int, stands: bool = False) -> Work:
    """The work with a step taken back, or put back (``stands``)."""
    return _possible(replace(work, steps=turned(work.steps, number, stands)))


def kept_reading(work: Work, name: Any) -> Work:
    """The work with the state of now kept as a reading of this name."""
    named = " ".join(str(name).split())
    taken = {PLAIN, SHAPED, *(reading.name for reading in work.readings)}
    if not named or len(named) > LONGEST_NAME:
        raise PhrasingError(f"A reading has a name of up to {LONGEST_NAME} letters.")
    if named in taken:
        raise PhrasingError(f"There is a reading “{named}” already; choose another name.")
    if len(work.readings) + 2 >= MOST:
        raise PhrasingError(f"{MOST} versions are as many as there are keys; drop one first.")
    return replace(work, readings=(*work.readings, Reading(named, work.held)))


def dropped_reading(work: Work, name: Any) -> Work:
    """The work without the reading of this name."""
    return replace(work, readings=tuple(r for r in work.readings if r.name != name))


def _possible(work: Work) -> Work:
    """The work, if its lesson can be made."""
    assert work.lesson is not None
    return work


def sentence(work: Work, sets: Mapping[str, Any]) -> str:
    """What a step does, in words: "bar 3, beat 2: tenuto became ghost"."""
    parts = [_said(work, key, value) for key, value in sets.items()]
    if len(parts) > 1 and all(key.startswith(MARK) for key in sets):
        return f"{len(parts)} notes from {_place(work, next(iter(sets)))}: {_mark_word(sets)}"
    return "; ".join(parts[:3]) + ("; and more" if len(parts) > 3 else "")


def _mark_word(sets: Mapping[str, Any]) -> str:
    values = set(sets.values())
    if values == {None}:
        return GIVEN_BACK
    return "changed" if len(values) > 1 else f"became {_no_mark(values.pop())}"


def _said(work: Work, key: str, value: Any) -> str:
    kind, _, name = key.partition(":")
    kind += ":"
    if kind == MARK:
        was = _word(work, int(name))
        return f"{_place(work, key)}: {_became(was, value)}"
    if kind in (LEVEL, GATE):
        return f"{_place(work, key)}: {_own_said(kind, value)}"
    if kind == LINE:
        return _line_said(work, name, value)
    if kind == RULE:
        does = "plays again" if value is None else "rests"
        return f"the rule {name.replace('-', ' ')} {does}"
    if kind == FEEL:
        words = name.removeprefix("sounds.").replace(".", " ").replace("_", " ")
        return f"{words}: {'as usual' if value is None else _short(value)}"
    if key == BAND:
        return "the band rests" if value is None else "a band plays along"
    return f"{name}: {'as in the file' if value is None else _asked(name, value)}"


def _became(was: str, value: Any) -> str:
    """What a mark that was so becomes; one that stays is from now on the teacher's own."""
    if value is None:
        return GIVEN_BACK
    now = _no_mark(value)
    return f"{now}, whatever the rules say" if now == was else f"{was} became {now}"


def _own_said(kind: str, value: Any) -> str:
    what = "level" if kind == LEVEL else "length"
    if value is None:
        return f"its {what} is given back to its mark"
    return f"its own {what}, {value:+g} dB" if kind == LEVEL else f"its own {what}, {value:.0%}"


def _line_said(work: Work, name: str, value: Any) -> str:
    drawn, first, last = name.split(":")
    places = [where(work.as_read, int(note)) for note in (first, last)]
    gone = " taken away" if value is None else ""
    if drawn == "end":
        return f"{places[0]}: end of the phrase{gone}"
    return f"{places[0]} to {places[1]}: {LINE_WORDS[drawn]}{gone}"


LINE_WORDS = {"slur": "slurred", "softer": "getting softer"}


def _asked(name: str, value: Any) -> str:
    return instrument_named(value).name if name == "instrument" else _short(value)


def _short(value: Any) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _place(work: Work, key: str) -> str:
    return where(work.as_read, notes_in(key)[0])


def _word(work: Work, note: int) -> str:
    code = int(work.lesson.marking.mark[note])
    return "no mark" if code == UNMARKED else MARK_NAMES[code]


def _no_mark(value: Any) -> str:
    return "no mark" if value == NO_MARK else str(value)
