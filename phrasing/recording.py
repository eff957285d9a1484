"""Performances recorded in the form that was asked for, and what is told about the sound."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from phrasing.errors import NoSoundError
from phrasing.performance import Performance
from phrasing.wishes import SoundForm, checked_form

if TYPE_CHECKING:
    from phrasing.rendering.soundfiles import Recording

PATIENCE = 1.0
"""Seconds of waiting after which a progress bar appears."""


def recorded(
    versions: Mapping[str, Performance],
    folder: Path,
    form: SoundForm,
    *,
    lead: str | None = None,
) -> tuple[Recording | None, str | None]:
    """The sound of all versions, equally loud; or None and the sentence why there is none.

    ``lead`` as in ``rendering.soundfiles.write_sound``.
    """
    from phrasing.rendering.soundfiles import write_sound
    from phrasing.rendering.soundfonts import find_soundfont

    checked_form(form)
    try:
        with progress_bar("sound") as progress:
            return write_sound(
                versions,
                folder,
                kind=form.kind,
                bits=form.bits,
                rate=form.samples_a_second,
                loudness=form.loudness,
                packing=form.packing,
                soundfont=find_soundfont(form.soundfont),
                lead=lead,
                progress=progress,
            ), None
    except NoSoundError as error:
        return None, str(error)


@contextmanager
def progress_bar(title: str) -> Iterator[Callable[[float], None] | None]:
    """What takes the share that is done and shows it, if the wait is long; None off a terminal.

    It may be called from several threads.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    bar = Progress(console=Console(stderr=True), transient=True)
    task, begun, lock = bar.add_task(title, total=1.0), time.monotonic(), Lock()

    def show(done: float) -> None:
        with lock:
            if not bar.live.is_started and time.monotonic() - begun > PATIENCE:
                bar.start()
            bar.update(task, completed=done)

    try:
        yield show
    finally:
        bar.stop()


def sound_report(recording: Recording) -> dict[str, Any]:
    """The facts of the sound files for ``report.json``."""
    return {
        "soundfont": recording.soundfont.name,
        "licence": recording.soundfont.licence,
        "samples_a_second": recording.rate,
        "seconds": round(recording.seconds, 3),
        "first_beat_at_seconds": round(recording.music_starts, 4),
        "lowered_db": round(recording.lowered, 2),
        "files": {
            file.path.name: {
                "loudness_lufs": round(file.loudness, 2),
                "true_peak_dbtp": round(file.true_peak, 2),
                "gain_db": round(file.gain, 2),
            }
            for file in recording.files.values()
        },
    }
