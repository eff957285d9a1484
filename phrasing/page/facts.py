"""What the scripts are told: bars, notes, versions, and the rules with their places."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from phrasing.lesson.lesson import Lesson
from phrasing.lesson.versions import Version
from phrasing.marking.explaining import swell_reasons
from phrasing.marking.lines import LINE_RULES
from phrasing.marking.marking import Marking
from phrasing.marking.rules import RULES
from phrasing.score.marks import DECRESCENDO, MARK_NAMES, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.meters import Bar, Floats
from phrasing.score.words import bar_name, name_at, where

ONE_ATTACK = 0.05
"""Seconds: two notes struck closer together (a late soloist against the ride) are slowed down
as one."""


@dataclass(frozen=True)
class RuleUse:
    """Where a rule applied: the runs of notes (first, last) of which each is one instance.

    ``sentence``: about the first of them. ``effect``: what a rule over the line does, None
    for a rule that gives a note its mark. ``mark``: the sign it has, if it has one.
    """

    name: str
    sentence: str
    runs: tuple[tuple[int, int], ...]
    effect: str | None = None
    mark: str | None = None

    @property
    def notes(self) -> list[int]:
        """All notes of all runs."""
        return [note for first, last in self.runs for note in range(first, last + 1)]


def facts(
    lesson: Lesson, read: Melody, versions: Sequence[Version], uses: Sequence[RuleUse]
) -> dict[str, Any]:
    """Bars, notes, versions and rules, without the sound.

    ``read``: the melody as its player reads it, after whose notes the texts name them.

    >>> from phrasing.lesson.versions import shaped_version
    >>> tune = lesson("C5:2 D5:2")
    >>> facts(tune, tune.melody, [shaped_version(tune)], [])["bars"][0]["name"]
    'bar 1'
    """
    melody = lesson.melody
    return {
        "shown": shown(versions),
        "tempo": round(lesson.tempo, 3),
        "bars": [_bar(melody, bar) for bar in melody.bars],
        "notes": [
            {
                "name": name_at(read, i),
                "place": where(read, i),
                "bar": int(bar),
                "example": example(melody, i, i),
            }
            for i, bar in enumerate(melody.bar_index)
        ],
        "versions": [_version(version) for version in versions],
        "rules": [
            {
                "name": in_words(use.name),
                "notes": use.notes,
                "effect": use.effect,
                "first": example(melody, *use.runs[0]),
            }
            for use in uses
        ],
    }


def shown(versions: Sequence[Version]) -> int:
    """The version that a page opens with: the first shaped one.

    >>> from phrasing.lesson.versions import plain_version, shaped_version
    >>> tune = lesson("C5:2 D5:2")
    >>> shown([plain_version(tune), shaped_version(tune)])
    1
    """
    marked = (index for index, version in enumerate(versions) if version.marking)
    return next(marked, 0)


def _seconds(values: ArrayLike) -> list[float]:
    return [round(float(value), 5) for value in np.asarray(values)]


def _bar(melody: Melody, bar: Bar) -> dict[str, Any]:
    """A bar; ``count`` beats of ``beat`` seconds lead into it, strong every ``meter``."""
    beat = bar.meter.pulse
    start, one, end = melody.tempos.seconds(
        [bar.onset, bar.onset + beat, bar.onset + bar.length]
    )
    return {
        "name": bar_name(bar),
        "number": bar.number,
        "from": round(float(start), 5),
        "to": round(float(end), 5),
        "beat": round(float(one - start), 5),
        "meter": bar.meter.bar_length / beat,
        "count": (bar.meter.bar_length + bar.offset) / beat,
        "offset": bar.offset / beat,
    }


def _version(version: Version) -> dict[str, Any]:
    marks: list[str | None] = [None] * len(version.shape.level)
    if version.marking:
        marks = [
            None if code == UNMARKED else MARK_NAMES[code]
            for code in version.marking.mark.tolist()
        ]
    return {
        "name": version.name,
        "shaped": version.marking is not None,
        "about": version.about,
        "onset": _seconds(version.onset),
        "struck": _seconds(_apart(version.struck)),
        "release": _seconds(version.release),
        "level": [round(float(level), 1) for level in version.shape.level],
        "mark": marks,
        "why": list(version.reasons or marks),
    }


def _apart(struck: Floats) -> Floats:
    """The times without those that follow another so soon that one attack holds both."""
    kept: list[float] = []
    for seconds in struck.tolist():
        if not kept or seconds - kept[-1] >= ONE_ATTACK:
            kept.append(seconds)
    return np.array(kept)


# Rules


def rule_uses(lesson: Lesson, read: Melody) -> list[RuleUse]:
    """Every rule that shaped this melody, the strongest first, then those over the line.

    >>> tune = lesson("C5:2 D5:2 E5:4")
    >>> rule_uses(tune, tune.melody)[0].name
    'on-beat-quarter'
    """
    return [*_mark_rules(lesson, read), *_line_rules(lesson.marking, read)]


def _mark_rules(lesson: Lesson, read: Melody) -> Iterator[RuleUse]:
    marking = lesson.marking
    for code, rule in enumerate(RULES):
        notes = np.flatnonzero(marking.rule == code).tolist()
        if notes:
            place, reason = where(read, notes[0]), lesson.written_reasons[notes[0]]
            runs = tuple((i, i) for i in notes)
            yield RuleUse(rule.name, f"{place}: {reason}", runs, mark=rule.mark)


def _line_rules(marking: Marking, read: Melody) -> Iterator[RuleUse]:
    runs, falls = _line_runs(marking), swell_reasons(read, marking)
    for rule in LINE_RULES:
        if not runs[rule.name] or rule.name in marking.left_out:
            continue
        sentence = falls[0] if rule.name == "descending-run" else rule.effect
        mark = DECRESCENDO if rule.name == "descending-run" else None
        yield RuleUse(rule.name, sentence, runs[rule.name], rule.effect, mark)


def _line_runs(marking: Marking) -> dict[str, tuple[tuple[int, int], ...]]:
    """For each rule over the line, the runs of notes it shapes."""

    def alone(mask: ArrayLike) -> tuple[tuple[int, int], ...]:
        return tuple((i, i) for i in np.flatnonzero(mask).tolist())

    phrases = marking.phrases
    return {
        "descending-run": tuple((s.first, s.last) for s in marking.swells),
        "line-flow": alone(marking.flow),
        "repeated-note": alone(marking.repeated),
        "tongued-gap": alone(marking.tongued & ~marking.joined),
        "phrase-arch": tuple((p.first, p.last) for p in phrases if p.peak is not None),
        "pickup": tuple((p.first, p.first + p.pickup - 1) for p in phrases if p.pickup),
    }


def example(melody: Melody, first: int, last: int) -> tuple[float, float]:
    """From when to when to play so that notes ``first`` to ``last`` are heard in their place.

    The whole bars that hold them, the note that leads to the first of them, and the note that
    the last one leads to.
    """
    until = melody.onset + melody.length
    if first and until[first - 1] == melody.onset[first]:
        first -= 1
    if last + 1 < len(melody) and until[last] == melody.onset[last + 1]:
        last += 1
    starts = melody.bars[int(melody.bar_index[first])]
    ends = melody.bars[int(melody.bar_index_at(until[last] - 1))]
    seconds = melody.tempos.seconds([starts.onset, ends.onset + ends.length])
    return round(float(seconds[0]), 5), round(float(seconds[1]), 5)


def in_words(name: str) -> str:
    """A rule's short name as words.

    >>> in_words("on-beat-quarter")
    'on-beat quarter'
    """
    return re.sub(r"(?<!\bon)(?<!\boff)-", " ", name)
