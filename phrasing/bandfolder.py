"""The folder of a play-along: the band with or without the melody, as MIDI and sound."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from phrasing.files import whole_folder
from phrasing.performance import Performance
from phrasing.recording import recorded
from phrasing.wishes import SoundForm

if TYPE_CHECKING:
    from phrasing.rendering.soundfiles import Recording

MIX = "backing"


@dataclass(frozen=True)
class BandFolder:
    """What was written; ``no_sound`` says why there is no sound, None where there is."""

    folder: Path
    files: tuple[str, ...]
    recording: Recording | None
    no_sound: str | None


def write_backing(
    performance: Performance,
    folder: Path,
    form: SoundForm,
    *,
    stems: bool = False,
    overwrite: bool = False,
) -> BandFolder:
    """Write ``backing.mid`` (a named track for each player) and the mix, or nothing.

    ``stems``: a sound file for each player too; together they add up to the mix.
    """
    from phrasing.rendering.midi import write_midi

    versions = {MIX: performance}
    if stems:
        versions |= _stems(performance)
    with whole_folder(folder, overwrite=overwrite) as part:
        write_midi(performance, part / f"{MIX}.mid")
        recording, no_sound = recorded(versions, part, form, lead=MIX)
        files = tuple(sorted(file.name for file in part.iterdir()))
    return BandFolder(folder, files, recording, no_sound)


def _stems(performance: Performance) -> Mapping[str, Performance]:
    return {
        f"{MIX}-{part.name.lower().replace(' ', '-')}": replace(performance, parts=(part,))
        for part in performance.parts
        if len(part.onset)
    }
