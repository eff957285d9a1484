"""The command line's options, each written once and shared by the commands that have it."""

from __future__ import annotations

import dataclasses
import functools
import inspect
import typing
from collections.abc import Callable, Mapping
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
    bool,
    typer.Option(
        "--overwrite",
        help="Replace files that are there already; what was changed by hand is kept beside "
        "them under a dated name.",
    ),
]
Options: TypeAlias = dict[str, tuple[Any, Any]]
"""By a field's name: the option as the command line shows it, and its default."""


def options_of(kind: type, told: Mapping[str, tuple[str, ...]], **defaults: Any) -> Options:
    """The fields of a dataclass as options: kind and default are the field's own.

    ``told``: each field's names on the command line, and its help at the end; ``defaults``
    that differ from the field's.
    """
    hints = typing.get_type_hints(kind)
    fields = {each.name: each.default for each in dataclasses.fields(kind)}
    return {
        name: (
            Annotated[_asked(hints[name]), typer.Option(*names, help=help)],
            defaults.get(name, fields[name]),
        )
        for name, (*names, help) in told.items()
    }


def _asked(hint: Any) -> Any:
    """A field's kind as the parser knows it: several words come as a list."""
    return list[str] if hint == tuple[str, ...] else hint


REQUEST = options_of(
    Request,
    {
        "tempo": (
            "--tempo",
            "Quarter notes a minute, 20 to 400 (the file's own); also decides how a take "
            "without a click is read.",
        ),
        "style": (
            "--style",
            "auto, swing, ballad, even or shuffle (auto: as its author's words, meter and "
            "tempo ask); for a band two-feel, bossa, samba or 12/8, too.",
        ),
        "swing": (
            "--swing",
            "Long : short of a pair of eighths: a ratio such as 2, straight, auto (by tempo), "
            "or a table of tempo:ratio such as 120:2,200:1.5.",
        ),
        "strength": ("--strength", "How strongly the shaping is applied, 0 to 1 (1)."),
        "instrument": ("--instrument", "Such as trumpet or alto-sax (the file's own)."),
        "transpose": (
            *("--transpose", "--key"),
            "By semitones or an interval, or to a key such as Bb.",
        ),
        "octave": ("--octave", "Octaves up, or down if negative."),
        "marks": ("--marks", "An edited marks table: its marks win over the rules."),
        "leave_out": (
            "--except",
            "Leave a rule out, to hear what it does (may be repeated).",
        ),
        "only": ("--only", "Some bars, such as 1-4."),
        "feel": (
            "--feel",
            "taught (the default), played (as recorded soloists were counted), or a TOML file "
            "of your own.",
        ),
        "track": ("--track", "The track or part, by number or name (the melody's)."),
        "pickup": ("--pickup", "Quarter notes before bar 1, in a MIDI file."),
        "meter": ("--meter", "Such as 3/4, in place of a MIDI file's."),
        "as_written": ("--as-written", "Do not play repeats and da capos out."),
        "options": (
            "--options",
            "A file of these options, such as the desk keeps; what is typed wins.",
        ),
        "slurs": (
            "--slurs/--no-slurs",
            "Print the slurs that are played (for a wind instrument they are).",
        ),
    },
)
SOUND = options_of(
    SoundForm,
    {
        "soundfont": (
            "--soundfont",
            "A soundfont (.sf2) to play with (the best one found).",
        ),
        "format": ("--format", "Format of the sound: wav, flac, mp3 or opus."),
        "rate": ("--rate", "Samples a second: 44100 or 48000 (44100; opus 48000)."),
        "bits": ("--bits", "Bits a sample: 16 or 24."),
        "loudness": ("--loudness", "Loudness in LUFS."),
    },
)
COMPRESSED = SOUND | options_of(
    SoundForm,
    {"format": ("--format", "Format of the sound: mp3, opus, flac or wav.")},
    format="mp3",
)
BAND = options_of(
    BandRequest,
    {
        "choruses": ("--choruses", "How often the form is played."),
        "count_in": ("--count-in", "Bars counted before it."),
        "clicks": ("--clicks", "Counted on all beats, or on 2,4."),
        "parts": ("--parts", "Who plays: bass, drums, chords (all of them)."),
        "mute": ("--mute", "Who of bass, drums, chords does not play (may be repeated)."),
        "comping": ("--comping", "What the chords are played on: piano or guitar."),
        "two": ("--in-two", "The first chorus in two."),
        "intro": (
            "--intro",
            "Before the tune: none, four (bars that turn round the key) or last-four.",
        ),
        "ending": (
            "--ending",
            "The last chord: ring, ritard (slowing down to it), tag (the last bars again), "
            "stop (short), or none.",
        ),
        "trade": (
            "--trade",
            "Trade so many bars with the drums in the choruses in the middle (0: none).",
        ),
        "seed": ("--seed", "Another number, another take of the band."),
    },
)


def _some(options: Options, *names: str) -> Options:
    return {name: options[name] for name in names}


GROUPS: dict[str, tuple[type, Options]] = {
    "request": (Request, REQUEST),
    "sound": (SoundForm, SOUND),
    "compressed": (SoundForm, COMPRESSED),
    "band": (BandRequest, BAND),
    "players": (BandRequest, _some(BAND, "mute", "seed")),
    "ratios": (Request, _some(REQUEST, "swing", "feel")),
    "voice": (SoundForm, _some(SOUND, "soundfont")),
}
"""The groups of options, each by the name of the parameter that takes it."""


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
            asked = kind(**{option: _plain(given.pop(option)) for option in options})
            given[name] = _with_file(asked)
        return command(**given)

    wrapped.__signature__ = own.replace(parameters=parameters)  # type: ignore[attr-defined]
    wrapped.__annotations__ = {p.name: p.annotation for p in parameters}
    return wrapped


def _with_file(asked: Any) -> Any:
    """What is asked for, with what a file of options says."""
    if not isinstance(asked, Request) or asked.options is None:
        return asked
    from phrasing.lesson.optionsfile import with_options

    return with_options(asked)


def _plain(value: Any) -> Any:
    """The value of an option; lists may be written with commas, too."""
    if isinstance(value, list):
        return tuple(word.strip() for each in value for word in str(each).split(","))
    return value
