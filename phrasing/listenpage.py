"""The listening page as a file: the versions recorded, and everything put on one page."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from phrasing.errors import PhrasingError
from phrasing.files import write_whole
from phrasing.lesson import Lesson
from phrasing.recording import recorded
from phrasing.versions import Version
from phrasing.wishes import SoundForm

NAME = "listen.html"
LONG = ((290.0, 0.7), (220.0, 0.5))
"""Seconds of sound on a page, all versions together, from which its MP3 files are packed so
tightly (0 to 1). A band, which takes most room, was measured at 82 and 102 kbit a second, and
at 122 as usual: 32 bars at 60 in three versions stay below 6 MB."""


def page_path(output: Path | None, folder: Path, *, overwrite: bool = False) -> Path:
    """Where a page goes: the file or folder asked for, else ``folder``.

    Raises ``PhrasingError`` where a page is there already and ``overwrite`` is not set.
    """
    asked = output or folder
    path = asked if asked.suffix.lower() in (".html", ".htm") else asked / NAME
    if path.exists() and not overwrite:
        raise PhrasingError(
            f"{path} is there already; replace it with --overwrite, or choose another with -o."
        )
    return path


def write_listening_page(
    lesson: Lesson, versions: Sequence[Version], path: Path, form: SoundForm
) -> str | None:
    """Write the page; returns the sentence why it has no sound, None where it has.

    Of ``form``, the soundfont and the loudness count: the sound on a page is MP3, which every
    browser plays, and of long pieces packed more tightly, so that the page can be sent. The
    folder is made if need be.
    """
    from phrasing.publishing.page.listening import listening_page

    performances = {str(number): v.performance for number, v in enumerate(versions)}
    seconds = sum(float(p.tempos.seconds(p.end)) for p in performances.values())
    with tempfile.TemporaryDirectory() as folder:
        compressed = replace(form, format="mp3", rate=44100, packing=packing_for(seconds))
        recording, no_sound = recorded(performances, Path(folder), compressed)
        content = listening_page(lesson, versions, recording)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise PhrasingError(
            f"{path}: cannot be written ({error.strerror}); choose another folder with -o."
        ) from error
    write_whole(path, content)
    return no_sound


def packing_for(seconds: float) -> float | None:
    """How tightly so much sound is packed (all versions together); None for the usual."""
    return next((packing for long, packing in LONG if seconds >= long), None)
