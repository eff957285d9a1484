"""How time and memory grow with the length of a piece.

::

    python -m tests.scaling 8 80 800 8000 --patience 120

prints for each command the seconds of processor time and the memory that it takes at so many
bars of eighths, with the small soundfont measured before. Twice the bars should take twice the
time; what takes longer than the patience is stopped, and said. ``--house`` measures another
checkout, such as one of an earlier day, with the same melodies.
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
    "practice": ("practice", "{tune}", "--overwrite", "-o", "{out}"),
    "practice --keys all": (
        "practice", "{tune}", "--keys", "all", "--overwrite", "-o", "{out}",
    ),
}  # fmt: skip
LOUD = ("shape, no page", "page", "practice", "practice --keys all")
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


def measured(words: list[str], patience: float, refused: list[str]) -> str:
    """Seconds of processor time and megabytes of memory, or why there are none; a refusal's
    sentence is added to ``refused``."""
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
        refused += ran.stderr.splitlines()[-1:]
        return f"refused ({len(refused)})"
    return f"{float(seconds):.1f} s, {int(kilobytes) // 1024} MB"


def main() -> None:
    """Print the table."""
    from rich.console import Console
    from rich.table import Table

    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("bars", nargs="*", type=int, default=[8, 80, 800, 8000])
    words.add_argument("--only", nargs="*", default=[], help="commands of these names")
    words.add_argument("--house", type=Path, default=HOUSE, help="the checkout to measure")
    words.add_argument("--patience", type=float, default=120.0, help="seconds for each run")
    asked = words.parse_args()
    table = Table(title="Processor time and memory by bars")
    table.add_column("command")
    for bars in asked.bars:
        table.add_column(f"{bars:,} bars", justify="right")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        os.environ["XDG_CACHE_HOME"] = str(folder / "cache")
        measured(words_of("shape, no page", tune(folder, 8), folder, asked.house), 600, [])
        refused: list[str] = []
        for name in asked.only or COMMANDS:
            cells = []
            for bars in asked.bars:
                wish = words_of(name, tune(folder, bars), folder, asked.house)
                cells.append(measured(wish, asked.patience, refused))
                print(name, bars, cells[-1], sep=" | ", file=sys.stderr, flush=True)
            table.add_row(name, *cells)
        said = [sentence.replace(str(folder), "") for sentence in refused]
    console = Console(width=100)
    console.print(table)
    for number, sentence in enumerate(said, 1):
        console.print(f"({number}) {sentence}", markup=False)


def words_of(name: str, melody: Path, folder: Path, house: Path) -> list[str]:
    """The command as it is typed."""
    out = folder / "out"
    said = [word.format(tune=melody, out=out) for word in COMMANDS[name]]
    voice = ["--soundfont", str(SMALL)] if name in LOUD else []
    return [sys.executable, str(house / "cli.py"), *said, *voice]


if __name__ == "__main__":
    main()
