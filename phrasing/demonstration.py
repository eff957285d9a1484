"""The folder of a demonstration: one melody plain and shaped, to play, hear, read and keep."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phrasing.errors import PhrasingError
from phrasing.files import whole_folder, write_whole
from phrasing.lesson import Lesson
from phrasing.listenpage import NAME, write_listening_page
from phrasing.marks import MARK_NAMES
from phrasing.playalong import play_along
from phrasing.recording import recorded, sound_report
from phrasing.versions import Version, plain_version, shaped_version
from phrasing.wishes import SoundForm

if TYPE_CHECKING:
    from phrasing.backing.band import Backing

PLAIN_WAYS = ("swung", "straight")


@dataclass(frozen=True)
class Demonstration:
    """What was made: the files by name, and ``report``, everything that was decided.

    ``no_sound``: the sentence that says why there is no sound, None where there is.
    """

    folder: Path
    files: tuple[str, ...]
    report: dict[str, Any]
    no_sound: str | None = None
    lesson: Lesson = field(repr=False, kw_only=True)


def write_demonstration(
    lesson: Lesson,
    folder: Path,
    form: SoundForm,
    *,
    plain: str = "swung",
    backing: Backing | None = None,
    page: bool = True,
    overwrite: bool = False,
) -> Demonstration:
    """Write all files of a demonstration into ``folder``, or none of them.

    ``plain``: swung or straight. ``backing``: a band that plays under both versions.
    ``page``: the listening page, too. Raises ``PhrasingError`` where the folder cannot be
    written to, and where it holds such files already and ``overwrite`` is not set.
    """
    from phrasing.publishing.sheet.handout import marked_score, write_handout
    from phrasing.publishing.tables import marks_csv
    from phrasing.rendering.midi import write_midi

    versions = _versions(lesson, plain, backing)
    with whole_folder(folder, overwrite=overwrite) as part:
        for version in versions:
            write_midi(version.performance, part / f"{version.name}.mid")
        write_whole(part / "marks.csv", marks_csv(*lesson.table))
        write_whole(part / "marked.musicxml", marked_score(lesson))
        write_handout(lesson, part / "sheet.pdf")
        performances = {version.name: version.performance for version in versions}
        recording, no_sound = recorded(performances, part, form)
        if page:
            write_listening_page(lesson, versions, part / NAME, form)
        report = _report(lesson, plain)
        report["ride_ratio"] = round(backing.ratio, 3) if backing else None
        report["sound"] = sound_report(recording) if recording else None
        text = json.dumps(report, ensure_ascii=False, indent=2)
        write_whole(part / "report.json", text + "\n")
        files = tuple(sorted(file.name for file in part.iterdir()))
    return Demonstration(folder, files, report, no_sound, lesson=lesson)


def _versions(lesson: Lesson, plain: str, backing: Backing | None) -> tuple[Version, ...]:
    if plain not in PLAIN_WAYS:
        raise PhrasingError(f"The plain version is “{plain}”? Choose swung or straight.")
    straight = plain == "straight"
    versions = (plain_version(lesson, straight=straight), shaped_version(lesson))
    if backing is None:
        return versions
    if straight:
        raise PhrasingError(
            "Even eighths do not go with a swinging band: leave one of them out."
        )
    lead = backing.form.offset(0)
    return tuple(
        replace(version, performance=play_along(lesson, backing, version.name), lead=lead)
        for version in versions
    )


def _report(lesson: Lesson, plain: str) -> dict[str, Any]:
    """Everything that was decided, in plain words and numbers."""
    melody, reading = lesson.melody, lesson.melody.reading
    counts = {
        name: int((lesson.marking.mark == code).sum()) for code, name in enumerate(MARK_NAMES)
    }
    return {
        "title": melody.title,
        "file": lesson.source.name,
        "read": {
            "format": reading.format,
            "part": reading.part,
            "notes": len(melody),
            "bars": sum(bar.number > 0 for bar in melody.bars),
            "moved_ms": {
                "median": reading.moved_median,
                "worst": reading.moved_worst,
                "worst_bar": reading.moved_worst_bar,
            },
            "swing_found": reading.swing_found,
            "warnings": list(lesson.warnings),
        },
        "tempo": lesson.tempo,
        "meter": str(melody.meter),
        "instrument": lesson.instrument.name,
        "swing_ratio": round(lesson.ratio, 3),
        "plain": plain,
        "strength": lesson.feel.strength,
        "rules_left_out": list(lesson.marking.left_out),
        "marks": {name: count for name, count in counts.items() if count},
        "decrescendos": len(lesson.marking.swells),
        "links": len(lesson.marking.links),
    }
