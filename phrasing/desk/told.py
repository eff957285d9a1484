"""What a page of the desk is told about a melody: everything it shows, in words and numbers."""

from __future__ import annotations

import dataclasses
import hashlib
import shlex
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from phrasing.desk.changes import BAND, FEEL, RULE, lines_of, marks_of, own_of
from phrasing.desk.doubts import doubts_of
from phrasing.desk.keeping import places_of
from phrasing.desk.things import told_things
from phrasing.desk.work import Work
from phrasing.feel import Feel, limits_of
from phrasing.lesson.lesson import Lesson
from phrasing.lesson.versions import HEARD
from phrasing.marking.ownsounds import LIMITS, PLACES
from phrasing.marking.precedence import RULE_NAMES
from phrasing.page.facts import facts, rule_uses
from phrasing.score.instruments import INSTRUMENTS
from phrasing.score.marks import MARKS
from phrasing.score.meters import FASTEST, SLOWEST
from phrasing.style import STYLES

HANDLES = ("level", "gate", "brightness")
"""The numbers of a mark's sound that have sliders, and handles on the notes' blocks."""
BAND_HEARD = ("onset", "release", "pitch", "velocity")
"""The columns in which a band can play otherwise."""
WORDS = {"level": "level, dB", "gate": "length", "brightness": "brightness"}


def told(work: Work) -> dict[str, Any]:
    """Everything about the melody but its sound and its notes on paper.

    The versions, bars and notes are as on a listening page; beside them stand what was
    decided, what can be decided, and what to type for the same at a terminal.
    """
    lesson = work.lesson
    return {
        "title": lesson.melody.title or work.path.stem,
        "file": work.path.name,
        "sentence": sentence_parts(lesson),
        "warnings": list(lesson.warnings),
        "facts": facts(lesson, work.as_read, work.versions, rule_uses(lesson, work.as_read)),
        "doubts": [dataclasses.asdict(doubt) for doubt in doubts_of(work)],
        "own": sorted({*marks_of(work.held), *own_of(work.held)}),
        "alone": _alone(work),
        "lines": [dataclasses.asdict(line) for line in lines_of(work.held)],
        "marks": [{"name": mark.name, "sound": mark.sound} for mark in MARKS],
        "rules": list(_rules(work)),
        "feel": list(_sliders(work)),
        "steps": [dataclasses.asdict(step) for step in work.steps],
        "readings": [reading.name for reading in work.readings],
        "command": command(work),
        "choices": _choices(),
        "band": _band(work),
        "things": told_things(bool(lesson.melody.chords)),
    }


def sentence_parts(lesson: Lesson) -> dict[str, Any]:
    """What the sentence over the notes says: its words and numbers by name."""
    return {
        "style": lesson.style.name,
        "why": lesson.style_sentence,
        "tempo": round(lesson.tempo, 2),
        "ratio": round(lesson.ratio, 2),
        "instrument": lesson.instrument.key,
        "instrument_name": lesson.instrument.name,
        "strength": lesson.feel.strength,
    }


def _band(work: Work) -> str | None:
    """What tells one band's playing from another's; empty without a band, None without chords
    for one to play."""
    if not work.lesson.melody.chords:
        return None
    told = hashlib.sha256()
    for part in work.band.parts if work.band else ():
        for column in BAND_HEARD:
            told.update(np.ascontiguousarray(getattr(part, column)).tobytes())
    return told.hexdigest()[:16] if work.band else ""


def _choices() -> dict[str, Any]:
    return {
        "styles": [{"key": style.name, "name": style.title} for style in STYLES],
        "instruments": [{"key": each.key, "name": each.name} for each in INSTRUMENTS],
        "tempo": [SLOWEST, FASTEST],
    }


def _rules(work: Work) -> Iterator[dict[str, Any]]:
    """Every rule: whether it plays, and the notes that it shapes now."""
    marking = work.lesson.marking
    resting = {key.removeprefix(RULE) for key in work.held if key.startswith(RULE)}
    uses = {use.name: use.notes for use in rule_uses(work.lesson, work.lesson.melody)}
    for name in RULE_NAMES:
        yield {
            "name": name,
            "plays": name not in resting and name not in marking.left_out,
            "notes": uses.get(name, []),
        }


def _sliders(work: Work) -> Iterator[dict[str, Any]]:
    """Strength, and level, length and brightness of each mark, with their limits."""
    feel, usual = work.lesson.feel, work.lesson.style.played()
    yield _slider(work, Feel, "strength", "strength", feel.strength, usual.strength)
    for mark, sound in feel.sounds.items():
        for name in HANDLES:
            yield _slider(
                work,
                type(sound),
                name,
                f"sounds.{mark}.{name}",
                getattr(sound, name),
                getattr(usual.sounds[mark], name),
            ) | {"mark": mark}


def _alone(work: Work) -> dict[str, Any]:
    """Level and length of single notes at full strength, and which of them are their own."""
    lesson, own = work.lesson, own_of(work.held)
    shape = replace(lesson, feel=replace(lesson.feel, strength=1.0)).shape
    return {
        what: {
            "limits": LIMITS[what],
            "values": [round(float(v), PLACES[what]) for v in getattr(shape, what)],
            "own": {n: v for n, s in own.items() if (v := getattr(s, what)) is not None},
        }
        for what in LIMITS
    }


def _slider(
    work: Work, kind: type, name: str, place: str, value: float, usual: float
) -> dict[str, Any]:
    least, most = limits_of(kind, name)
    return {
        "key": FEEL + place,
        "name": WORDS.get(name, name),
        "value": value,
        "usual": usual,
        "least": least,
        "most": most,
        "own": FEEL + place in work.held,
    }


def command(work: Work) -> str:
    """What to type at a terminal for the same."""
    words = ["phrasing", "shape", work.path.name, *words_of(work)]
    return " ".join(map(shlex.quote, words))


def words_of(work: Work) -> list[str]:
    """The options that stand for what was decided."""
    kept = ["--options", places_of(work.path).options.name] if work.steps else []
    return [*kept, *(["--backing"] if work.held.get(BAND) else [])]


def touched(before: Work, after: Work) -> tuple[float, float] | None:
    """The seconds of the shaped version, from the melody's start, that a change is heard in.

    None where nothing is heard otherwise; all of it where notes came to lie elsewhere.
    """
    one, two = before.versions[1], after.versions[1]
    if not np.array_equal(one.onset, two.onset) or _band(before) != _band(after):
        return 0.0, float(two.release.max(initial=0.0))
    parts = [(getattr(one.part, name), getattr(two.part, name)) for name in HEARD]
    same_rows = all(len(a) == len(b) for a, b in parts)
    other = np.logical_or.reduce([a != b for a, b in parts]) if same_rows else None
    if other is None:
        return 0.0, float(two.release.max(initial=0.0))
    rows = np.flatnonzero(other[two.rows])
    if len(rows) == 0:
        return None
    first, last = int(rows[0]), int(rows[-1])
    ends = max(one.release[first : last + 1].max(), two.release[first : last + 1].max())
    return float(two.onset[first]), float(ends)
