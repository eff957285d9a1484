"""The page to practise from, and a playlist of the same files (M3U8: UTF-8 M3U).

The page stands beside its sound files and plays them one by one, with the notes of the step
that is played; its look, its score and its manners are those of the listening page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Any

import numpy as np

from phrasing.lesson.exercises import Exercise
from phrasing.lesson.lesson import Lesson
from phrasing.lesson.versions import plain_version, shaped_version
from phrasing.page.recordings import embedded, sound_facts
from phrasing.page.score import draw_score, layouts
from phrasing.page.scripts import bundled, static
from phrasing.page.template import as_json, filled, key_of, policy, text
from phrasing.paper.fonts import Style, faces_for
from phrasing.performing.performance import Performance
from phrasing.score.marks import MARK_NAMES, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.transposing import as_written
from phrasing.score.words import bar_name, where
from phrasing.sound.packing import Packed

CAUTION = (
    "Start with the volume low. Rest as long as you play, and stop where anything hurts: lip, "
    "jaw, hands or ears. What your teacher or doctor says goes before this plan."
)
STYLES = ("page.css", "practice.css", "print.css")


@dataclass(frozen=True)
class Entry:
    """One sound file: the heading it stands under, its title, its name, how long it lasts.

    ``exercise``: what is played in it, None where there are no notes to show. ``starts``:
    seconds of the file before its performance begins. ``sound``: the same sound for the page
    to carry, None where it is to play the file beside it.
    """

    group: str
    title: str
    file: str
    seconds: float
    exercise: Exercise | None = None
    starts: float = 0.0
    sound: Packed | None = None


def playlist(title: str, entries: Sequence[Entry]) -> str:
    """The entries as an M3U8 playlist, in their order.

    >>> playlist("Late Bus", [Entry("Phrases", "Bar 1", "1.mp3", 4.0)])
    '#EXTM3U\\n#PLAYLIST:Late Bus\\n#EXTINF:4,Bar 1\\n1.mp3\\n'
    """
    lines = ["#EXTM3U", f"#PLAYLIST:{_one_line(title)}"]
    for entry in entries:
        lines += [f"#EXTINF:{round(entry.seconds)},{_one_line(entry.title)}", entry.file]
    return "\n".join(lines) + "\n"


def practice_page(title: str, entries: Sequence[Entry]) -> str:
    """A page that plays step by step what it carries, or the files beside it; no more."""
    lessons = _lessons(entries)
    scores = [_Score.of(lesson) for lesson in lessons.values()]
    places = {key: number for number, key in enumerate(lessons)}
    known: dict[str, Any] = {
        "title": title,
        "inside": all(entry.sound for entry in entries),
        "steps": [_step(entry, places) for entry in entries],
        "scores": [score.facts for score in scores],
    }
    known["key"] = key_of(known)
    style = faces_for(_words(scores)) + "".join(map(static, STYLES))
    script = bundled("practising")
    blanks = {
        "policy": policy(style, script, "media-src 'self' file: blob:"),
        "style": style,
        "script": script,
        "title": text(title),
        "minutes": duration(sum(entry.seconds for entry in entries)),
        "caution": text(CAUTION),
        "glyphs": "".join(_glyphs(scores).values()),
        "scores": "\n".join(_section(number, score) for number, score in enumerate(scores)),
        "plan": _plan(entries),
        "recordings": "\n".join(_recordings(entries)),
        "facts": as_json(known),
    }
    return filled(static("practice.html"), blanks)


def _recordings(entries: Sequence[Entry]) -> Iterator[str]:
    for number, entry in enumerate(entries):
        if entry.sound:
            yield from embedded(f"step-{number}", entry.sound)


# The notes


def _music(lesson: Lesson) -> bytes:
    """What tells a melody from the same one in another key."""
    return lesson.melody.pitch.tobytes()


def _lessons(entries: Sequence[Entry]) -> dict[bytes, Lesson]:
    """The melody in each key in which a step has it, once."""
    found: dict[bytes, Lesson] = {}
    for entry in entries:
        if entry.exercise:
            found.setdefault(_music(entry.exercise.lesson), entry.exercise.lesson)
    return found


@dataclass(frozen=True)
class _Score:
    """The melody in one key: layouts as HTML, their glyphs and words, what scripts are told."""

    html: str
    glyphs: dict[str, str]
    words: dict[Style, str]
    facts: dict[str, Any]

    @classmethod
    def of(cls, lesson: Lesson) -> _Score:
        """The score of a lesson as it is shaped."""
        read = as_written(lesson.melody, lesson.instrument)
        versions = (plain_version(lesson), shaped_version(lesson))
        drawn = draw_score(lesson, read, versions, shown=1, tempo=False)
        return cls(layouts(drawn), drawn.glyphs, drawn.words, _facts(lesson, read))


def _facts(lesson: Lesson, read: Melody) -> dict[str, Any]:
    codes = lesson.marking.mark.tolist()
    marks = [None if code == UNMARKED else MARK_NAMES[code] for code in codes]
    bars = lesson.melody.bar_index.tolist()
    return {
        "shown": 1,
        "notes": [{"place": where(read, i), "bar": bar} for i, bar in enumerate(bars)],
        "versions": [
            {"shaped": False, "mark": [None] * len(marks)},
            {"shaped": True, "mark": marks},
        ],
    }


def _words(scores: Sequence[_Score]) -> dict[Style, str]:
    said: dict[Style, str] = {}
    for style, signs in (item for score in scores for item in score.words.items()):
        said[style] = said.get(style, "") + signs
    return said


def _glyphs(scores: Sequence[_Score]) -> dict[str, str]:
    return {name: glyph for score in scores for name, glyph in score.glyphs.items()}


def _section(number: int, score: _Score) -> str:
    return (
        f'<section class="score" id="score-{number}" aria-label="Notes">{score.html}</section>'
    )


# The steps


def _step(entry: Entry, places: dict[bytes, int]) -> dict[str, Any]:
    """A step for the scripts: its file, its score, and when which of its notes sounds."""
    step: dict[str, Any] = {
        "title": entry.title,
        "file": entry.file,
        "seconds": round(entry.seconds, 2),
        "score": None,
    }
    if entry.sound:
        step["sound"] = sound_facts(entry.sound)
    exercise = entry.exercise
    if exercise is None:
        return step | {"struck": [], "whole": [0.0, entry.seconds]}
    seconds = exercise.performance.tempos.seconds
    step |= {"score": places[_music(exercise.lesson)], "tempo": round(exercise.tempo)}
    step |= {"bars": _shown_bars(exercise), "first": exercise.bars[0]}
    struck = np.unique(np.concatenate([part.onset for part in exercise.performance.parts]))
    step["struck"] = _rounded(seconds(struck) + entry.starts)
    step["whole"] = _rounded(seconds([0, _end(exercise.performance)]) + entry.starts)
    return step | _bars(entry, exercise) | _notes(entry, exercise)


def _end(performance: Performance) -> int:
    """The end (tick) of the bar in which the last note begins, for those who go round."""
    end, bar = performance.end, performance.bars[-1].length
    last = max(int(part.onset.max(initial=0)) for part in performance.parts)
    return end + max(0, (last - end) // bar + 1) * bar


def _shown_bars(exercise: Exercise) -> list[int]:
    """The first and the last bar of what is sung, its pickup and its last note included."""
    part, melody = exercise.sung, exercise.lesson.melody
    if part is None:
        return list(exercise.bars)
    own = melody.bar_index[part.source[part.source >= 0]]
    return [int(own.min()), int(own.max())]


def _bars(entry: Entry, exercise: Exercise) -> dict[str, Any]:
    """The names of a step's bars, and from when to when they last where each comes once."""
    low, high = exercise.bars
    bars = exercise.lesson.melody.bars[low : high + 1]
    named: dict[str, Any] = {"names": [bar_name(bar) for bar in bars]}
    if exercise.later is None:
        return named
    ticks = [bars[0].onset, *(bar.onset + bar.length for bar in bars)]
    edges = _rounded(
        exercise.performance.tempos.seconds(np.array(ticks) + exercise.later) + entry.starts
    )
    return named | {"times": [list(pair) for pair in pairwise(edges)]}


