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
from collections.abc import Callable, Mapping, Sequence
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from phrasing.lesson import Lesson
from phrasing.marking.explaining import swell_reasons
from phrasing.marking.wording import bar_name, where
from phrasing.melody import Melody
from phrasing.publishing.page.facts import RuleUse, facts, mp3_delay, rule_uses
from phrasing.publishing.page.notes import Sheet, draw_sheet
from phrasing.publishing.page.shape_picture import scale_for
from phrasing.transposing import as_written
from phrasing.versions import Version

if TYPE_CHECKING:
    from phrasing.rendering.soundfiles import Recording

STYLES = ("page.css", "print.css")
SCRIPTS = (
    "stretching.js", "sound.js", "running.js", "transport.js", "score.js", "reasons.js",
    "blind.js", "controls.js", "keys.js", "start.js",
)  # fmt: skip
"""The page's scripts in the order in which they build on each other."""


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
    style = "".join(map(_part, STYLES))
    script = f'(() => {{\n"use strict";\n{"".join(map(_part, SCRIPTS))}}})();\n'
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
    return _filled(_part("page.html"), blanks)


SILENT = (
    "There is no sound on this page: no synthesizer or soundfont was found when it was made."
    " “phrasing sounds” tells what to install."
)
WAITING = "The recordings are being unpacked."


def _part(name: str) -> str:
    return files("phrasing.publishing.page").joinpath("files", name).read_text(encoding="utf-8")


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
    return _text(about + ".")


def _version_button(number: int, version: Version) -> str:
    pressed = "false" if number else "true"
    return (
        f'<button type="button" aria-pressed="{pressed}" data-needs-sound disabled>'
        f"<kbd>{number + 1}</kbd><span>{_text(version.name)}</span></button>"
    )


def _sheets(lesson: Lesson, read: Melody, versions: Sequence[Version]) -> list[Sheet]:
    """A score for each version that is shaped."""
    shaped = [version for version in versions if version.marking]
    scale = scale_for(shaped)
    return [draw_sheet(lesson, read, versions[0], version, scale) for version in shaped]


def _glyphs(sheets: Sequence[Sheet]) -> dict[str, str]:
    return {name: glyph for sheet in sheets for name, glyph in sheet.glyphs.items()}


def _sheet(number: int, sheet: Sheet) -> str:
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
