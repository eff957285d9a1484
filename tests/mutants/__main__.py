"""Put small faults into the code, one at a time, and see whether a test notices.

::

    python -m tests.mutants --count 300 --seed 1

The faults are drawn by the seed, over all rooms and the page's scripts; a line that moves or a
new one changes no other's lot. All tests are run once to see which of them run which line. For
each mutant those are run that run its line, the nearest first (of a line that runs while it is
imported: those that import it), until one fails or there are no more (or the time is up). A
line that no test runs is not caught. A script is tried in node and in a browser. With
``--cache``, what was caught is not tried again until its file changes. Prints a table by room
and a list of what lived; some change nothing that anybody can see, and live with right.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

from tests.mutants.covering import Covering, covering, rooms_of
from tests.mutants.sites import Site, sites_in
from tests.mutants.trial import CAUGHT, LATE, LIVES, failed_in, preload, tried

HOUSE = Path(__file__).parents[2]
UNREACHED = "lives (no test runs the line)"
ENOUGH = 25.0
"""Seconds of tests run for a mutant at most, the nearest first."""
PATIENCE = 60.0
"""Seconds of processor time for a mutant; twice what its tests take, if that is more."""
MOST_OF_A_FILE = 8
"""Mutants in one file at most, so that no large one takes them all."""


@dataclass(frozen=True)
class Result:
    """What became of a mutant."""

    site: Site
    room: str
    end: str

    @property
    def is_caught(self) -> bool:
        return self.end in (CAUGHT, LATE)


def main() -> int:
    """Print the tables; 1 where fewer than nine in ten were caught."""
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("rooms", nargs="*", help="rooms to try; all by default")
    words.add_argument("--count", type=int, default=300)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--skip", nargs="*", default=[], help="kinds of fault to leave out")
    words.add_argument("--only", nargs="*", default=[], help="kinds of fault to try alone")
    words.add_argument("--cache", type=Path, help="keeps which test runs which line, for again")
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "house"
        skip = shutil.ignore_patterns(
            ".git", ".venv", "__pycache__", ".*_cache", "fuzz-findings"
        )
        shutil.copytree(HOUSE, tree, ignore=skip)
        cache = asked.cache or Path(folder) / "cache"
        cache.mkdir(parents=True, exist_ok=True)
        os.environ["MUTANTS"], os.environ["HOUSE"] = str(cache.absolute()), str(HOUSE)
        chosen = [
            (site, room)
            for site, room in drawn(tree, asked.rooms, asked.count, asked.seed)
            if site.kind not in asked.skip and (not asked.only or site.kind in asked.only)
        ]
        results = all_tried(tree, chosen, cache.absolute())
        print_tables(results, tree)
    return int(sum(result.is_caught for result in results) < 0.9 * len(results))


def drawn(tree: Path, rooms: Sequence[str], count: int, seed: int) -> list[tuple[Site, str]]:
    """So many mutants with their rooms, drawn by the seed; then those of ``rooms``, if any
    are named, so that all can also be tried room by room."""
    package = tree / "phrasing"
    files = sorted([*package.rglob("*.py"), *package.rglob("*.js")])
    room_of = rooms_of(iter(files), tree)
    sites = [site for file in files for site in sites_in(file)]
    sites.sort(key=lambda site: site.lot(seed))
    of_file: Counter[Path] = Counter()
    chosen = []
    for site in sites:
        of_file[site.file] += 1
        if of_file[site.file] <= MOST_OF_A_FILE:
            chosen.append((site, room_of[site.file]))
    return [pair for pair in chosen[:count] if not rooms or pair[1] in rooms]


def all_tried(tree: Path, chosen: Sequence[tuple[Site, str]], cache: Path) -> list[Result]:
    """Each mutant in turn."""
    preload()
    results: list[Result] = []
    known = covering(tree, cache)
    sound: set[str] = set()
    caught = Caught(cache / "caught.json")
    for site, room in chosen:
        end = CAUGHT if site in caught else end_of(tree, site, known)
        if end == CAUGHT and site not in caught and not holds_without(tree, sound):
            end = "not told (the test fails without it, too)"
        results.append(Result(site, room, end))
        if results[-1].is_caught:
            caught.add(site)
        print(f"{len(results)}. {room}: {line_of(results[-1], tree)}", flush=True)
    return results


class Caught:
    """The mutants that a test has caught, kept in a file by what their own files say then."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.known: set[str] = set(json.loads(file.read_text())) if file.exists() else set()

    def __contains__(self, site: Site) -> bool:
        return _word_of(site) in self.known

    def add(self, site: Site) -> None:
        """Remember it for the next run."""
        self.known.add(_word_of(site))
        self.file.write_text(json.dumps(sorted(self.known)))


def _word_of(site: Site) -> str:
    text = site.applied(site.file.read_text(encoding="utf-8"))
    return hashlib.blake2b(text.encode(), digest_size=12).hexdigest()


def holds_without(tree: Path, sound: set[str]) -> bool:
    """Whether the test that has just caught a mutant passes in the house as it is."""
    test = failed_in(tree)
    if test and test not in sound:
        if tried(tree, [test], PATIENCE) != LIVES:
            return False
        sound.add(test)
    return True


def end_of(tree: Path, site: Site, known: Covering) -> str:
    """Put the mutant in, run its tests, and take it out again."""
    name = str(site.file.relative_to(tree))
    tests = known.tests_of(name, site.line)
    if site.file.suffix != ".js":
        tests = quick(tests, known)
    if not tests:
        return UNREACHED
    text = site.file.read_text(encoding="utf-8")
    usual = sum(known.seconds.get(test, 1.0) for test in tests)
    try:
        site.file.write_text(site.applied(text), encoding="utf-8")
        # Of the same size and second, the old compiled file would be taken for the new one's.
        os.utime(site.file, (0, site.start))
        return tried(tree, tests, max(PATIENCE, 2 * usual))
    finally:
        site.file.write_text(text, encoding="utf-8")
        os.utime(site.file, (1, 1))


def quick(tests: Sequence[str], known: Covering) -> list[str]:
    """As many of the tests as take no longer together than is enough, and one at least."""
    spent = accumulate(known.seconds.get(test, 1.0) for test in tests)
    return [test for test, so_far in zip(tests, spent, strict=True) if so_far < ENOUGH] or [
        *tests[:1]
    ]


def line_of(result: Result, tree: Path) -> str:
    site = result.site
    text = site.file.read_text(encoding="utf-8")
    place = f"{site.file.relative_to(tree)}:{site.line}"
    return f"{place}: {site.kind}: {site.shown(text)}: {result.end}"


def print_tables(results: Sequence[Result], tree: Path) -> None:
    """How many of each room were caught, and which lived."""
    from rich.console import Console
    from rich.table import Table

    table = Table(title="Mutants, by room")
    for heading in ("room", "mutants", "caught", "lived"):
        table.add_column(heading, justify="left" if heading == "room" else "right")
    rooms = sorted({result.room for result in results})
    for room in rooms:
        own = [result for result in results if result.room == room]
        caught = sum(result.is_caught for result in own)
        table.add_row(room, str(len(own)), str(caught), str(len(own) - caught))
    caught = sum(result.is_caught for result in results)
    table.add_section()
    table.add_row("all", str(len(results)), str(caught), str(len(results) - caught))
    console = Console(width=110, markup=False, highlight=False)
    console.print(table)
    console.print(f"{caught / max(len(results), 1):.1%} caught. What lived:")
    for result in results:
        if not result.is_caught:
            print(line_of(result, tree))


if __name__ == "__main__":
    sys.exit(main())
