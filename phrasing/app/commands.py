"""The command line: takes what was asked, calls the rooms, and prints."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from phrasing.app import options as opt
from phrasing.app.options import grouped
from phrasing.app.planning import beside, file_plan, folder_plan, inputs_of
from phrasing.app.running import prepare, run
from phrasing.errors import NoSoundError
from phrasing.lesson.request import BandRequest, Request, SoundForm
from phrasing.printable import escaped

app = typer.Typer(
    help="Performs the phrasing of a swing line, plain and shaped, and says why.",
    invoke_without_command=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def main() -> None:
    """Run the command line; every failure ends in one line and an exit code."""
    prepare()
    sys.exit(run(lambda: app(standalone_mode=False)))


@app.callback()
def _alone(context: typer.Context) -> None:
    """The program's name alone is a wish for its help."""
    if context.invoked_subcommand is None:
        print(context.get_help())


@app.command(short_help="Perform a melody twice, plain and shaped.")
@grouped
def shape(
    melody: opt.MelodyFile,
    request: Request,
    sound: SoundForm,
    output: opt.Output = None,
    overwrite: opt.Overwrite = False,
    plain: Annotated[
        str, typer.Option("--plain", help="Eighths of the plain version: swung or straight.")
    ] = "swung",
    backing: Annotated[
        bool, typer.Option("--backing", help="With a band, where there are chord symbols.")
    ] = False,
    page: Annotated[
        bool, typer.Option("--page/--no-page", help="Make the listening page too.")
    ] = True,
) -> int:
    """Perform a melody twice, plain and shaped: MIDI, sound and the marks table.

    Example: phrasing shape late_bus_home.mid --tempo 160 -o lesson
    """
    from phrasing.app.folders import (
        TABLE,
        demonstration_names,
        is_own_table,
        write_demonstration,
    )
    from phrasing.app.report import print_demonstration, print_outcome, print_sentences
    from phrasing.lesson.lesson import open_lesson
    from phrasing.lesson.playalong import band_for

    inputs = inputs_of(melody, request, sound)
    folder = output or beside(melody)
    plan = folder_plan("shape", folder, inputs, sound, overwrite=overwrite)
    plan.check(demonstration_names(plan, sound, page=page))
    lesson = open_lesson(melody, request)
    band = band_for(lesson, BandRequest(count_in=1, ending="none")) if backing else None
    made = write_demonstration(lesson, plan, sound, plain=plain, backing=band, page=page)
    print_demonstration(made)
    print_outcome(plan.outcome)
    if is_own_table(plan):
        print_sentences([f"{TABLE} is the table you changed, and stays as it is."])
    if made.no_sound:
        raise NoSoundError(f"{made.no_sound} The MIDI files are written.")
    return 0


@app.command(short_help="Show the marks, each with its reason.")
@grouped
def marks(
    melody: opt.MelodyFile,
    request: Request,
    as_json: Annotated[bool, typer.Option("--json", help="As one JSON object.")] = False,
    as_csv: Annotated[
        bool, typer.Option("--csv", help="As a table to edit in a spreadsheet.")
    ] = False,
) -> None:
    """Show the marks of a melody, each with its reason.

    Example: phrasing marks late_bus_home.mid --only 1-4
    """
    from phrasing.app.report import print_marks
    from phrasing.lesson.lesson import open_lesson
    from phrasing.marking.table import marks_csv, marks_json

    lesson = open_lesson(melody, request)
    if as_json:
        print(escaped(json.dumps(marks_json(*lesson.table), ensure_ascii=False)))
    elif as_csv:
        sys.stdout.write(marks_csv(*lesson.table))
    else:
        print_marks(lesson)


@app.command(short_help="Print the melody with its marks.")
@grouped
def sheet(
    melody: opt.MelodyFile,
    request: Request,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="A .pdf or .svg file (beside it).")
    ] = None,
    overwrite: opt.Overwrite = False,
    layout: Annotated[
        str, typer.Option("--layout", help="What is on it: marked, facing or exercise.")
    ] = "marked",
    reasons: Annotated[
        bool, typer.Option("--reasons", help="Number the marks and list the reasons.")
    ] = False,
    paper: Annotated[str, typer.Option("--paper", help="Paper: a4 or letter.")] = "a4",
) -> None:
    """Print a sheet: the marked melody, plain and marked facing, or an exercise to fill in.

    Example: phrasing sheet late_bus_home.mid --instrument alto-sax --reasons
    """
    from phrasing.app.report import (
        print_files,
        print_outcome,
        print_sentences,
        print_warnings,
    )
    from phrasing.lesson.handout import missing_signs, write_handout
    from phrasing.lesson.lesson import open_lesson

    path = output or melody.with_suffix(".pdf")
    plan = file_plan("sheet", path, inputs_of(melody, request), overwrite=overwrite)
    plan.check([path.name])
    lesson = open_lesson(melody, request)
    with plan.writing([path.name]) as made:
        place = made.part / path.name
        write_handout(lesson, place, layout=layout, reasons=reasons, paper=paper)
    print_warnings(lesson)
    print_sentences(missing_signs(lesson))
    print_files(plan.folder / name for name in plan.outcome.files)
    print_outcome(plan.outcome)


