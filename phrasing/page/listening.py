"""The listening page: one HTML file with everything in it, to hear, compare and read.

It asks nothing of the network: a Content-Security-Policy in the page forbids it, and allows
only the page's own style and script, by their hashes.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from phrasing.lesson.lesson import Lesson
from phrasing.lesson.versions import Version
from phrasing.marking.explaining import swell_reasons
from phrasing.marking.lines import LINE_RULES
from phrasing.marking.marking import Marking
from phrasing.marking.rules import RULES
from phrasing.page.score import DrawnScore, draw_sheet, scale_for
from phrasing.page.scripts import bundled, static
from phrasing.score.marks import MARK_NAMES, UNMARKED
from phrasing.score.melody import Bar, Floats, Melody
from phrasing.score.transposing import as_written
from phrasing.score.words import bar_name, name_at, where

if TYPE_CHECKING:
    from phrasing.sound.soundfiles import Recording


LAME_DELAY_AT = 21
"""Bytes from the word "LAME" in an MP3's first frame to the encoder's delay (12 bits), as the
encoder's info tag has it (from memory, checked against what browsers decode)."""
ONE_ATTACK = 0.05
"""Seconds: two notes struck closer together (a late soloist against the ride) are slowed down
as one."""
DECODER_DELAY = 529
"""Samples by which an MP3 decoder is late by itself (from memory, checked likewise)."""


@dataclass(frozen=True)
class RuleUse:
    """Where a rule applied: the runs of notes (first, last) of which each is one instance.

    ``sentence``: about the first of them. ``effect``: what a rule over the line does, None
    for a rule that gives a note its mark.
    """

    name: str
    sentence: str
    runs: tuple[tuple[int, int], ...]
    effect: str | None = None

    @property
    def notes(self) -> list[int]:
        """All notes of all runs."""
        return [note for first, last in self.runs for note in range(first, last + 1)]


def mp3_delay(content: bytes) -> int:
    """Samples by which a decoder that takes no notice of the encoder's tag is late."""
    at = content.find(b"LAME", 0, 1000)
    encoder = 0
    if at >= 0:
        high, low = content[at + LAME_DELAY_AT], content[at + LAME_DELAY_AT + 1]
        encoder = high << 4 | low >> 4
    return encoder + DECODER_DELAY


def facts(
    lesson: Lesson, read: Melody, versions: Sequence[Version], uses: Sequence[RuleUse]
) -> dict[str, Any]:
    """Bars, notes, versions and rules, without the sound.

    ``read``: the melody as its player reads it, after whose notes the texts name them.
    """
    melody = lesson.melody
    sheets = [index for index, version in enumerate(versions) if version.marking]
    return {
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
        "versions": [
            _version(version, sheets.index(index) if index in sheets else 0)
            for index, version in enumerate(versions)
        ],
        "rules": [
            {
                "name": use.name,
                "notes": use.notes,
                "effect": use.effect,
                "first": example(melody, *use.runs[0]),
            }
            for use in uses
        ],
    }


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


