"""Try inputs that nobody meant for a stated time, and keep those that show a fault.

::

    python -m tests.fuzzing midi score --seconds 60 --seed 1

Half of them are right by the grammar of their kind with odd values in them, half are damaged
files. Where atheris is installed it steers both by the code that they reach; else they are
drawn at random. What shows a fault is kept in ``fuzz-findings``, and the fault is printed.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

FINDINGS = Path("fuzz-findings")
KINDS = ("midi", "score", "zipped score", "chart", "marks", "feel", "cache", "soundfont")


def main() -> int:
    """Print a table of what was tried; 1 where a fault was found."""
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("kinds", nargs="*", help=f"of {', '.join(KINDS)}; all, if none is named")
    words.add_argument("--seconds", type=float, default=30.0, help="for each kind")
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--by-chance", action="store_true", help="not steered by atheris")
    asked = words.parse_args()
    guided = not asked.by_chance and importlib.util.find_spec("atheris") is not None
    how = "steered" if guided else "by chance"
    rows = [run(name, asked.seconds, asked.seed, how) for name in asked.kinds or KINDS]
    print_table(rows, "steered by atheris" if guided else "drawn at random")
    return int(any(len(row) > 4 for row in rows))


def run(name: str, seconds: float, seed: int, how: str) -> list[str | int]:
    """The row of one kind."""
    shared = "/dev/shm" if os.path.isdir("/dev/shm") else None
    with tempfile.TemporaryDirectory(dir=shared) as folder:
        told = Path(folder) / "told.json"
        wish = ["-m", "tests.fuzzing.child", name, str(seconds), str(seed), folder, how]
        ran = subprocess.run([sys.executable, *wish], capture_output=True, check=False)
        row = json.loads(told.read_text()) if told.exists() else [name, 0, 0, 0]
        if ran.returncode == 0:
            return row
        last = (ran.stderr.decode(errors="replace").strip().splitlines() or [""])[-1]
        return [*row, f"the process ended with {ran.returncode}, {kept(folder)}: {last}"]


def kept(folder: str) -> str:
    """Keep the input that ended a process; its name."""
    for file in Path(folder).glob("fuzz.*"):
        FINDINGS.mkdir(exist_ok=True)
        shutil.copy(file, FINDINGS / f"crash{file.suffix}")
        return f"crash{file.suffix}"
    return "before any input"


def print_table(rows: list[list[str | int]], how: str) -> None:
    """The table, and the faults below it."""
    from rich.console import Console
    from rich.table import Table

    table = Table(title=f"Inputs tried, {how}")
    for heading in ("kind", "tried", "taken", "refused", "seconds", "faults"):
        table.add_column(heading, justify="left" if heading == "kind" else "right")
    for name, count, taken, seconds, *faults in rows:
        numbers = (int(count), int(taken), int(count) - int(taken), int(seconds), len(faults))
        table.add_row(str(name), *(f"{number:,}" for number in numbers))
    console = Console(width=100)
    console.print(table)
    for name, _, _, _, *faults in rows:
        for fault in faults:
            console.print(f"{name}: {fault}", markup=False)


if __name__ == "__main__":
    sys.exit(main())
