"""The command line: takes what was asked, calls the rooms, and prints.

Exit codes: 0 done; 2 something in the input or the wishes has to be put right, told in one
line; 3 the MIDI files are written, but there is no synthesizer or soundfont for the sound.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from phrasing import options as opt
from phrasing.errors import NoSoundError, PhrasingError
from phrasing.options import grouped
from phrasing.wishes import SoundForm, Wishes

app = typer.Typer(
    help="Performs the phrasing of a swing line, plain and shaped, and says why.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

FAULT, WRONG, NO_SOUND, STOPPED = 1, 2, 3, 130


def main() -> None:
    """Run the command line; every failure ends in one line and an exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    sys.exit(run(lambda: app(standalone_mode=False)))


def run(command: Callable[[], Any]) -> int:
    """The exit code of a command; its failure is told in one line on standard error."""
    try:
        return int(command() or 0)
    except NoSoundError as error:
        return _tell(error, NO_SOUND)
    except PhrasingError as error:
        return _tell(error, WRONG)
    except KeyboardInterrupt:
        return _tell("stopped.", STOPPED)
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except OSError as error:
        return _tell(f"{error.filename or 'A file'}: {error.strerror or error}.", WRONG)
    except Exception as error:
        if hasattr(error, "format_message"):
            return _tell(f"{_in_plain_words(error.format_message())} See --help.", WRONG)
        if type(error).__name__ in ("Exit", "Abort"):
            return int(getattr(error, "exit_code", FAULT))
        return _tell(f"a fault of this program, not yours: {error!r}. Please report it.", FAULT)


def _in_plain_words(message: str) -> str:
    """A parser's complaint about an option, in words for people."""
    number = re.search(r"for '(-\S+)': .*\b(number|float|integer)\b", message)
    if number:
        kind = "whole number" if number[2] == "integer" else "number"
        return f"{number[1]} takes a {kind}."
    return message


def _tell(message: object, code: int) -> int:
    print("phrasing: " + " ".join(str(message).split()), file=sys.stderr)
    return code


@app.command(short_help="Perform a melody twice, plain and shaped.")
@grouped
def shape(
    melody: opt.MelodyFile,
    wishes: Wishes,
    sound: SoundForm,
    output: opt.Output = None,
    overwrite: opt.Overwrite = False,
    plain: Annotated[
        str, typer.Option("--plain", help="Eighths of the plain version: swung or straight.")
    ] = "swung",
) -> int:
    """Perform a melody twice, plain and shaped: MIDI, sound and the marks table.

    Example: phrasing shape late_bus_home.mid --tempo 160 -o lesson
    """
    from phrasing.demonstration import write_demonstration
    from phrasing.lesson import open_lesson
    from phrasing.telling import print_demonstration

    lesson = open_lesson(melody, wishes)
    folder = output or beside(melody)
    made = write_demonstration(lesson, folder, sound, plain=plain, overwrite=overwrite)
    print_demonstration(made)
    if made.no_sound:
        raise NoSoundError(f"{made.no_sound} The MIDI files are written.")
    return 0


@app.command(short_help="Show the marks, each with its reason.")
@grouped
def marks(
    melody: opt.MelodyFile,
    wishes: Wishes,
    as_json: Annotated[bool, typer.Option("--json", help="As one JSON object.")] = False,
    as_csv: Annotated[
        bool, typer.Option("--csv", help="As a table to edit in a spreadsheet.")
    ] = False,
) -> None:
    """Show the marks of a melody, each with its reason.

    Example: phrasing marks late_bus_home.mid --only 1-4
    """
    from phrasing.lesson import open_lesson
    from phrasing.publishing.tables import marks_csv, marks_json
    from phrasing.telling import print_marks

    lesson = open_lesson(melody, wishes)
    if as_json:
        print(json.dumps(marks_json(*lesson.table), ensure_ascii=False))
    elif as_csv:
        sys.stdout.write(marks_csv(*lesson.table))
    else:
        print_marks(lesson)


@app.command(short_help="Show the swing ratio by tempo.")
def ratio(
    tempo: Annotated[
        list[float] | None, typer.Argument(metavar="[TEMPO]...", help="Quarter notes a minute.")
    ] = None,
    swing: Annotated[
        str | None, typer.Option("--swing", help="Such as 2, straight, or 120:2,200:1.5.")
    ] = None,
    feel: Annotated[
        Path | None, typer.Option("--feel", help="A TOML file with a swing table of your own.")
    ] = None,
) -> None:
    """Show the swing ratio by tempo that would be used, in words and numbers.

    Example: phrasing ratio 120 160 200
    """
    from phrasing.lesson import feel_of
    from phrasing.swing import checked_tempo
    from phrasing.telling import print_ratios

    tempos = [checked_tempo(each) for each in tempo or range(80, 321, 20)]
    print_ratios(tempos, feel_of(Wishes(swing=swing, feel=feel)).swing)


@app.command(short_help="Show which synthesizer and soundfont are used.")
def sounds(soundfont: opt.SoundfontFile = None) -> None:
    """Show which synthesizer and soundfont were found, and what would sound better."""
    from phrasing.telling import print_sounds

    print_sounds(soundfont)


@app.command(short_help="Do the main job on an example.")
@grouped
def demo(
    sound: SoundForm,
    output: opt.Output = None,
    overwrite: opt.Overwrite = False,
) -> int:
    """Do the main job on an example: hear the same eight bars plain and shaped.

    Example: phrasing demo -o demo
    """
    from phrasing.demonstration import write_demonstration
    from phrasing.examples import example
    from phrasing.lesson import open_lesson
    from phrasing.telling import print_demonstration, print_marks

    lesson = open_lesson(example(), Wishes())
    print_marks(lesson)
    made = write_demonstration(lesson, output or Path("demo"), sound, overwrite=overwrite)
    print_demonstration(made)
    if made.no_sound:
        raise NoSoundError(f"{made.no_sound} The MIDI files are written.")
    return 0


def beside(melody: Path) -> Path:
    """The folder beside a file that is named after it."""
    return (
        melody.with_suffix("") if melody.suffix else melody.with_name(f"{melody.name}-shaped")
    )
