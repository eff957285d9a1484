"""Try inputs that nobody meant for a stated time, and keep those that show a fault.

::

    python -m tests.fuzzing midi score --seconds 60 --seed 1
    python -m tests.fuzzing --seconds 0

Half of them are right by the grammar of their kind with odd values in them, half are damaged
files. They are drawn at random, or with ``--steered`` by atheris, where it is installed, which
knows what code they reach and is slower. What shows a fault is kept in ``fuzz-findings``, and
the fault is printed; how many were tried in all runs so far is kept there, too, and is all that
is printed where no time is given.
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
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

FINDINGS = Path("fuzz-findings")
TRIED = FINDINGS / "tried.json"
"""What all runs so far did, by kind."""
KINDS = (
    "midi", "score", "zipped score", "engraved score", "chart", "marks", "feel", "options",
    "desk", "cache", "soundfont", "compressed soundfont",
)  # fmt: skip
GOAL = dict.fromkeys(KINDS, 1_000_000) | {"midi": 5_000_000, "engraved score": 20_000}
"""How many of each kind are to be tried; a kind that was is passed over. To engrave a page
takes a hundred times as long as to take a score apart."""
CRASHES = 5
"""Of a kind in one run: what ends a process so often is to be put right first."""


@dataclass
class Told:
    """What was tried of a kind: ``taken`` by how far they went (see ``checks``), seconds gone
    by (``seconds``) and of the processor's time (``work``)."""

    tried: int = 0
    taken: list[int] = field(default_factory=lambda: [0] * 5)
    seconds: float = 0.0
    work: float = 0.0
    faults: list[str] = field(default_factory=list)

    def add(self, other: Told) -> None:
        """Count in what another run did."""
        self.tried += other.tried
        self.taken = [a + b for a, b in zip(self.taken, other.taken, strict=True)]
        self.seconds += other.seconds
        self.work += other.work
        self.faults += other.faults


def main() -> int:
    """Print a table of what was tried; 1 where a fault was found."""
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("kinds", nargs="*", help=f"of {', '.join(KINDS)}; all, if none is named")
    words.add_argument("--seconds", type=float, default=30.0, help="for each kind")
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--steered", action="store_true", help="by atheris")
    asked = words.parse_args()
    if asked.steered and importlib.util.find_spec("atheris") is None:
        words.error("atheris is not installed: pip install atheris")
    how = "steered" if asked.steered else "by chance"
    before = so_far()
    chosen = asked.kinds or [name for name in KINDS if before[name].tried < GOAL[name]]
    now = {}
    for name in chosen if asked.seconds else ():
        now[name] = run(name, asked.seconds, asked.seed, how)
        before[name].add(Told(**asdict(now[name]) | {"faults": []}))
        keep(before)
    if now:
        print_table(now, f"Inputs tried, {how}, seed {asked.seed}")
    print_table(before, "Inputs tried in all runs so far")
    return int(any(told.faults for told in now.values()))


def so_far() -> dict[str, Told]:
    """What all runs in this place did."""
    known = json.loads(TRIED.read_text()) if TRIED.exists() else {}
    return {name: Told(**known.get(name, {})) for name in KINDS}


def keep(told: Mapping[str, Told]) -> None:
    """Remember it for the next run."""
    FINDINGS.mkdir(exist_ok=True)
    TRIED.write_text(json.dumps({name: asdict(each) for name, each in told.items()}))


def run(name: str, seconds: float, seed: int, how: str) -> Told:
    """Try one kind for so long; after an input that ended its process, go on with others."""
    whole, until = Told(), time.monotonic() + seconds
    for crash in range(CRASHES):
        left = until - time.monotonic()
        if left <= 0:
            break
        told, ended = run_once(name, left, seed + 1000 * crash, how)
        whole.add(told)
        if not ended:
            break
        whole.faults.append(ended)
    return whole


def run_once(name: str, seconds: float, seed: int, how: str) -> tuple[Told, str]:
    """What one process tried, and how it ended where it did so before its time."""
    shared = "/dev/shm" if os.path.isdir("/dev/shm") else None
    with tempfile.TemporaryDirectory(dir=shared) as folder:
        file = Path(folder) / "told.json"
        wish = ["-m", "tests.fuzzing.child", name, str(seconds), str(seed), folder, how]
        ran = subprocess.run([sys.executable, *wish], capture_output=True, check=False)
        told = Told(**json.loads(file.read_text())) if file.exists() else Told()
        if ran.returncode == 0:
            return told, ""
        last = (ran.stderr.decode(errors="replace").strip().splitlines() or [""])[-1]
        return told, f"the process ended with {ran.returncode}, {kept(folder)}: {last}"


def kept(folder: str) -> str:
    """Keep the input that ended a process; its name."""
    for file in Path(folder).glob("fuzz.*"):
        FINDINGS.mkdir(exist_ok=True)
        shutil.copy(file, FINDINGS / f"crash{file.suffix}")
        return f"crash{file.suffix}"
    return "before any input"


def print_table(rows: Mapping[str, Told], title: str) -> None:
    """The table, and the faults below it."""
    from rich.console import Console
    from rich.table import Table

    table = Table(title=title)
    headings = (
        "kind", "tried", "refused", "read", "played", "written, read again", "on a page",
        "a second",
    )  # fmt: skip
    for heading in headings:
        table.add_column(heading, justify="left" if heading == "kind" else "right")
    for name, told in rows.items():
        rate = told.tried / told.work if told.work else 0
        numbers = (told.tried, told.tried - told.taken[0], *told.taken[1:], round(rate))
        table.add_row(name, *(f"{number:,}" for number in numbers))
    console = Console(width=110)
    console.print(table)
    for name, told in rows.items():
        for fault in told.faults:
            console.print(f"{name}: {fault}", markup=False)


if __name__ == "__main__":
    sys.exit(main())
