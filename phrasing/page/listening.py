"""The listening page: one HTML file with everything in it, to hear, compare and read.

It asks nothing of the network: a Content-Security-Policy in the page forbids it, and allows
only the page's own style and script, by their hashes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from phrasing.lesson.lesson import Lesson
from phrasing.lesson.versions import Version
from phrasing.marking.explaining import swell_reasons
from phrasing.page.facts import RuleUse, facts, in_words, rule_uses
from phrasing.page.recordings import embedded, sound_facts
from phrasing.page.score import draw_score, layouts
from phrasing.page.scripts import bundled, static
from phrasing.page.stand import stand
from phrasing.page.template import as_json, filled, key_of, policy, text
from phrasing.paper.drawing import element
from phrasing.paper.fonts import faces_for
from phrasing.paper.smallprint import draw_sign
from phrasing.score.marks import MARK_NAMES, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.meters import Bar
from phrasing.score.words import (
    bar_name,
    beat_name,
    length_name,
    name_at,
    ratio_name,
    where,
)
from phrasing.sound.packing import Packed, packed, packing_for

if TYPE_CHECKING:
    from phrasing.sound.soundfiles import Recording


STYLES = ("page.css", "print.css")


def listening_page(
    lesson: Lesson, versions: Sequence[Version], recording: Recording | None
) -> str:
    """The page as HTML.

    ``versions``: plain, shaped, then the others. ``recording``: their sound as files named
    "0", "1", ... in this order, which are packed into the page; None where there is no sound
    to be had, and the page shows notes, marks and reasons alone.

    >>> from phrasing.lesson.versions import plain_version, shaped_version
    >>> tune = lesson("C5:2 D5:2")
    >>> page = listening_page(tune, [plain_version(tune), shaped_version(tune)], None)
    >>> "no sound on this page" in page
    True
    """
    read = lesson.read
    uses = rule_uses(lesson, read)
    known = facts(lesson, read, versions, uses)
    sounds = _sounds(recording, len(versions)) if recording else []
    known["sound"] = (
        _sound_facts(recording, sounds[0], versions[0].starts) if recording else None
    )
    score = draw_score(lesson, read, versions, shown=known["shown"])
    known["key"] = key_of(known)
    style = faces_for(score.words) + "".join(map(static, STYLES))
    script = bundled("listening")
    blanks = {
        "policy": policy(style, script),
        "style": style,
        "script": script,
        "title": text(lesson.melody.title or lesson.source.stem),
        "about": _about(lesson),
        "credits": _credits(score.credits),
        "told": _told(lesson),
        "notices": "" if recording else f'<p class="notice">{SILENT}</p>',
        "stand": stand(
            waiting=WAITING if recording else "",
            buttons="\n".join(
                _version_button(number, version, number == known["shown"])
                for number, version in enumerate(versions)
            ),
            first_bar=text(bar_name(lesson.melody.bars[0])),
            bars=_lines(_bar_option, lesson.melody.bars),
            about_link=ABOUT_LINK,
        ),
        "blind": static("blind.html"),
        "count": str(len(versions)),
        "glyphs": "".join(score.glyphs.values()),
        "score": layouts(score),
        "rules": _lines(_rule, uses),
        "marks": _marks(lesson, read),
        "words": _lines(lambda _, bar: _bar_in_words(lesson, read, bar), lesson.melody.bars),
        "recordings": "\n".join(_embedded(sounds, first=True)),
        "rest": "\n".join(_embedded(sounds, first=False)),
        "facts": as_json(known),
    }
    return filled(static("page.html"), blanks)


SILENT = (
    "There is no sound on this page: no synthesizer or soundfont was found when it was made."
    " “phrasing sounds” tells what to install."
)
WRITTEN_OUT = "Repeats are written out here, in the order of playing."
ABOUT_LINK = "The link opens this page at these bars, this speed and this version."
WAITING = "Unpacking the sound."


def _lines(write: Callable[[int, Any], str], things: Sequence[Any]) -> str:
    """Each thing as ``write`` writes it, with its number, a line each."""
    return "\n".join(write(number, thing) for number, thing in enumerate(things))


# Sound


def _sounds(recording: Recording, count: int) -> list[Packed]:
    """Each version's sound, packed as so much of it asks for."""
    how = packing_for(recording.seconds * count)
    return [packed(recording.files[str(number)].path, how) for number in range(count)]


