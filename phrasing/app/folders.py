"""The folder of a demonstration: one melody plain and shaped, to play, hear, read and keep."""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from phrasing.app.planning import MARKS_TABLE
from phrasing.errors import NoSoundError, PhrasingError
from phrasing.files import Plan, write_whole
from phrasing.lesson.exercises import Exercise
from phrasing.lesson.lesson import Lesson
from phrasing.lesson.playalong import play_along
from phrasing.lesson.request import SoundForm, checked_form
from phrasing.lesson.versions import Version, plain_version, shaped_version
from phrasing.page.practice import Entry, playlist, practice_page
from phrasing.performing.performance import Performance
from phrasing.printable import printable
from phrasing.score.marks import MARK_NAMES

if TYPE_CHECKING:
    from phrasing.band.band import Backing
    from phrasing.sound.packing import Packed
    from phrasing.sound.soundfiles import Coding, Recording, SoundFile


PATIENCE = 1.0
"""Seconds of waiting after which a progress bar appears."""


def recorded(
    versions: Mapping[str, Performance],
    folder: Path,
    form: SoundForm,
    *,
    lead: str | None = None,
    copies: tuple[Path, SoundForm] | None = None,
) -> tuple[Recording | None, str | None]:
    """The sound of all versions, equally loud; or None and the sentence why there is none.

    ``lead`` as in ``sound.soundfiles.write_sound``; ``copies``: another folder, and the form
    that the same sound has there.
    """
    from phrasing.sound.soundfiles import write_sound
    from phrasing.sound.soundfonts import find_soundfont

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
                soundfont=find_soundfont(form.soundfont),
                copies=copies and (copies[0], coding_of(copies[1])),
                lead=lead,
                progress=progress,
            ), None
    except NoSoundError as error:
        return None, str(error)


def coding_of(form: SoundForm) -> Coding:
    """How a form is written."""
    from phrasing.sound.soundfiles import Coding

    return Coding(form.kind, form.bits)


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


# The example that the demo plays: in the wheel, or in a checkout's ``examples`` folder.

EXAMPLE = "late_bus_home.mid"


def example() -> Path:
    """The file of the example melody; ``PhrasingError`` where the install lacks it."""
    return examples() / EXAMPLE


def examples() -> Path:
    """The folder of all examples; ``PhrasingError`` where the install lacks it."""
    here = Path(__file__).parents[1]
    for folder in (here / "example", here.parent / "examples"):
        if (folder / EXAMPLE).is_file():
            return folder
    raise PhrasingError(f"The example {EXAMPLE} is missing; install phrasing again.")


# The listening page as a file: the versions recorded, and everything put on one page.

NAME = "listen.html"
PAGE_RATE = 44100
"""Samples a second at which a page's sound is played, before it is packed."""


def page_place(output: Path | None, folder: Path) -> Path:
    """Where a page goes: the file or folder asked for, else ``folder``."""
    asked = output or folder
    return asked if asked.suffix.lower() in (".html", ".htm") else asked / NAME


def write_listening_page(
    lesson: Lesson, versions: Sequence[Version], plan: Plan, form: SoundForm
) -> str | None:
    """Write the one page of the plan; returns why it has no sound, None where it has.

    Of ``form``, the soundfont and the loudness count. The folder is made if need be.
    """
    from phrasing.page.listening import listening_page

    performances = {str(number): v.performance for number, v in enumerate(versions)}
    with plan.writing([plan.asked.name]) as made:
        recording, no_sound = recorded(performances, made.scratch, form_for_page(form))
        content = listening_page(lesson, versions, recording)
        write_whole(made.part / plan.asked.name, content)
    return no_sound


def form_for_page(form: SoundForm) -> SoundForm:
    """The form of the sound that a page is made from."""
    return replace(form, format="wav", bits=16, rate=PAGE_RATE)


# The practice folder: sound files that sort in the order of practice, a playlist, a page.

