"""What happens when the world goes wrong: real runs of the program, killed, starved, misled.

::

    python -m tests.faults --tries 12 --seed 1

prints a table: the fault, how often it was tried, and how the runs ended. After each try is
looked whether the input is untouched, whether the files of a run are there together or not at
all, and whether anything is left behind. What cannot be tried on this machine is said.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pretty_midi

from phrasing.files.record import BESIDE

HOUSE = Path(__file__).parents[1]
TUNE = HOUSE / "examples" / "late_bus_home.mid"
SMALL = Path(pretty_midi.__file__).with_name("TimGM6mb.sf2")
MADE = {
    "marked.musicxml", "marks.csv", "plain.mid", "plain.wav", "report.json", "shaped.mid",
    "shaped.wav", "sheet.pdf",
}  # fmt: skip
NOBODY = 54_321
"""A user number without an entry in the system's list, and so without a home."""


class NotHereError(Exception):
    """The fault cannot be tried on this machine; the message says why."""


@dataclass
class World:
    """A folder with a melody to run on; ``ends``: how the runs ended, counted."""

    place: Path
    chance: random.Random
    ends: Counter[str] = field(default_factory=Counter)

    @property
    def tune(self) -> Path:
        return self.place / "tune.mid"

    @property
    def out(self) -> Path:
        return self.place / "out"

    def shape(self, *more: object) -> list[str]:
        wish = ["shape", self.tune, "--only", "1-2", "--no-page", "-o", self.out]
        return command(*wish, "--soundfont", SMALL, *more)

    def run(self, words: list[str], **how: Any) -> subprocess.CompletedProcess[str]:
        """Run it to its end, and note how it ended."""
        pipes = {"capture_output": True, "text": True, "errors": "replace"}
        done = subprocess.run(words, check=False, cwd=self.place, **(pipes | how))
        self.note(done.returncode, done.stderr or "")
        return done

    def note(self, code: int, told: str) -> None:
        self.ends[WAYS.get(code, f"exit {code}")] += 1
        assert code != 1, f"a fault of the program: {told}"
        assert "Traceback" not in told, told
        lines = [line for line in told.splitlines() if line.startswith("phrasing:")]
        assert len(lines) == len(told.splitlines()), f"more than its own line: {told}"

    def check(self, *, swept: bool = True, whole: bool = True) -> None:
        """The input is untouched; the files are all there or none; nothing else is."""
        assert self.tune.read_bytes() == TUNE.read_bytes(), "the input was changed"
        made = {file.name for file in self.out.iterdir()} if self.out.is_dir() else set()
        hidden = {name for name in made if name.startswith(".phrasing-")} | {BESIDE}
        if whole:
            assert made - hidden in (set(), MADE), f"only some files: {sorted(made)}"
        if swept:
            left = [*self.place.glob(".phrasing-*"), *self.out.glob(".phrasing-*")]
            assert not left, f"left behind: {left}"


WAYS = {
    0: "done", 2: "refused in a line", 3: "done without sound", -9: "killed",
    129: "stopped (HUP)", 130: "stopped (INT)", 143: "stopped (TERM)",
    **dict.fromkeys((-1, -2, -15), "stopped before it began"),
}  # fmt: skip


def command(*words: object) -> list[str]:
    return [sys.executable, str(HOUSE / "cli.py"), *map(str, words)]


Fault = Callable[[World], None]
FAULTS: dict[str, Fault] = {}


def fault(name: str) -> Callable[[Fault], Fault]:
    """Put a fault into the table under its name."""

    def named(function: Fault) -> Fault:
        FAULTS[name] = function
        return function

    return named