@app.command(short_help="Make a page to hear and compare the versions on.")
@grouped
def page(
    melody: opt.MelodyFile,
    request: Request,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="A folder or an .html file (a folder beside it)."),
    ] = None,
    overwrite: opt.Overwrite = False,
    straight: Annotated[
        bool, typer.Option("--straight", help="Even eighths, unshaped, as one more version.")
    ] = False,
    readings: Annotated[
        bool,
        typer.Option(
            "--readings",
            help="A version for each second reading, where schooled players differ.",
        ),
    ] = False,
    without: Annotated[
        list[str],
        typer.Option("--without", help="A version without this rule (may be repeated)."),
    ] = [],  # noqa: B006
    variant: Annotated[
        list[str],
        typer.Option(
            "--variant",
            help="A version of your own, NAME=FILE: its name and its marks table, such as "
            "“stress on top=top.csv” (may be repeated).",
        ),
    ] = [],  # noqa: B006
    *,
    voice: SoundForm,
) -> None:
    """Make a page to listen on: switch versions at any moment, see why, loop, slow down.

    One file that needs no network; send it to a student.

    Example: phrasing page late_bus_home.mid --straight --without dip
    """
    from phrasing.app.folders import page_place, write_listening_page
    from phrasing.app.report import (
        print_files,
        print_outcome,
        print_sentences,
        print_warnings,
    )
    from phrasing.lesson.lesson import open_lesson
    from phrasing.lesson.versions import versions_of

    path = page_place(output, beside(melody))
    inputs = inputs_of(melody, request, voice, variant)
    plan = file_plan("page", path, inputs, voice, overwrite=overwrite)
    plan.check([path.name])
    lesson = open_lesson(melody, request)
    said: list[str] = []
    versions = versions_of(
        lesson,
        request,
        straight=straight,
        readings=readings,
        without=tuple(without),
        variants=tuple(variant),
        tell=said.append,
    )
    no_sound = write_listening_page(lesson, versions, plan, voice)
    print_warnings(lesson)
    print_sentences(said)
    print_files([path])
    print_outcome(plan.outcome)
    if no_sound:
        raise NoSoundError(f"{no_sound} The page is written, without sound.")


@app.command(short_help="Make a backing to play along with.")
@grouped
def backing(
    chart: Annotated[
        Path, typer.Argument(metavar="CHART", help="A chord chart, or a score with chords.")
    ],
    request: Request,
    band: BandRequest,
    sound: SoundForm,
    output: opt.Output = None,
    overwrite: opt.Overwrite = False,
    with_melody: Annotated[
        str, typer.Option("--with-melody", help="The melody on top: plain, shaped or off.")
    ] = "off",
    stems: Annotated[
        bool, typer.Option("--stems", help="A sound file for each player, too.")
    ] = False,
) -> None:
    """Make a backing from chord symbols: bass, drums and chords, with or without the melody.

    Example: phrasing backing kettle_blues.chart --choruses 3 --tempo 126
    """
    from phrasing.app.folders import MIX, write_backing
    from phrasing.app.report import print_backing, print_outcome
    from phrasing.lesson.lesson import open_piece
    from phrasing.lesson.playalong import band_for, play_along

    inputs = inputs_of(chart, request, sound)
    plan = folder_plan("backing", output or beside(chart), inputs, sound, overwrite=overwrite)
    plan.check([f"{MIX}.mid", f"{MIX}.{sound.format}"])
    lesson = open_piece(chart, request)
    players = band_for(lesson, band)
    performance = play_along(lesson, players, with_melody)
    made = write_backing(performance, plan, sound, stems=stems)
    print_backing(lesson, players, made)
    print_outcome(plan.outcome)
    if made.no_sound:
        raise NoSoundError(f"{made.no_sound} The MIDI file is written.")