PLAYLIST, PRACTICE_PAGE = "playlist.m3u8", "practice.html"
CARRIED = 1800.0
"""Seconds of sound that a practice page carries in itself (some 11 MB); where there is more, it
plays the files beside it."""
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
    plan: Plan,
    form: SoundForm,
    *,
    each: Callable[[Exercise], None] = lambda exercise: None,
) -> PracticeFolder:
    """Write every exercise as a sound file, ``playlist.m3u8`` and ``practice.html``.

    ``each`` is called before an exercise is rendered, from as many threads as there are
    processors. All is written or nothing. Raises ``NoSoundError`` without a synthesizer,
    ``PhrasingError`` where nothing can be written.
    """
    from phrasing.sound.soundfiles import Coding, write_sound
    from phrasing.sound.soundfonts import find_soundfont

    checked_form(form)
    soundfont = find_soundfont(form.soundfont)
    exercises = list(found)
    names = _practice_names(exercises)
    performances = (exercise.performance for exercise in exercises)
    is_carried = sum(float(p.tempos.seconds(p.end)) for p in performances) < CARRIED

    def record(name: str, exercise: Exercise) -> Entry:
        each(exercise)
        recording = write_sound(
            {name: exercise.performance},
            made.part,
            kind=form.kind,
            bits=form.bits,
            rate=form.samples_a_second,
            loudness=form.loudness,
            soundfont=soundfont,
            copies=(made.scratch, Coding()) if is_carried else None,
        )
        return Entry(
            exercise.group,
            exercise.title,
            f"{name}.{form.format}",
            recording.seconds,
            exercise,
            recording.music_starts,
            _carried(recording.copies[name]) if is_carried else None,
        )

    files = [f"{name}.{form.format}" for name in names]
    with plan.writing([*files, PLAYLIST, PRACTICE_PAGE]) as made:
        with ThreadPoolExecutor(os.cpu_count()) as side_by_side:
            entries = tuple(side_by_side.map(record, names, exercises))
        write_whole(made.part / PLAYLIST, playlist(title, entries))
        write_whole(made.part / PRACTICE_PAGE, practice_page(title, entries))
    return PracticeFolder(plan.folder, entries)


def _carried(file: SoundFile) -> Packed:
    """A step's sound as its page carries it; the file it was made from is not kept."""
    from phrasing.sound.packing import PACKED, packed

    _, tightest = PACKED[0]
    sound = packed(file.path, tightest, whole=True)
    file.path.unlink()
    return sound


def _practice_names(exercises: Sequence[Exercise]) -> list[str]:
    """Names of files without their endings, which sort in the order of practice."""
    digits = len(str(len(exercises)))
    return [f"{n:0{digits}}-{_safe(each.name)}" for n, each in enumerate(exercises, 1)]


def _safe(name: str) -> str:
    """The name with nothing in it that a file system or a link may stumble over."""
    return "".join(c if c in SAFE else "-" for c in name.lower()).strip("-")


# The folder of a play-along: the band with or without the melody, as MIDI and sound.

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
    plan: Plan,
    form: SoundForm,
    *,
    stems: bool = False,
) -> BandFolder:
    """Write ``backing.mid`` (a named track for each player) and the mix, or nothing.

    ``stems``: a sound file for each player too; together they add up to the mix.
    """
    from phrasing.sound.midi import write_midi

    versions = {MIX: performance}
    if stems:
        versions |= _stems(performance)
    with plan.writing([f"{MIX}.mid", *(f"{name}.{form.format}" for name in versions)]) as made:
        write_midi(performance, made.part / f"{MIX}.mid")
        recording, no_sound = recorded(versions, made.part, form, lead=MIX)
    return BandFolder(plan.folder, plan.outcome.files, recording, no_sound)