def _notes(entry: Entry, exercise: Exercise) -> dict[str, Any]:
    """The notes that are sung in a step, and when they begin and end."""
    part, seconds = exercise.sung, exercise.performance.tempos.seconds
    if part is None:
        return {"notes": [], "onset": [], "release": []}
    own = np.flatnonzero(part.source >= 0)
    return {
        "notes": part.source[own].tolist(),
        "onset": _rounded(seconds(part.onset[own]) + entry.starts),
        "release": _rounded(seconds(part.release[own]) + entry.starts),
    }


def _rounded(seconds: Any) -> list[float]:
    return [round(float(each), 3) for each in np.asarray(seconds)]


def _plan(entries: Sequence[Entry]) -> str:
    """The whole plan: a list under each heading; its links lead to the files themselves."""
    number, lines = 0, []
    for heading, of_group in groupby(entries, key=lambda entry: entry.group):
        group = list(of_group)
        minutes = duration(sum(entry.seconds for entry in group))
        rows = "".join(_row(number + k, entry) for k, entry in enumerate(group))
        lines.append(f"<h3>{text(heading)} <small>{minutes}</small></h3>\n<ol>\n{rows}</ol>\n")
        number += len(group)
    return "".join(lines)


def _row(number: int, entry: Entry) -> str:
    title = text(entry.title)
    return (
        f'<li><input type="checkbox" data-done="{number}" aria-label="Done: {title}">'
        f'<a href="{text(entry.file)}" data-step="{number}">{title}</a>'
        f"<small>{clock(entry.seconds)}</small></li>\n"
    )


def duration(seconds: float) -> str:
    """A length of time as people say it: "45 seconds", "12 minutes"."""
    if seconds < 90:
        return f"{round(seconds)} seconds"
    return f"{round(seconds / 60)} minutes"


def clock(seconds: float) -> str:
    """A length of time as clocks show it.

    >>> clock(75.4)
    '1:15'
    """
    return f"{round(seconds) // 60}:{round(seconds) % 60:02}"


def _one_line(words: str) -> str:
    return " ".join(words.split())
