"""What the commands say on the terminal, in a music teacher's words."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phrasing.app.folders import NAME as PAGE_NAME
from phrasing.app.folders import sound_report
from phrasing.feel import Swing
from phrasing.files import Outcome
from phrasing.lesson.lesson import Lesson
from phrasing.marking.explaining import swell_reasons, trade_offs
from phrasing.page.practice import CAUTION as PRACTICE_CAUTION
from phrasing.performing.swing import melody_ratio, off_beat_position, ride_ratio
from phrasing.printable import printable
from phrasing.score.marks import MARK_NAMES, UNMARKED
from phrasing.score.pitches import pitch_name
from phrasing.score.words import ratio_name, where_read

if TYPE_CHECKING:
    from rich.console import Console

    from phrasing.app.folders import BandFolder, Demonstration, PracticeFolder
    from phrasing.band.band import Backing
    from phrasing.lesson.exercises import Exercise
    from phrasing.sound.soundfonts import Soundfont


EVEN = 1.05
"""A ratio below this is called even: at 300 quarters a minute the off-beat is moved by 2 ms,
and one tone displaced by less than 6 ms in an even series is not heard (Friberg & Sundberg
1995, JASA 98(5))."""
WAYS = ((2.6, "hard swing"), (1.9, "full swing"), (1.4, "light swing"), (EVEN, "nearly even"))
CAUTION = (
    "Start with the volume low. Loud sound over hours harms hearing; what your teacher or "
    "doctor says goes before this program."
)


def console() -> Console:
    """The terminal, or the file that the output goes to."""
    from rich.console import Console

    width = None if sys.stdout.isatty() else 100
    return Console(highlight=False, soft_wrap=False, width=width, markup=False)


def say(text: object = "") -> None:
    """Print a text, wrapped, with nothing in it that acts on the terminal."""
    console().print(printable(text))


def print_marks(lesson: Lesson) -> None:
    """The marks with their reasons, a line each, and what happens over the line."""
    from rich.table import Table

    melody, marking = lesson.melody, lesson.marking
    out = console()
    _print_heading(lesson)
    table = Table(box=None, pad_edge=False, show_edge=False, header_style="bold")
    for heading, wrap in (("where", True), ("mark", True), ("why", False)):
        table.add_column(heading, no_wrap=wrap)
    for i, code in enumerate(marking.mark.tolist()):
        reason = lesson.written_reasons[i]
        if reason is not None:
            name = MARK_NAMES[code] if code != UNMARKED else "–"
            table.add_row(where_read(lesson.read, melody, i), name, printable(reason))
    out.print(table)
    for sentence in swell_reasons(lesson.read, marking):
        say(sentence)
    others = trade_offs(lesson.read, marking)
    if others:
        say("Schooled players differ here:")
    for sentence in others:
        say(sentence)


def _print_heading(lesson: Lesson) -> None:
    melody = lesson.melody
    say(
        f"{melody.title}: {melody.meter}, {lesson.tempo:g} quarter notes a minute, "
        f"{_eighths(lesson.ratio)}, {lesson.instrument.name}."
    )
    say(lesson.style_sentence)
    if melody.reading.part:
        say(f"Read from {lesson.source.name} ({melody.reading.format}), {melody.reading.part}.")
    print_warnings(lesson)
    say()


def print_warnings(lesson: Lesson) -> None:
    """What the teacher should know about the melody as it was read."""
    for warning in lesson.warnings:
        say(f"Note: {warning}")


def print_sentences(sentences: Iterable[str]) -> None:
    """What else the teacher should know of what was asked for."""
    for sentence in sentences:
        say(f"Note: {sentence}")


def print_files(files: Iterable[Path]) -> None:
    """What was written, a path a line."""
    for file in files:
        print(printable(file))


def print_outcome(outcome: Outcome) -> None:
    """What was there before and is replaced, kept or removed now; nothing where nothing was."""
    if outcome.replaced:
        say(f"Replaced: {', '.join(outcome.replaced)}.")
    for name, copy in outcome.kept:
        say(f"{name} had been changed since; the one before is kept as “{copy}”.")
    if outcome.removed:
        say(f"Removed, from an earlier run: {', '.join(outcome.removed)}.")


def print_backing(lesson: Lesson, backing: Backing, made: BandFolder) -> None:
    """What was written, by whom it is played and how it swings."""
    print_warnings(lesson)
    print_files(made.folder / name for name in made.files)
    names = ", ".join(part.name.lower() for part in backing.parts)
    how = way(backing.ratio)
    if backing.ratio >= EVEN:
        how = f"the ride swings {ratio_name(backing.ratio)} ({how})"
    say(f"Played by {names}: {backing.groove}, {how}.")
    if made.recording:
        say(sound_line(sound_report(made.recording)))
        say(CAUTION)


def print_practice(made: PracticeFolder) -> None:
    """How much there is to practise, and where to begin."""
    say(f"{len(made.entries)} files, {made.minutes:.0f} minutes in all, once each.")
    say(f"Open {made.folder / 'practice.html'} to play them in order.")
    say(PRACTICE_CAUTION)


@contextmanager
def progress(count: int) -> Iterator[Callable[[Exercise], None]]:
    """A progress bar on a terminal, nothing elsewhere; call what it gives before each file."""
    if not sys.stderr.isatty():
        yield lambda exercise: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=count)

        def step_on(exercise: Exercise) -> None:
            bar.update(task, advance=1, description=exercise.title)

        yield step_on


def print_demonstration(made: Demonstration) -> None:
    """What was written, how loud it is, and how to listen."""
    print_warnings(made.lesson)
    print_files(made.folder / name for name in made.files)
    sound = made.report["sound"]
    if sound:
        say()
        say(sound_line(sound))
        alike = "in both the melody is" if made.report["ride_ratio"] else "both are"
        say(f"Play plain, then shaped: {alike} equally loud, so what you hear is the shape.")
        if PAGE_NAME in made.files:
            page = made.folder / PAGE_NAME
            say(f"To switch between them at any note, open {page} in a browser.")
        say(CAUTION)


def sound_line(sound: dict[str, Any]) -> str:
    """One sentence on the sound files: loudness, highest peak, soundfont."""
    files = sound["files"].values()
    loudness = max(file["loudness_lufs"] for file in files)
    peak = max(file["true_peak_dbtp"] for file in files)
    return (
        f"Sound: {sound['seconds']:.1f} s at {loudness:.1f} LUFS, highest peak "
        f"{peak:.1f} dBTP, played with {sound['soundfont']}."
    )


def _eighths(ratio: float) -> str:
    """How the eighths go; even ones have no ratio to tell."""
    said = way(ratio)
    return said if said == "even eighths" else f"swing {ratio_name(ratio)} ({said})"


def way(ratio: float) -> str:
    """A ratio in words."""
    return next((words for least, words in WAYS if ratio >= least), "even eighths")


def print_ratios(tempos: Sequence[float], swing: Swing) -> None:
    """The ratio of a melody and of a ride cymbal at each tempo."""
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("tempo", "melody", "", "off-beat note", "ride cymbal"):
        table.add_column(heading, justify="left" if heading == "" else "right")
    for tempo, melody, ride in zip(
        tempos, melody_ratio(tempos, swing), ride_ratio(tempos, swing), strict=True
    ):
        short = (1.0 - float(off_beat_position(melody))) * 60_000 / tempo
        table.add_row(
            f"{tempo:g}",
            f"{melody:.2f} : 1",
            way(float(melody)),
            f"{short:.0f} ms",
            f"{ride:.2f} : 1",
        )
    out = console()
    say("Long : short for a pair of eighths, by tempo in quarter notes a minute.")
    out.print(table)
    say(
        "A melody alone follows the “melody” column; with a rhythm section it takes the ride's "
        "beat and comes a little late on the beats, which makes its own ratio smaller."
    )


def print_sounds(asked: Path | None) -> None:
    """The synthesizer and soundfonts found, the one in use first, and what sounds better."""
    from phrasing.errors import NoSoundError
    from phrasing.sound.soundfonts import EMBEDDED, available, find_soundfont
    from phrasing.sound.synthesizer import library_name

    try:
        print(f"Synthesizer library: {library_name()}")
    except NoSoundError as error:
        print(error)
    font = find_soundfont(asked)
    print(printable(f"Soundfont in use: {font.name} ({font.licence}), {font.path}"))
    for other in available():
        if other.path != font.path:
            print(printable(f"Also found: {other.name} ({other.licence}), {other.path}"))
    if font.path.name == EMBEDDED:
        say(BETTER)


def print_check(soundfont: Soundfont) -> None:
    """What each instrument can do on a soundfont, a line each, and what the words mean."""
    from phrasing.score.instruments import INSTRUMENTS
    from phrasing.sound.checking import checked

    winds = {each.program: each for each in reversed(INSTRUMENTS) if each.wind}
    print(printable(f"{soundfont.name}, listened to over each instrument's range:"))
    for found in checked(soundfont, reversed(winds.values())):
        median, worst = (round(1000 * seconds) for seconds in found.late)
        missing = "" if found.there else "; missing, another sound plays it"
        if found.silent:
            names = ", ".join(pitch_name(key) for key in found.silent)
            missing += f"; keys left out: {names}"
        print(
            f"  {found.instrument.name}: speaks after {median} ms (up to {worst}); darker by"
            f" {found.darker:.0f} dB, brighter by {found.brighter:.0f}{missing}"
        )
    say(CHECKED)


CHECKED = (
    "Late notes are struck so much earlier that they are heard on time. A ghost is 8 dB darker"
    " than a plain note, an accent 4 dB brighter (above 3 kHz); where a soundfont cannot do"
    " that, level and length have to carry the mark. A key left out is played by its"
    " neighbour, tuned."
)
BETTER = (
    "A larger General MIDI soundfont sounds better: on Debian or Ubuntu “sudo apt install "
    "fluid-soundfont-gm”, on Fedora “sudo dnf install fluid-soundfont-gm”; elsewhere see "
    "soundfonts_readme.md. Name one with --soundfont FILE."
)