@app.command(short_help="Make practice files: phrases, tempos, call and response, keys.")
@grouped
def practice(
    melody: opt.MelodyFile,
    request: Request,
    compressed: SoundForm,
    output: opt.Output = None,
    overwrite: opt.Overwrite = False,
    first: Annotated[
        str, typer.Option("--from", help="Slowest: 60% of its tempo, or quarters a minute.")
    ] = "60%",
    last: Annotated[str, typer.Option("--to", help="Fastest, likewise.")] = "100%",
    step: Annotated[str, typer.Option("--step", help="How much faster each time.")] = "10%",
    bars: Annotated[int, typer.Option("--bars", help="Bars in the shortest phrase.")] = 2,
    keys: Annotated[
        str, typer.Option("--keys", help="all, or some keys such as F,Bb; none by default.")
    ] = "",
    *,
    players: BandRequest,
) -> None:
    """Make the practice files of a melody, in the order of practice, with a page to play them.

    Example: phrasing practice late_bus_home.mid --from 60% --to 100% --keys all
    """
    from phrasing.app.folders import PLAYLIST, PRACTICE_PAGE, write_practice
    from phrasing.app.report import print_outcome, print_practice, print_warnings, progress
    from phrasing.lesson.exercises import exercises, ladder_from
    from phrasing.lesson.lesson import open_lesson
    from phrasing.lesson.playalong import players_of

    folder = output or beside(melody).with_name(f"{beside(melody).name}-practice")
    inputs = inputs_of(melody, request, compressed)
    plan = folder_plan("practice", folder, inputs, compressed, overwrite=overwrite)
    plan.check([PLAYLIST, PRACTICE_PAGE])
    lesson = open_lesson(melody, request)
    found = list(
        exercises(
            lesson,
            ladder_from(first, last, step),
            bars=bars,
            keys=[key.strip() for key in keys.split(",") if key.strip()],
            players=players_of(players),
            seed=players.seed,
        )
    )
    print_warnings(lesson)
    with progress(len(found)) as step_on:
        made = write_practice(lesson.melody.title, found, plan, compressed, each=step_on)
    print_practice(made)
    print_outcome(plan.outcome)


@app.command(short_help="Show the swing ratio by tempo.")
@grouped
def ratio(
    tempo: Annotated[
        list[float] | None, typer.Argument(metavar="[TEMPO]...", help="Quarter notes a minute.")
    ] = None,
    *,
    ratios: Request,
) -> None:
    """Show the swing ratio by tempo that would be used, in words and numbers.

    Example: phrasing ratio 120 160 200
    """
    from phrasing.app.report import print_ratios
    from phrasing.lesson.lesson import feel_of
    from phrasing.score.meters import checked_tempo

    tempos = [checked_tempo(each) for each in tempo or range(80, 321, 20)]
    print_ratios(tempos, feel_of(ratios).swing)


@app.command(short_help="Show which synthesizer and soundfont are used.")
@grouped
def sounds(
    voice: SoundForm,
    check: Annotated[
        Path | None,
        typer.Option(help="A soundfont to listen to: what it can do for each instrument."),
    ] = None,
) -> None:
    """Show which synthesizer and soundfont were found, and what would sound better.

    Example: phrasing sounds --check my.sf2
    """
    from phrasing.app.report import print_check, print_sounds
    from phrasing.sound.soundfonts import find_soundfont

    if check is None:
        print_sounds(voice.soundfont)
    else:
        print_check(find_soundfont(check))


@app.command(short_help="Do the main job on an example.")
@grouped
def demo(
    sound: SoundForm,
    output: Annotated[
        Path, typer.Option("-o", "--output", help="The folder to write to.")
    ] = Path("demo"),
    overwrite: opt.Overwrite = False,
) -> int:
    """Do the main job on an example: hear the same twelve bars plain and shaped.

    Example: phrasing demo -o demo
    """
    from phrasing.app.folders import demonstration_names, example, write_demonstration
    from phrasing.app.report import print_demonstration, print_marks, print_outcome
    from phrasing.lesson.lesson import open_lesson

    inputs = inputs_of(example(), Request(), sound)
    plan = folder_plan("shape", output, inputs, sound, overwrite=overwrite)
    plan.check(demonstration_names(plan, sound))
    lesson = open_lesson(example(), Request())
    print_marks(lesson)
    made = write_demonstration(lesson, plan, sound)
    print_demonstration(made)
    print_outcome(plan.outcome)
    if made.no_sound:
        raise NoSoundError(f"{made.no_sound} The MIDI files are written.")
    return 0


@app.command(short_help="Open the desk: all of it by hand and ear, on a page.")
@grouped
def desk(
    place: Annotated[
        Path | None,
        typer.Argument(metavar="[FILE or FOLDER]", help="A melody, or a folder of them."),
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open it in the browser.")
    ] = True,
    port: Annotated[int, typer.Option("--port", help="The port to serve (0: a free one).")] = 0,
    *,
    voice: SoundForm,
) -> None:
    """Open the desk in your browser: drop a melody on it, change a mark, hear it at once.

    It is served from your own machine to your own browser; nothing leaves the machine.
    Without a file or folder it opens on copies of the examples, in the folder “desk”.

    Example: phrasing desk late_bus_home.mid
    """
    from phrasing.app.desktop import open_desk

    open_desk(place, voice.soundfont, browser=browser, port=port)
