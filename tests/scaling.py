"""How time and memory grow with the length of a piece.

::

    python -m tests.scaling 8 80 800 8000 --patience 120

prints for each command the seconds of processor time and the memory that it takes at so many
bars of eighths, with the small soundfont measured before. Twice the bars should take twice the
time; what takes longer than the patience is stopped, and said.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import pretty_midi

from tests.smf import midi_file, track

HOUSE = Path(__file__).parents[1]
SMALL = Path(pretty_midi.__file__).with_name("TimGM6mb.sf2")
LINE = (60, 62, 64, 67, 65, 69, 71, 74, 72, 67, 70, 69, 65, 62, 59, 64)
COMMANDS = {
    "marks --csv": ("marks", "{tune}", "--csv"),
    "shape, no page": ("shape", "{tune}", "--no-page", "--overwrite", "-o", "{out}"),
    "sheet": ("sheet", "{tune}", "--overwrite", "-o", "{out}.pdf"),
    "page": ("page", "{tune}", "--overwrite", "-o", "{out}.html"),
    "practice --keys all": (
        "practice",
        "{tune}",
        "--keys",
        "all",
        "--overwrite",
        "-o",
        "{out}",
    ),
}
LOUD = ("shape, no page", "page", "practice --keys all")
"""Commands that take a soundfont."""


def tune(folder: Path, bars: int) -> Path:
    """A MIDI file of so many bars of eighths in 4/4, with a rest at the end of every fourth."""
    notes = [
        (i / 2, 0.5, LINE[(i + i // 16) % 16])
        for i in range(8 * bars)
        if i % 32 not in (30, 31)
    ]
    path = folder / f"{bars} bars.mid"
    path.write_bytes(midi_file(track(*notes), tempo=160))
    return path


def measured(words: list[str], patience: float) -> str:
    """Seconds of processor time and megabytes of memory, or why there are none."""
    script = (
        "import resource, subprocess, sys\n"
        "code = subprocess.call(sys.argv[1:], stdout=subprocess.DEVNULL)\n"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN)\n"
        "print(code, used.ru_utime + used.ru_stime, used.ru_maxrss)\n"
    )
    limit = int(patience)
    ran = subprocess.run(
        [sys.executable, "-c", script, *words],
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (limit, limit)),
    )
    code, seconds, kilobytes = ran.stdout.split()
    if float(seconds) >= limit - 1 or int(code) < 0:
        return f"over {limit} s"
    if code != "0":
        return "refused"
    return f"{float(seconds):.1f} s, {int(kilobytes) // 1024} MB"


def main() -> None:
    """Print the table."""
    from rich.console import Console
    from rich.table import Table

    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("bars", nargs="*", type=int, default=[8, 80, 800, 8000])
    words.add_argument("--only", default="", help="commands with this in their name")
    words.add_argument("--patience", type=float, default=120.0, help="seconds for each run")
    asked = words.parse_args()
    table = Table(title="Processor time and memory by bars")
    table.add_column("command")
    for bars in asked.bars:
        table.add_column(f"{bars:,} bars", justify="right")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        os.environ["XDG_CACHE_HOME"] = str(folder / "cache")
        first = COMMANDS["shape, no page"]
        measured(command(first, tune(folder, 8), folder, loud=True), asked.patience)
        chosen = {n: w for n, w in COMMANDS.items() if asked.only in n}
        for name, wish in chosen.items():
            cells = [
                measured(
                    command(wish, tune(folder, bars), folder, loud=name in LOUD), asked.patience
                )
                for bars in asked.bars
            ]
            table.add_row(name, *cells)
            print(name, *cells, sep=" | ", file=sys.stderr, flush=True)
    Console(width=100).print(table)


def command(wish: tuple[str, ...], melody: Path, folder: Path, *, loud: bool) -> list[str]:
    out = folder / "out"
    said = [word.format(tune=melody, out=out) for word in wish]
    voice = ["--soundfont", str(SMALL)] if loud else []
    return [sys.executable, str(HOUSE / "cli.py"), *said, *voice]


if __name__ == "__main__":
    main()
