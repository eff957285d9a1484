"""Every file that the commands make of the examples, as one line each: digest and name.

Run before and after a change that must not change what is made, and compare::

    python -m tests.outputs > before.txt
    python -m tests.outputs | diff before.txt -

The small soundfont plays, so that every machine plays alike. Sound, pages that hold sound and
reports are the same bytes only on the same machine with the same libraries.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pretty_midi

HOUSE = Path(__file__).parent.parent
EXAMPLES = HOUSE / "examples"
SOUNDFONT = Path(pretty_midi.__file__).with_name("TimGM6mb.sf2")
MELODIES = (
    "late_bus_home.mid", "caretakers_keys.mid", "caretakers_keys.musicxml",
    "folding_chairs_waltz.mid", "corridor_line_played.mid",
)  # fmt: skip
CHARTS = (
    "lanterns_on_mill_street.chart", "kettle_blues.chart", "ferry_landing_waltz.chart",
    "snow_on_the_car_park.chart", "five_stops_east.chart",
)  # fmt: skip


def jobs() -> list[list[str]]:
    """The commands, each with its output folder named after it."""
    found = [["demo", "-o", "demo"], ["ratio"]]
    for name in MELODIES:
        found += [
            ["shape", name, "-o", f"shape {name}"],
            ["marks", name, "--csv"],
            ["marks", name, "--json"],
            ["sheet", name, "--reasons", "-o", f"{name}.pdf"],
            [
                "sheet",
                name,
                "--layout",
                "exercise",
                "--instrument",
                "alto-sax",
                "-o",
                f"{name}.e.pdf",
            ],
        ]
    found += [["backing", name, "--choruses", "1", "-o", f"backing {name}"] for name in CHARTS]
    found.append(["shape", MELODIES[2], "--backing", "-o", "with band"])
    found.append(["page", MELODIES[0], "--straight", "--without", "dip", "-o", "page"])
    found.append(["practice", MELODIES[0], "--from", "80%", "--keys", "F", "-o", "practice"])
    return found


def made(folder: Path) -> list[str]:
    """Do every job in a folder, and list what each printed and wrote."""
    lines = []
    here = dict(os.environ, PHRASING_SOUNDFONT=str(SOUNDFONT), PYTHONPATH=str(HOUSE))
    for job in jobs():
        command = [sys.executable, str(HOUSE / "cli.py"), *job]
        command = [str(EXAMPLES / a) if (EXAMPLES / a).is_file() else a for a in command]
        done = subprocess.run(command, cwd=folder, env=here, capture_output=True, check=True)
        lines.append(f"{digest(done.stdout)}  {' '.join(job)}")
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return lines + [
        f"{digest(path.read_bytes())}  {path.relative_to(folder)}" for path in files
    ]


def digest(content: bytes) -> str:
    """The first sixteen digits of a SHA-256."""
    return hashlib.sha256(content).hexdigest()[:16]


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        print("\n".join(made(Path(name))))