def _version(version: Version, sheet: int) -> dict[str, Any]:
    marks: list[str | None] = [None] * len(version.shape.level)
    if version.marking:
        marks = [
            None if code == UNMARKED else MARK_NAMES[code]
            for code in version.marking.mark.tolist()
        ]
    return {
        "name": version.name,
        "sheet": sheet,
        "shaped": version.marking is not None,
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
    """Every rule that shaped this melody, the strongest first, then those over the line."""
    return [*_mark_rules(lesson, read), *_line_rules(lesson.marking, read)]


def _mark_rules(lesson: Lesson, read: Melody) -> Iterator[RuleUse]:
    marking = lesson.marking
    for code, rule in enumerate(RULES):
        notes = np.flatnonzero(marking.rule == code).tolist()
        if notes:
            place, reason = where(read, notes[0]), lesson.written_reasons[notes[0]]
            yield RuleUse(rule.name, f"{place}: {reason}", tuple((i, i) for i in notes))


def _line_rules(marking: Marking, read: Melody) -> Iterator[RuleUse]:
    runs, falls = _line_runs(marking), swell_reasons(read, marking)
    for rule in LINE_RULES:
        if not runs[rule.name] or rule.name in marking.left_out:
            continue
        sentence = falls[0] if rule.name == "descending-run" else rule.effect
        yield RuleUse(rule.name, sentence, runs[rule.name], rule.effect)


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


STYLES = ("page.css", "print.css")


def listening_page(
    lesson: Lesson, versions: Sequence[Version], recording: Recording | None
) -> str:
    """The page as HTML.

    ``versions``: plain, shaped, then the others. ``recording``: their sound as MP3 files named
    "0", "1", ... in this order; None where there is no sound to be had, and the page shows
    notes, marks and reasons alone.
    """
    read = as_written(lesson.melody, lesson.instrument)
    uses = rule_uses(lesson, read)
    known = facts(lesson, read, versions, uses)
    sounds = _sounds(recording, len(versions)) if recording else []
    known["sound"] = (
        _sound_facts(recording, sounds[0], versions[0].starts) if recording else None
    )
    sheets = _sheets(lesson, read, versions)
    style = "".join(map(static, STYLES))
    script = bundled("start")
    numbers = [bar.number for bar in lesson.melody.bars]
    blanks = {
        "policy": _policy(style, script),
        "style": style,
        "script": script,
        "title": _text(lesson.melody.title or lesson.source.stem),
        "about": _about(lesson),
        "notices": "" if recording else f'<p class="notice">{SILENT}</p>',
        "waiting": WAITING if recording else "",
        "buttons": _lines(_version_button, versions),
        "first_bar": _text(bar_name(lesson.melody.bars[0])),
        "low": str(min(numbers)),
        "high": str(max(numbers)),
        "count": str(len(versions)),
        "glyphs": "".join(_glyphs(sheets).values()),
        "sheets": _lines(_sheet, sheets),
        "rules": _lines(_rule, uses),
        "marks": _marks(lesson, read),
        "recordings": _lines(_embedded, sounds),
        "facts": _json(known),
    }
    return _filled(static("page.html"), blanks)


SILENT = (
    "There is no sound on this page: no synthesizer or soundfont was found when it was made."
    " “phrasing sounds” tells what to install."
)
WAITING = "The recordings are being unpacked."


def _lines(write: Callable[[int, Any], str], things: Sequence[Any]) -> str:
    """Each thing as ``write`` writes it, with its number, a line each."""
    return "\n".join(write(number, thing) for number, thing in enumerate(things))


def _filled(template: str, blanks: Mapping[str, str]) -> str:
    """The template with its blanks filled in; what is filled in is not looked at again."""
    return re.sub(r"\{\{(\w+)\}\}", lambda match: blanks[match[1]], template)


def _policy(style: str, script: str) -> str:
    def hashed(text: str) -> str:
        digest = hashlib.sha256(text.encode("utf-8")).digest()
        return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"

    return (
        f"default-src 'none'; script-src {hashed(script)}; style-src {hashed(style)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _text(words: object) -> str:
    return html.escape(str(words), quote=True)


def _json(value: Any) -> str:
    """JSON that can stand in a script element: nothing in it ends or opens an element."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


# Sound


def _sounds(recording: Recording, count: int) -> list[bytes]:
    return [recording.files[str(number)].path.read_bytes() for number in range(count)]


def _sound_facts(recording: Recording, first: bytes, lead: float) -> dict[str, Any]:
    return {
        "rate": recording.rate,
        "frames": round(recording.seconds * recording.rate),
        "starts": round(recording.music_starts + lead, 6),
        "lead": round(lead, 6),
        "delay": mp3_delay(first),
    }


def _embedded(number: int, content: bytes) -> str:
    coded = base64.b64encode(content).decode("ascii")
    return f'<script type="text/plain" id="sound-{number}">{coded}</script>'


# What can be read


def _about(lesson: Lesson) -> str:
    ratio = "even eighths" if lesson.ratio < 1.05 else f"swing {lesson.ratio:.2f} : 1"
    words = [
        str(lesson.melody.meter),
        f"{lesson.tempo:g} quarter notes a minute",
        ratio,
        lesson.instrument.name,
    ]
    about = ", ".join(words)
    if lesson.instrument.transposition % 12:
        about += ", notes named as written for it"
    return _text(f"{about}. {lesson.style_sentence}")


def _version_button(number: int, version: Version) -> str:
    pressed = "false" if number else "true"
    return (
        f'<button type="button" aria-pressed="{pressed}" data-needs-sound disabled>'
        f"<kbd>{number + 1}</kbd><span>{_text(version.name)}</span></button>"
    )


def _sheets(lesson: Lesson, read: Melody, versions: Sequence[Version]) -> list[DrawnScore]:
    """A score for each version that is shaped."""
    shaped = [version for version in versions if version.marking]
    scale = scale_for(shaped)
    return [draw_sheet(lesson, read, versions[0], version, scale) for version in shaped]


def _glyphs(sheets: Sequence[DrawnScore]) -> dict[str, str]:
    return {name: glyph for sheet in sheets for name, glyph in sheet.glyphs.items()}


def _sheet(number: int, sheet: DrawnScore) -> str:
    layouts = "".join(
        f'<div class="layout {name}">{"".join(systems)}</div>'
        for name, systems in sheet.layouts.items()
    )
    return f'<div class="sheet"{" hidden" if number else ""}>{layouts}</div>'


def _rule(number: int, use: RuleUse) -> str:
    times = "once" if len(use.runs) == 1 else f"{len(use.runs)} times"
    return (
        f"<li><strong>{_text(use.name)}</strong><p>{_text(use.sentence)} ({times}).</p>"
        f'<button type="button" class="example" data-rule="{number}" data-needs-sound disabled'
        f' aria-label="{_text(use.name)}: plain, then shaped">Plain, then shaped</button>'
        f'<button type="button" data-light="{number}" aria-pressed="false"'
        f' aria-label="{_text(use.name)}: light up its notes">Show its notes</button></li>'
    )


def _marks(lesson: Lesson, read: Melody) -> str:
    lines = [
        f'<li><button type="button" data-note="{i}">{_text(where(read, i))}</button>'
        f"<p>{_text(reason)}.</p></li>"
        for i, reason in enumerate(lesson.written_reasons)
        if reason
    ]
    falls = swell_reasons(read, lesson.marking)
    return "\n".join([*lines, *(f"<li><p>{_text(fall)}.</p></li>" for fall in falls)])