def _sound_facts(recording: Recording, first: Packed, lead: float) -> dict[str, Any]:
    """What the script is told of the sound: see ``recordings.sound_facts``."""
    starts = round(recording.music_starts + lead, 6)
    return sound_facts(first) | {"starts": starts, "lead": round(lead, 6)}


def _embedded(sounds: Sequence[Packed], *, first: bool) -> Iterator[str]:
    """The first pieces of all versions, which stand before the script, or the others."""
    for number, sound in enumerate(sounds):
        pieces = list(embedded(f"sound-{number}", sound))
        yield from pieces[:1] if first else pieces[1:]


# What can be read


def _about(lesson: Lesson) -> str:
    even = lesson.ratio < 1.05
    return text(
        " · ".join(
            [
                str(lesson.melody.meter),
                f"♩ = {lesson.tempo:g}",
                "even eighths" if even else f"swing {ratio_name(lesson.ratio)}",
                lesson.instrument.name,
            ]
        )
    )


def _credits(credits: Sequence[str]) -> str:
    """Who wrote it, where the score says so."""
    lines = " · ".join(f"<bdi>{text(line)}</bdi>" for line in credits)
    return f'<p class="facts">{lines}</p>\n' if lines else ""


def _told(lesson: Lesson) -> str:
    """What was decided for the whole piece, in sentences."""
    sentences = [lesson.style_sentence]
    if lesson.instrument.transposition % 12:
        sentences.append(f"Notes are named as written for the {lesson.instrument.name}.")
    if any(bar.passing > 1 for bar in lesson.melody.bars):
        sentences.append(WRITTEN_OUT)
    return text(" ".join(filter(None, sentences)))


def _version_button(number: int, version: Version, pressed: bool) -> str:
    return (
        f'<button type="button" aria-pressed="{str(pressed).lower()}">'
        f"<kbd>{number + 1}</kbd><span>{text(version.name)}</span></button>"
    )


def _bar_option(number: int, bar: Bar) -> str:
    words = bar_name(bar).removeprefix("bar ")
    return f'<option value="{number}">{text(words)}</option>'


def _bar_in_words(lesson: Lesson, read: Melody, bar: Bar) -> str:
    """A bar as words: when each of its notes begins, what it is, how long, with which mark."""
    inside = np.flatnonzero((read.onset >= bar.onset) & (read.onset < bar.onset + bar.length))
    notes = [_note_in_words(lesson, read, i) for i in inside.tolist()]
    words = "; ".join(notes) or "no new note"
    return f"<li>{text(f'{bar_name(bar)}: {words}.')}</li>"


def _note_in_words(lesson: Lesson, read: Melody, i: int) -> str:
    code = int(lesson.marking.mark[i])
    mark = "" if code == UNMARKED else f", {MARK_NAMES[code]}"
    return f"{beat_name(read, i)}, {name_at(read, i)}, {length_name(int(read.length[i]))}{mark}"


def _rule(number: int, use: RuleUse) -> str:
    times = "once" if len(use.runs) == 1 else f"{len(use.runs)} times"
    name = text(in_words(use.name))
    return (
        f"<li>{_sign(use.mark)}<p><strong>{name}</strong> "
        f'<span class="times">{times}</span></p>'
        f'<button type="button" class="example" data-rule="{number}" data-needs-sound disabled'
        f' aria-label="Hear {name}: plain, then shaped">Hear it</button>'
        f'<button type="button" data-light="{number}" aria-pressed="false"'
        f' aria-label="Show the notes of {name}">Show its notes</button>'
        f"<details><summary>Why</summary><p>{text(use.sentence)}.</p></details></li>"
    )


def _sign(mark: str | None) -> str:
    """A mark as it stands at a note; an empty place for what has no sign."""
    from lxml import etree

    root = element("svg", None, viewBox="-12 -8 24 16", aria_hidden="true")
    root.set("class", "sign")
    if mark is not None:
        draw_sign(root, mark, 0.0, 0.0)
    return etree.tostring(root, encoding="unicode")


def _marks(lesson: Lesson, read: Melody) -> str:
    lines = [
        f'<li><button type="button" data-note="{i}">{text(where(read, i))}</button>'
        f"<p>{text(reason)}.</p></li>"
        for i, reason in enumerate(lesson.written_reasons)
        if reason
    ]
    falls = swell_reasons(read, lesson.marking)
    return "\n".join([*lines, *(f"<li><p>{text(fall)}.</p></li>" for fall in falls)])