def _stems(performance: Performance) -> Mapping[str, Performance]:
    return {
        f"{MIX}-{part.name.lower().replace(' ', '-')}": replace(performance, parts=(part,))
        for part in performance.parts
        if len(part.onset)
    }


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
    plan: Plan,
    form: SoundForm,
    *,
    plain: str = "swung",
    backing: Backing | None = None,
    page: bool = True,
) -> Demonstration:
    """Write all files of a demonstration as planned, or none of them.

    ``plain``: swung or straight. ``backing``: a band that plays under both versions.
    ``page``: the listening page, too. Raises ``PhrasingError`` where the plan cannot be
    carried out.
    """
    from phrasing.lesson.handout import marked_score, write_handout
    from phrasing.marking.table import marks_csv
    from phrasing.page.listening import listening_page
    from phrasing.sound.midi import write_midi

    versions = _versions(lesson, plain, backing)
    with plan.writing(demonstration_names(plan, form, page=page)) as made:
        part = made.part
        for version in versions:
            write_midi(version.performance, part / f"{version.name}.mid")
        if not is_own_table(plan):
            write_whole(part / TABLE, marks_csv(*lesson.table))
        write_whole(part / "marked.musicxml", marked_score(lesson))
        write_handout(lesson, part / "sheet.pdf")
        scratch = made.scratch if page else None
        recording, on_page, no_sound = _sounded(versions, part, form, scratch)
        if page:
            write_whole(part / NAME, listening_page(lesson, versions, on_page))
        report = _report(lesson, plain)
        report["ride_ratio"] = round(backing.ratio, 3) if backing else None
        report["sound"] = sound_report(recording) if recording else None
        text = json.dumps(report, ensure_ascii=False, indent=2)
        write_whole(part / "report.json", text + "\n")
    return Demonstration(plan.folder, plan.outcome.files, report, no_sound, lesson=lesson)


def _sounded(
    versions: Sequence[Version], part: Path, form: SoundForm, for_page: Path | None
) -> tuple[Recording | None, Recording | None, str | None]:
    """The versions in the form asked for, and what a page is made from.

    They are played once for both; again only where the rates differ.
    """
    performances = {version.name: version.performance for version in versions}
    on_page = form_for_page(form)
    if for_page is None or (form.is_lossless and form.samples_a_second == PAGE_RATE):
        recording, no_sound = recorded(performances, part, form)
        return recording, recording and _numbered(recording, recording.files), no_sound
    once = form.samples_a_second == PAGE_RATE
    copies = (for_page, on_page) if once else None
    recording, no_sound = recorded(performances, part, form, copies=copies)
    if recording is None or once:
        return recording, recording and _numbered(recording, recording.copies), no_sound
    again, no_sound = recorded(performances, for_page, on_page)
    return recording, again and _numbered(again, again.files), no_sound


def _numbered(recording: Recording, files: Mapping[str, SoundFile]) -> Recording:
    """The recording of a page, whose versions go by their numbers."""
    numbered = {str(number): file for number, file in enumerate(files.values())}
    return replace(recording, files=numbered)


def demonstration_names(plan: Plan, form: SoundForm, *, page: bool = True) -> list[str]:
    """The names of the files that ``write_demonstration`` writes."""
    pair = [f"{way}.{kind}" for way in ("plain", "shaped") for kind in ("mid", form.format)]
    table = [] if is_own_table(plan) else [TABLE]
    rest = ["marked.musicxml", "sheet.pdf", "report.json"]
    return [*pair, *table, *rest, *([NAME] if page else [])]


TABLE = "marks.csv"


def is_own_table(plan: Plan) -> bool:
    """Whether the folder's table of marks is the one that is read: it is the teacher's then,
    and stays as it is."""
    return plan.reads(TABLE, MARKS_TABLE)


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
        "file": printable(lesson.source.name),
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
        "style": lesson.style.name,
        "style_sentence": lesson.style_sentence,
        "feel": lesson.feel_name,
        "swing_ratio": round(lesson.ratio, 3),
        "plain": plain,
        "strength": lesson.feel.strength,
        "rules_left_out": list(lesson.marking.left_out),
        "marks": {name: count for name, count in counts.items() if count},
        "decrescendos": len(lesson.marking.swells),
        "links": len(lesson.marking.links),
    }