def interrupted(world: World, stop: int) -> None:
    """Start a run, send the signal at some moment, then look at what is left."""
    with_files = world.chance.random() < 0.5
    if with_files:
        world.run(world.shape())
        world.ends.clear()
    run = subprocess.Popen(
        world.shape("--overwrite"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    lasts = world.chance.uniform(0.05, 1.2) * LASTED[0]
    try:
        _, told = run.communicate(timeout=lasts)
    except subprocess.TimeoutExpired:
        run.send_signal(stop)
        _, told = run.communicate()
    early = "" if run.returncode in (-1, -2, -15) else told
    python_was_starting = run.returncode == 1 and "KeyboardInterrupt" in told
    world.note(
        -2 if python_was_starting else run.returncode, "" if python_was_starting else early
    )
    if stop != signal.SIGKILL:
        world.check()
        return
    world.check(swept=False, whole=False)
    world.ends.update({"swept by the next run": 1})
    subprocess.run(world.shape("--overwrite"), check=True, capture_output=True)
    world.check()


LASTED = [2.0]
"""Seconds that an undisturbed run took, measured before."""


@fault("killed (SIGKILL) at any moment")
def killed(world: World) -> None:
    interrupted(world, signal.SIGKILL)


@fault("Ctrl-C, SIGTERM or SIGHUP at any moment")
def stopped(world: World) -> None:
    stops = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    interrupted(world, world.chance.choice(stops))


@fault("the disk is full")
def full(world: World) -> None:
    with mounted(world.out, world.chance.randrange(8, 900)):
        done = world.run(world.shape("--overwrite"))
        if done.returncode == 2:
            assert "disk is full" in done.stderr or "No space" in done.stderr, done.stderr
        assert not list(world.out.glob(".phrasing-*"))
        made = {file.name for file in world.out.iterdir()}
        assert made in (set(), MADE), made
    world.check()


@contextmanager
def mounted(place: Path, kilobytes: int) -> Iterator[None]:
    """A small disk of its own at the place."""
    place.mkdir()
    size = f"size={kilobytes}k"
    mount = ["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(place)]
    try:
        done = subprocess.run(mount, check=False, capture_output=True, text=True)
    except FileNotFoundError as error:
        raise NotHereError("there is no mount command") from error
    if done.returncode:
        raise NotHereError("a disk may not be mounted here")
    try:
        yield
    finally:
        subprocess.run(["umount", str(place)], check=True)


@fault("a limit on the size of files")
def limited(world: World) -> None:
    most = world.chance.choice((100, 1000, 10_000, 100_000, 400_000))
    done = world.run(
        world.shape(),
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most)),
    )
    assert done.returncode == 2, done
    assert "disk is full" not in done.stderr, done.stderr
    world.check()


@fault("a folder that may only be read, as another user than root")
def read_only(world: World) -> None:
    world.out.mkdir()
    world.out.chmod(0o555)
    done = world.run(as_nobody(world.shape()))
    assert "you may not write there" in done.stderr, done.stderr
    world.check()


def as_nobody(words: list[str]) -> list[str]:
    """The command run by a user that the system does not know, who may read everything."""
    if os.geteuid() or not shutil.which("setpriv"):
        raise NotHereError("only root, with setpriv, can run it as another user")
    reading = ("--inh-caps", "+dac_read_search", "--ambient-caps", "+dac_read_search")
    who = ("--reuid", str(NOBODY), "--regid", str(NOBODY), "--clear-groups", *reading)
    return ["setpriv", *who, "env", "-u", "HOME", "-u", "XDG_CACHE_HOME", *words]


@fault("no HOME, and a user without one")
def homeless(world: World) -> None:
    world.place.chmod(0o777)
    for tempo in (120, 150):
        done = world.run(as_nobody(world.shape("--overwrite", "--tempo", str(tempo))))
        assert done.returncode == 0, done.stderr
        world.check()


@fault("a soundfont that is not there, cut, or vanishes")
def without_soundfont(world: World) -> None:
    font = world.place / "mine.sf2"
    kind = world.chance.randrange(3)
    if kind:
        content = SMALL.read_bytes()
        font.write_bytes(
            content[: world.chance.randrange(len(content))] if kind == 1 else content
        )
    words = command("shape", world.tune, "--only", "1-2", "--no-page", "-o", world.out)
    if kind < 2:
        done = world.run([*words, "--soundfont", str(font)])
        assert done.returncode == 2, done
        assert "mine.sf2" in done.stderr
    else:
        run = subprocess.Popen(
            [*words, "--soundfont", str(font)], stdout=-1, stderr=-1, text=True
        )
        time.sleep(world.chance.uniform(0, 1.1) * LASTED[0])
        font.unlink()
        world.note(run.wait(), run.communicate()[1])
    world.check()


@fault("a cache that was damaged")
def bad_cache(world: World) -> None:
    cache = world.place / "cache"
    environment = os.environ | {"XDG_CACHE_HOME": str(cache)}
    world.run(world.shape(), env=environment)
    sound = (world.out / "shaped.wav").read_bytes()
    for file in cache.rglob("*.json"):
        content = bytearray(file.read_bytes())
        for _ in range(world.chance.choice((1, 5, 100))):
            content[world.chance.randrange(len(content))] = world.chance.randrange(256)
        file.write_bytes(bytes(content[: world.chance.randrange(1, len(content))]))
    done = world.run(world.shape("--overwrite"), env=environment)
    assert done.returncode == 0, done.stderr
    assert (world.out / "shaped.wav").read_bytes() == sound, "it sounds otherwise"


@fault("a plain console")
def plain_console(world: World) -> None:
    way = world.chance.choice(
        (
            {"LC_ALL": "C", "PYTHONUTF8": "0"},
            {"PYTHONIOENCODING": "ascii"},
            {"TERM": "dumb", "COLUMNS": "20"},
            {"LC_ALL": "POSIX", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"},
            {"NO_COLOR": "1", "TERM": ""},
        )
    )
    done = world.run(command("marks", world.tune), env=os.environ | way)
    assert done.returncode == 0, done.stderr
    world.check()


@fault("closed streams, a full output, a reader that goes away")
def closed(world: World) -> None:
    words = world.shape()
    shell = world.chance.choice(("<&-", ">&-", "2>&-", "<&- >&- 2>&-", ">/dev/full", "| true"))
    done = world.run(["sh", "-c", f'"$@" {shell}', "sh", *words])
    assert done.returncode == (2 if "full" in shell else 0), done
    world.check()


@fault("links to the input, to nothing, in circles")
def links(world: World) -> None:
    world.out.mkdir()
    kind = world.chance.randrange(4)
    name = world.chance.choice(sorted(MADE))
    if kind == 0:
        (world.out / name).symlink_to(world.tune)
    elif kind == 1:
        os.link(world.tune, world.out / name)
    elif kind == 2:
        (world.out / name).symlink_to(world.place / "nothing")
    else:
        (world.out / name).symlink_to(world.out / name)
    done = world.run(world.shape(*(["--overwrite"] if world.chance.random() < 0.7 else [])))
    if kind < 2:
        assert done.returncode == 2, done
        assert {file.name for file in world.out.iterdir()} == {name}
    world.check(whole=False)


NAMES = (
    "a b.mid", "a\nb.mid", '"a".mid', "-a.mid", "ä ミドリ.mid", "a\u202eb.mid", "a\x9bb.mid",
    "x" * 240 + ".mid", os.fsdecode(b"a\xff\xfe.mid"), ".mid", "a.b.c.mid", "$(a);b.mid",
    "%s.mid",
)  # fmt: skip


@fault("odd names")
def odd_names(world: World) -> None:
    tune = world.place / world.chance.choice(NAMES)
    shutil.copy(TUNE, tune)
    done = world.run(command("shape", "--only", "1", "--no-page", "--", f"./{tune.name}"))
    assert done.returncode == 0, done.stderr
    assert not set(done.stdout) & set("\x9b\u202e\x1b"), "it acts on the terminal"
    assert tune.read_bytes() == TUNE.read_bytes()


@fault("two runs into one folder at once")
def two_runs(world: World) -> None:
    more = ["--overwrite"] if world.chance.random() < 0.5 else []
    formats = ("wav", "flac")
    runs = [
        subprocess.Popen(world.shape("--format", kind, *more), stdout=-1, stderr=-1, text=True)
        for kind in formats
    ]
    for run in runs:
        _, told = run.communicate()
        world.note(run.returncode, told)
    assert any(run.returncode == 0 for run in runs)
    made = {file.name for file in world.out.iterdir()}
    sets = [{name.replace(".wav", f".{kind}") for name in MADE} for kind in formats]
    assert made in sets, f"a mixture: {sorted(made)}"
    world.check(whole=False)


def main() -> int:
    """Try every fault and print the table; 1 where one did harm."""
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("faults", nargs="*", help="words of the faults to try; all by default")
    words.add_argument("--tries", type=int, default=12, help="of each fault")
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    wanted = asked.faults or [""]
    chosen = {n: f for n, f in FAULTS.items() if any(word in n for word in wanted)}
    with tempfile.TemporaryDirectory() as cache:
        os.environ["XDG_CACHE_HOME"] = cache
        LASTED[0] = undisturbed()
        rows = []
        for name, tried in chosen.items():
            rows.append(row_of(name, tried, asked.tries, asked.seed))
            print(*rows[-1], sep=" | ", file=sys.stderr, flush=True)
    print_table(rows)
    return int(any(harm for *_, harm in rows))


def undisturbed() -> float:
    """Seconds that a run takes when nothing goes wrong, soundfont measured already."""
    with tempfile.TemporaryDirectory() as place:
        world = fresh(Path(place), 0)
        world.run(world.shape())
        began = time.monotonic()
        world.run(world.shape("--overwrite"))
        return time.monotonic() - began


def fresh(place: Path, seed: int) -> World:
    place.chmod(0o755)
    world = World(place, random.Random(seed))
    shutil.copy(TUNE, world.tune)
    return world


Row = tuple[str, int, str, str]


def row_of(name: str, tried: Fault, tries: int, seed: int) -> Row:
    """Fault, tries, how the runs ended, and what harm was done."""
    ends: Counter[str] = Counter()
    for count in range(tries):
        with tempfile.TemporaryDirectory() as place:
            world = fresh(Path(place), seed * 1000 + count)
            try:
                tried(world)
            except NotHereError as reason:
                return name, 0, f"not tried: {reason}", ""
            except AssertionError as harm:
                return (
                    name,
                    count + 1,
                    told(ends + world.ends),
                    f"seed {seed}, try {count}: {harm}",
                )
            ends += world.ends
    return name, tries, told(ends), ""


def told(ends: Counter[str]) -> str:
    return ", ".join(f"{count} {way}" for way, count in ends.most_common())


def print_table(rows: list[Row]) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(title="Faults tried, and how the runs ended")
    for heading in ("fault", "tries", "ended", "harm"):
        table.add_column(heading, justify="right" if heading == "tries" else "left")
    for name, tries, ended, harm in rows:
        table.add_row(name, str(tries), ended, "yes" if harm else "none" if tries else "")
    console = Console(width=100, markup=False)
    console.print(table)
    for name, _, _, harm in rows:
        if harm:
            console.print(f"{name}: {harm}")


if __name__ == "__main__":
    sys.exit(main())
