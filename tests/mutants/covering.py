"""Which tests run which line of the house, and how long each takes."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

HEARD = (
    "tests/outside/test_articulation.py", "tests/outside/test_swing_by_tempo.py",
    "tests/outside/test_rhythm_section.py", "tests/outside/test_walking.py",
)  # fmt: skip
"""What is measured against published figures, without sound."""
EXAMPLES = "tests/test_examples.py"
ROOMS = {
    "feel": ("tests/test_feel.py", "tests/performing", "tests/band", *HEARD),
    "style": ("tests/test_style.py", "tests/performing"),
    "feelfile": ("tests/test_feel.py", "tests/app/test_found.py"),
    "errors": ("tests/app/test_running.py", "tests/test_printable.py"),
    "__main__": ("tests/app/test_running.py",),
    "__init__": ("tests/test_house.py",),
}
"""Tests of what has no folder of tests named after it: first its own, then what hears it."""
LEFT_OUT = "not browser and not long"
"""What is too slow to be run for a mutant; neither are inputs drawn by the hundred."""


@dataclass(frozen=True)
class Covering:
    """``lines``: tests by file and line, those that run it only while it is imported left out;
    ``seconds`` that each test took."""

    lines: Mapping[str, Mapping[int, list[str]]]
    seconds: Mapping[str, float]

    def tests_of(self, file: str, line: int, room: str) -> list[str]:
        """The tests of a line, the quick ones first; of one that is run by importing alone,
        those of the room whose tests run anything in its file."""
        found = self.lines.get(file, {})
        names = found.get(line) or sorted({test for tests in found.values() for test in tests})
        own = Path(file).stem
        return sorted(
            names, key=lambda t: (f"test_{own}.py" not in t, self.seconds.get(t, 1.0))
        )


def tests_of_room(room: str, house: Path) -> list[str]:
    """Paths of the tests of a room, those that are there, its docstrings' examples too."""
    named = (*ROOMS.get(room, (f"tests/{room}", f"tests/test_{room}.py")), EXAMPLES)
    return [path for path in named if (house / path).exists()]


def covering(room: str, house: Path, cache: Path) -> Covering:
    """Run the tests of a room once, watching which lines each of them runs."""
    kept = cache / f"{room}-{_state(room, house)}.json"
    if not tests_of_room(room, house):
        return Covering({}, {})
    if not kept.exists():
        kept.write_text(json.dumps(_watched(room, house, cache)))
    told = json.loads(kept.read_text())
    lines = {
        file: {int(line): tests for line, tests in found.items()}
        for file, found in told["lines"].items()
    }
    return Covering(lines, told["seconds"])


def _state(room: str, house: Path) -> str:
    """Another word for each state of a room and its tests: lines move when they change."""
    state = hashlib.blake2b(digest_size=6)
    for place in (f"phrasing/{room}", f"phrasing/{room}.py", *tests_of_room(room, house)):
        path = house / place
        for file in sorted(path.rglob("*.py")) if path.is_dir() else [path]:
            state.update(file.read_bytes() if file.is_file() else b"")
    return state.hexdigest()


def _watched(room: str, house: Path, cache: Path) -> dict[str, object]:
    data = cache / f"{room}.coverage"
    words = [
        sys.executable, "-m", "coverage", "run", f"--data-file={data}", "--include=phrasing/*",
        "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "tests.mutants.naming",
        "-m", LEFT_OUT, "--ignore-glob=*test_fuzz.py", *tests_of_room(room, house),
    ]  # fmt: skip
    environment = os.environ | {"PYTHONDONTWRITEBYTECODE": "1"}
    began = time.monotonic()
    ran = subprocess.run(
        words, cwd=house, env=environment, check=False, capture_output=True, text=True
    )
    last = (ran.stdout.strip().splitlines() or [""])[-1]
    print(f"{room}: {last} ({time.monotonic() - began:.0f} s)", flush=True)
    failed = {line.split()[1] for line in ran.stdout.splitlines() if line.startswith("FAILED ")}
    return _read(data, house, cache, failed)


def _read(data: Path, house: Path, cache: Path, failed: set[str]) -> dict[str, object]:
    import coverage

    lines: dict[str, dict[int, list[str]]] = {}
    seconds = json.loads((cache / "seconds.json").read_text())
    store = coverage.CoverageData(str(data))
    if data.exists():
        store.read()
    for file in store.measured_files():
        own: dict[int, list[str]] = defaultdict(list)
        for line, tests in store.contexts_by_lineno(file).items():
            own[line] = [test for test in tests if test and test not in failed]
        lines[str(Path(file).relative_to(house))] = own
    return {"lines": lines, "seconds": seconds}


def rooms_of(files: Iterator[Path], house: Path) -> dict[Path, str]:
    """The room of each file: its folder in the house, or its own name."""
    rooms = {}
    for file in files:
        parts = file.relative_to(house / "phrasing").with_suffix("").parts
        rooms[file] = parts[0]
    return rooms
