"""The command line's options, each written once and shared by the commands that have it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypeAlias

import typer

Tune: TypeAlias = Annotated[
    Path, typer.Argument(metavar="MELODY", help="A melody: MIDI or MusicXML.")
]
Tempo: TypeAlias = Annotated[
    float | None, typer.Option(help="Quarter notes a minute, 20 to 400 (the file's own).")
]
SwingText: TypeAlias = Annotated[
    str | None,
    typer.Option(
        "--swing",
        help="Long : short of a pair of eighths: 2, straight, auto (by tempo), or a table "
        "of tempo:ratio such as 120:2,200:1.5.",
    ),
]
Strength: TypeAlias = Annotated[
    float | None, typer.Option(help="How strongly the shaping is applied, 0 to 1 (1).")
]
InstrumentName: TypeAlias = Annotated[
    str | None,
    typer.Option(
        "--instrument", help="Such as trumpet, alto-sax or clarinet (the file's own)."
    ),
]
SoundfontPath: TypeAlias = Annotated[
    Path | None,
    typer.Option("--soundfont", help="A soundfont (.sf2) to play with (the best found)."),
]
FeelPath: TypeAlias = Annotated[
    Path | None, typer.Option("--feel", help="A TOML file with levels, gates and swing.")
]
MarksPath: TypeAlias = Annotated[
    Path | None,
    typer.Option("--marks", help="An edited marks table (CSV): its marks win over the rules."),
]
Except: TypeAlias = Annotated[
    list[str] | None,
    typer.Option("--except", help="Leave a rule out, to hear what it does (repeat for more)."),
]
Only: TypeAlias = Annotated[str | None, typer.Option("--only", help="Some bars, such as 1-4.")]
Track: TypeAlias = Annotated[
    str | None,
    typer.Option("--track", help="The track or part, by number or name (the melody)."),
]
Pickup: TypeAlias = Annotated[
    float | None,
    typer.Option(
        "--pickup", help="Quarter notes before bar 1, for a MIDI file that begins so."
    ),
]
AsWritten: TypeAlias = Annotated[
    bool, typer.Option("--as-written", help="Do not play repeats and da capos out.")
]
Transpose: TypeAlias = Annotated[
    str | None,
    typer.Option("--transpose", help="By an interval such as -3, or to a key such as Bb."),
]
Octave: TypeAlias = Annotated[int, typer.Option("--octave", help="Octaves up or down.")]
Output: TypeAlias = Annotated[
    Path | None,
    typer.Option("-o", "--output", help="The folder to write to (beside the input)."),
]
Overwrite: TypeAlias = Annotated[
    bool, typer.Option("--overwrite", help="Replace files that are there already.")
]
Rate: TypeAlias = Annotated[
    int, typer.Option("--rate", help="Samples a second: 44100 or 48000.")
]
Bits: TypeAlias = Annotated[int, typer.Option("--bits", help="Bits a sample: 16 or 24.")]
AudioFormat: TypeAlias = Annotated[
    str, typer.Option("--format", help="The sound files' format: wav, flac or mp3.")
]
Loudness: TypeAlias = Annotated[
    float, typer.Option("--loudness", help="Loudness of the sound files in LUFS.")
]
