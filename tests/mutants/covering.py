"""Which tests run which line of the house, how long each takes, and who imports what."""

from __future__ import annotations

import ast
import hashlib
import json
import os
import re
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

LEFT_OUT = "not browser and not long"
"""What is too slow to be run for a mutant; neither are inputs drawn by the hundred."""
NOT_WATCHED = ("tests/browser", "tests/outside", "tests/test_recipes.py", "tests/fuzzing")
HEARD = (
    "tests/outside/test_articulation.py", "tests/outside/test_swing_by_tempo.py",
    "tests/outside/test_walking.py", "tests/outside/test_drum_keys.py",
    "tests/outside/test_musicxml_writing.py",
)  # fmt: skip
"""Of what is measured against something outside the project, what is quick enough."""
PAGES = {
    "listening": ("test_playing", "test_blind", "test_keyboard", "test_opening"),
    "practising": ("test_practising",),
    "desk": ("test_desk",),
}
"""By script that a page begins with: the tests that drive the page in a browser."""
IN_SCRIPT = re.compile(r'from "\.{1,2}/(?:[\w./]*/)?(\w+)\.js"')


@dataclass(frozen=True)
class Covering:
    """``lines``: tests by file and line, those that run it only while it is imported left out;
    ``seconds`` that each test took."""

    house: Path
    lines: Mapping[str, Mapping[int, list[str]]]
    seconds: Mapping[str, float]

    def tests_of(self, file: str, line: int) -> list[str]:
        """The tests of a line, the nearest first: those of its own file and of what is known
        of its room, those that import it, those of its folder, the quick ones. Of a line that
        is run by importing alone: whatever runs anything in its file, then in the files that
        import it."""
        if file.endswith(".js"):
            return self._tests_of_script(Path(file))
        inside = line in _in_functions(self.house / file)
        names = self.lines.get(file, {}).get(line) if inside else None
        names = names or self._by_importing(file)
        own = (f"test_{Path(file).stem}.py", "test_known.py")
        folder = Path(file).parts[1:-1]

        def order(test: str) -> tuple[bool, bool, bool, float]:
            place = Path(test.partition("::")[0])
            imports = file in self.imports.get(str(place), set())
            far = place.parts[1:-1] != folder
            return place.name not in own, not imports, far, self.seconds.get(test, 1.0)

        return sorted(dict.fromkeys(names), key=order)

    def _by_importing(self, file: str) -> list[str]:
        near = [file, *sorted(f for f, seen in self.imports.items() if file in seen)]
        ran = [t for f in near for tests in self.lines.get(f, {}).values() for t in tests]
        importing = [t for t in self.seconds if file in self.imports.get(t.split("::")[0], ())]
        return [*importing, *ran]

    @cached_property
    def imports(self) -> Mapping[str, set[str]]:
        """The files of the house that each file imports, tests too."""
        files = [*self.house.glob("phrasing/**/*.py"), *self.house.glob("tests/**/*.py")]
        return {str(f.relative_to(self.house)): set(self._imported(f)) for f in files}

    def _imported(self, file: Path) -> Iterator[str]:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module, *(f"{node.module}.{a.name}" for a in node.names)]
                for name in names:
                    place = name.replace(".", "/")
                    for path in (f"{place}.py", f"{place}/__init__.py"):
                        if (self.house / path).is_file():
                            yield path

    def _tests_of_script(self, file: Path) -> list[str]:
        """The script's own test outside a browser, then the pages that it is a part of."""
        static = self.house / "phrasing"
        scripts = {f.stem: f for f in static.glob("*/static/*.js")}
        alone = "tests/page/test_scripts.py"
        pages = [name for name in PAGES if file.stem in _needed(name, scripts)]
        return [alone, *(f"tests/browser/{test}.py" for p in pages for test in PAGES[p])]


@cache
def _in_functions(file: Path) -> frozenset[int]:
    """The lines of a file that are not run by importing it."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    spans = (
        range(node.body[0].lineno, (node.end_lineno or 0) + 1)
        for node in ast.walk(tree)
        if isinstance(node, kinds)
    )
    return frozenset(line for span in spans for line in span)


def _needed(name: str, scripts: Mapping[str, Path]) -> set[str]:
    """A script and all that it imports."""
    seen, waiting = set(), [name]
    while waiting:
        one = waiting.pop()
        if one in scripts and one not in seen:
            seen.add(one)
            waiting += IN_SCRIPT.findall(scripts[one].read_text(encoding="utf-8"))
    return seen


def covering(house: Path, cache: Path) -> Covering:
    """Run all tests once, a folder of them after the other, watching which lines each runs."""
    lines: dict[str, dict[int, list[str]]] = {}
    seconds: dict[str, float] = {}
    for place in _places(house):
        kept = cache / f"{Path(place).name}-{_state(house, place)}.json"
        if not kept.exists():
            kept.write_text(json.dumps(_watched(place, house, cache)))
        told = json.loads(kept.read_text())
        seconds |= told["seconds"]
        for file, found in told["lines"].items():
            own = lines.setdefault(file, {})
            for line, tests in found.items():
                own[int(line)] = [*own.get(int(line), []), *tests]
    return Covering(house, lines, seconds)


def _places(house: Path) -> list[str]:
    """The folders and files of tests that are watched."""
    own = {str(f.relative_to(house)) for f in (house / "tests").glob("test_*.py")}
    folders = {str(f.parent.relative_to(house)) for f in (house / "tests").glob("*/test_*.py")}
    return sorted((own | folders | set(HEARD)) - set(NOT_WATCHED))


def _state(house: Path, place: str) -> str:
    """Another word for each state of the house and of some tests: lines move when they
    change."""
    state = hashlib.blake2b(digest_size=6)
    own = house / place
    tests = own.rglob("*.py") if own.is_dir() else [own]
    for file in (*sorted((house / "phrasing").rglob("*.py")), *sorted(tests)):
        state.update(file.read_bytes())
    return state.hexdigest()


def _watched(place: str, house: Path, cache: Path) -> dict[str, object]:
    data = cache / "watched.coverage"
    words = [
        sys.executable, "-m", "coverage", "run", f"--data-file={data}", "--include=phrasing/*",
        "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "tests.mutants.naming",
        "-m", LEFT_OUT, "--ignore-glob=*test_fuzz.py", place,
    ]  # fmt: skip
    environment = os.environ | {"PYTHONDONTWRITEBYTECODE": "1"}
    began = time.monotonic()
    ran = subprocess.run(
        words, cwd=house, env=environment, check=False, capture_output=True, text=True
    )
    last = (ran.stdout.strip().splitlines() or [""])[-1]
    print(f"{place}: {last} ({time.monotonic() - began:.0f} s)", flush=True)
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
    return {"lines": lines, "seconds": {t: s for t, s in seconds.items() if t not in failed}}


def rooms_of(files: Iterator[Path], house: Path) -> dict[Path, str]:
    """The room of each file: its folder in the house, or its own name."""
    rooms = {}
    for file in files:
        parts = file.relative_to(house / "phrasing").with_suffix("").parts
        rooms[file] = parts[0]
    return rooms
