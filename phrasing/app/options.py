"""The command line's options, each written once and shared by the commands that have it."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, TypeAlias

import typer

from phrasing.lesson.request import BandRequest, Request, SoundForm

MelodyFile: TypeAlias = Annotated[
    Path, typer.Argument(metavar="MELODY", help="A melody: MIDI or MusicXML.")
]
Output: TypeAlias = Annotated[
    Path | None,
    typer.Option("-o", "--output", help="The folder to write to (beside the input)."),
]
Overwrite: TypeAlias = Annotated[
    bool, typer.Option("--overwrite", help="Replace files that are there already.")
]
SoundfontFile: TypeAlias = Annotated[
    Path | None,
    typer.Option("--soundfont", help="A soundfont (.sf2) to play with (the best one found)."),
]


def _option(kind: Any, *names: str, help: str, default: Any = None) -> tuple[Any, Any]:
    return Annotated[kind, typer.Option(*names, help=help)], default


MAYBE = {"float": float | None, "text": str | None, "path": Path | None, "whole": int | None}

REQUEST: dict[str, tuple[Any, Any]] = {
    "tempo": _option(
        MAYBE["float"], "--tempo", help="Quarter notes a minute, 20 to 400 (the file's own)."
    ),
    "style": _option(
        MAYBE["text"],
        "--style",
        help="auto, swing, ballad, even or shuffle (auto: as its author's words, meter and "
        "tempo ask).",
    ),
    "swing": _option(
        MAYBE["text"],
        "--swing",
        help="Long : short of a pair of eighths: a ratio such as 2, straight, auto (by tempo), "
        "or a table of tempo:ratio such as 120:2,200:1.5.",
    ),
    "strength": _option(
        MAYBE["float"], "--strength", help="How strongly the shaping is applied, 0 to 1 (1)."
    ),
    "instrument": _option(
        MAYBE["text"], "--instrument", help="Such as trumpet or alto-sax (the file's own)."
    ),
    "transpose": _option(
        MAYBE["text"],
        "--transpose",
        "--key",
        help="By semitones or an interval, or to a key such as Bb.",
    ),
    "octave": _option(int, "--octave", help="Octaves up, or down if negative.", default=0),
    "marks": _option(
        MAYBE["path"], "--marks", help="An edited marks table: its marks win over the rules."
    ),
    "leave_out": _option(
        list[str],
        "--except",
        help="Leave a rule out, to hear what it does (may be repeated).",
        default=(),
    ),
    "only": _option(MAYBE["text"], "--only", help="Some bars, such as 1-4."),
    "feel": _option(
        MAYBE["path"], "--feel", help="A TOML file with levels, gates and swing of your own."
    ),
    "track": _option(
        MAYBE["text"], "--track", help="The track or part, by number or name (the melody's)."
    ),
    "pickup": _option(
        MAYBE["float"], "--pickup", help="Quarter notes before bar 1, in a MIDI file."
    ),
    "as_written": _option(
        bool, "--as-written", help="Do not play repeats and da capos out.", default=False
    ),
}

SOUND: dict[str, tuple[Any, Any]] = {
    "soundfont": (SoundfontFile, None),
    "format": _option(
        str, "--format", help="Format of the sound: wav, flac, mp3 or opus.", default="wav"
    ),
    "rate": _option(
        MAYBE["whole"], "--rate", help="Samples a second: 44100 or 48000 (44100; opus 48000)."
    ),
    "bits": _option(int, "--bits", help="Bits a sample: 16 or 24.", default=16),
    "loudness": _option(float, "--loudness", help="Loudness in LUFS.", default=-18.0),
}

COMPRESSED = SOUND | {
    "format": _option(
        str, "--format", help="Format of the sound: mp3, opus, flac or wav.", default="mp3"
    ),
}

BAND: dict[str, tuple[Any, Any]] = {
    "choruses": _option(int, "--choruses", help="How often the form is played.", default=1),
    "count_in": _option(int, "--count-in", help="Bars counted before it.", default=2),
    "clicks": _option(str, "--clicks", help="Counted on all beats, or on 2,4.", default="all"),
    "parts": _option(
        list[str], "--parts", help="Who plays: bass, drums, chords (all of them).", default=()
    ),
    "mute": _option(list[str], "--mute", help="Who of them does not play.", default=()),
    "comping": _option(
        str,
        "--comping",
        help="What the chords are played on: piano or guitar.",
        default="piano",
    ),
    "two": _option(bool, "--in-two", help="The first chorus in two.", default=False),
    "ending": _option(
        bool,
        "--ending/--no-ending",
        help="Play an ending, or stop with the form.",
        default=True,
    ),
    "seed": _option(int, "--seed", help="Another number, another take of the band.", default=0),
}

GROUPS: dict[str, tuple[type, dict[str, tuple[Any, Any]]]] = {
    "request": (Request, REQUEST),
    "sound": (SoundForm, SOUND),
    "compressed": (SoundForm, COMPRESSED),
    "band": (BandRequest, BAND),
}


def grouped(command: Callable[..., Any]) -> Callable[..., Any]:
    """A command whose parameters named in ``GROUPS`` come from their groups of options."""
    own = inspect.signature(command, eval_str=True)
    groups = {name: GROUPS[name] for name in own.parameters if name in GROUPS}
    parameters = [p for name, p in own.parameters.items() if name not in groups]
    for _, options in groups.values():
        parameters += [
            inspect.Parameter(
                name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=kind
            )
            for name, (kind, default) in options.items()
        ]

    @functools.wraps(command)
    def wrapped(**given: Any) -> Any:
        for name, (kind, options) in groups.items():
            given[name] = kind(**{option: _plain(given.pop(option)) for option in options})
        return command(**given)

    wrapped.__signature__ = own.replace(parameters=parameters)  # type: ignore[attr-defined]
    wrapped.__annotations__ = {p.name: p.annotation for p in parameters}
    return wrapped


def _plain(value: Any) -> Any:
    """The value of an option; lists may be written with commas, too."""
    if isinstance(value, list):
        return tuple(word.strip() for each in value for word in str(each).split(","))
    return value
