"""What a command is going to read and write, known and examined before any work."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from phrasing.errors import NoSoundError
from phrasing.files import Input, Plan
from phrasing.lesson.request import Request, SoundForm, checked_form

MARKS_TABLE = "the marks table"
"""What a run says that it is, where it reads one."""


def beside(melody: Path) -> Path:
    """The folder beside a file that is named after it."""
    return (
        melody.with_suffix("") if melody.suffix else melody.with_name(f"{melody.name}-shaped")
    )


def inputs_of(
    melody: Path, request: Request, form: SoundForm | None = None, tables: Iterable[str] = ()
) -> tuple[Input, ...]:
    """The files that a command reads. ``tables``: variants, as NAME=FILE."""
    from phrasing.sound.soundfonts import SETTING

    setting = os.environ.get(SETTING)
    named = [
        ("the file", melody),
        (MARKS_TABLE, request.marks),
        ("the feel", request.feel),
        ("the options", request.options),
        ("the soundfont", form.soundfont if form else None),
        ("the soundfont", Path(setting) if setting else None),
        *(("a variant's marks table", Path(each.partition("=")[2])) for each in tables),
    ]
    return tuple(Input(what, path) for what, path in named if path is not None)


def folder_plan(
    run: str, folder: Path, inputs: tuple[Input, ...], form: SoundForm, *, overwrite: bool
) -> Plan:
    """The plan of a command that fills a folder; raises ``PhrasingError`` for a sound that
    cannot be made as asked for."""
    examined(form)
    return Plan(folder, inputs, overwrite, run)


def file_plan(
    run: str,
    path: Path,
    inputs: tuple[Input, ...],
    form: SoundForm | None = None,
    *,
    overwrite: bool,
) -> Plan:
    """The plan of a command that writes one file, with sound if there is a ``form``."""
    if form is not None:
        examined(form)
    return Plan.of_file(path, inputs, overwrite=overwrite, run=run)


def examined(form: SoundForm) -> None:
    """Raise ``PhrasingError`` for a sound that cannot be made as asked for.

    That there is no soundfont at all is said later: what needs no sound is made nevertheless.
    """
    from phrasing.sound.soundfonts import find_soundfont

    checked_form(form)
    try:
        find_soundfont(form.soundfont)
    except NoSoundError:
        return
