"""The practice folder: sound files that sort in the order of practice, a playlist, a page."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from phrasing.exercises import Exercise
from phrasing.files import whole_folder, write_whole
from phrasing.publishing.page.practice import Entry, playlist, practice_page
from phrasing.wishes import SoundForm, checked_form

SAFE = "abcdefghijklmnopqrstuvwxyz0123456789-_"


@dataclass(frozen=True)
class PracticeFolder:
    """What was written: its folder, the sound files in order, and how long all last."""

    folder: Path
    entries: tuple[Entry, ...]

    @property
    def minutes(self) -> float:
        """Minutes that all files last, each played once."""
        return sum(entry.seconds for entry in self.entries) / 60.0


def write_practice(
    title: str,
    found: Iterable[Exercise],
    folder: Path,
    form: SoundForm,
    *,
    overwrite: bool = False,
    each: Callable[[Exercise], None] = lambda exercise: None,
) -> PracticeFolder:
    """Write every exercise as a sound file, ``playlist.m3u8`` and ``practice.html``.

    ``each`` is called before an exercise is rendered, from as many threads as there are
    processors. All is written or nothing. Raises ``NoSoundError`` without a synthesizer,
    ``PhrasingError`` where nothing can be written.
    """
    from phrasing.rendering.soundfiles import write_sound
    from phrasing.rendering.soundfonts import find_soundfont

    checked_form(form)
    soundfont = find_soundfont(form.soundfont)
    exercises = list(found)
    digits = len(str(len(exercises)))

    def record(number: int, exercise: Exercise) -> Entry:
        each(exercise)
        name = f"{number:0{digits}}-{_safe(exercise.name)}"
        recording = write_sound(
            {name: exercise.performance},
            part,
            kind=form.kind,
            bits=form.bits,
            rate=form.samples_a_second,
            loudness=form.loudness,
            soundfont=soundfont,
        )
        file = f"{name}.{form.format}"
        return Entry(exercise.group, exercise.title, file, recording.seconds)

    with whole_folder(folder, overwrite=overwrite) as part:
        with ThreadPoolExecutor(os.cpu_count()) as side_by_side:
            entries = tuple(side_by_side.map(record, range(1, len(exercises) + 1), exercises))
        write_whole(part / "playlist.m3u8", playlist(title, entries))
        write_whole(part / "practice.html", practice_page(title, entries))
    return PracticeFolder(folder, entries)


def _safe(name: str) -> str:
    """The name with nothing in it that a file system or a link may stumble over."""
    return "".join(c if c in SAFE else "-" for c in name.lower()).strip("-")
