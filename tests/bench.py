"""How fast it is, as ratios to a baseline in the same run: ``python -m tests.bench``.

Prints a table for ``DEVELOPERS.md``. Each figure is the best of several runs; nothing here is
a test, since no time is the same on two machines.
"""

from __future__ import annotations

import ctypes
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import count
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from phrasing.app.folders import example
from phrasing.desk.inking import Ink
from phrasing.desk.player import Player
from phrasing.desk.told import told, touched
from phrasing.desk.work import Source, Work, changed
from phrasing.lesson.request import Request
from phrasing.marking.precedence import mark
from phrasing.performing.performance import Performance, perform
from phrasing.reading import read
from phrasing.score.melody import Melody
from phrasing.score.meters import bars_of_meters
from phrasing.sound.sound import cast_of, play
from phrasing.sound.soundfiles import write_sound
from phrasing.sound.soundfonts import embedded_soundfont
from phrasing.sound.synthesizer import Synthesizer

RATE = 44100
TIMES = 7
"""Runs of which the best counts."""
PASSES = 24
"""How often the example is played one after the other, for minutes of sound."""
NOTES = 300_000

Row = tuple[str, str, str]


def best(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Seconds that the work takes at best, after one run to warm up."""
    return best_of([work], clock)[0]


def best_of(
    works: Sequence[Callable[[], object]], clock: Callable[[], float] = time.perf_counter
) -> list[float]:
    """Seconds of each at best; they take turns, so that a busy machine is fair to all."""
    seconds: list[list[float]] = [[] for _ in works]
    for _ in range(1 + TIMES):
        for work, taken in zip(works, seconds, strict=True):
            start = clock()
            work()
            taken.append(clock() - start)
    return [min(taken[1:]) for taken in seconds]


def repeated(melody: Melody, times: int) -> Melody:
    """The melody played several times over."""
    bars = melody.bars[-1].onset + melody.bars[-1].length
    moved = [melody.onset + bars * i for i in range(times)]
    return replace(
        melody,
        onset=np.concatenate(moved),
        length=np.tile(melody.length, times),
        pitch=np.tile(melody.pitch, times),
        bars=bars_of_meters({0: melody.meter}, bars * times),
        ids=(),
        graces=(),
        marks={},
    )


def driver(performance: Performance) -> Callable[[], float]:
    """FluidSynth with the performance's events, ready made, and nothing else.

    What is returned plays them and pulls all samples; it gives the seconds of sound.
    """
    font = embedded_soundfont()
    cast = cast_of(performance, font)
    cues, end = cast.cues(RATE), cast.end(RATE)

    def driven() -> float:
        with Synthesizer(font, RATE, cast.channels) as synthesizer:
            for channel, part in cast.seats:
                synthesizer.program(channel, part.program)
            blocks = play(synthesizer, cues, end, longest_tail=RATE)
            return sum(block.shape[1] for block in blocks) / RATE

    return driven


def driven_by_the_binding(performance: Performance) -> None:
    """The same events through pyfluidsynth's own calls, 16-bit samples pulled between them."""
    import fluidsynth

    font = embedded_soundfont()
    cast = cast_of(performance, font)
    synth = fluidsynth.Synth(gain=1.0, samplerate=float(RATE), channels=cast.channels)
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    number = synth.sfload(str(font.path))
    for channel, part in cast.seats:
        synth.program_select(channel, number, 0, part.program - 1)
    now = 0
    for cue in cast.cues(RATE):
        if cue.at > now:
            synth.get_samples(cue.at - now)
            now = cue.at
        _send(synth, cue.call, cue.arguments)
    synth.get_samples(cast.end(RATE) - now)
    synth.delete()


def _send(synth: object, call: str, arguments: tuple) -> None:
    import fluidsynth

    if call == "generator":
        channel, number, value = arguments
        handle, amount = ctypes.c_void_p(synth.synth), ctypes.c_float(value)
        fluidsynth._fl.fluid_synth_set_gen(handle, channel, number, amount)
    elif call == "expression":
        synth.cc(arguments[0], 11, arguments[1])
    else:
        {"bend": synth.pitch_bend, "note_on": synth.noteon, "note_off": synth.noteoff}[call](
            *arguments
        )


def sound_rows() -> list[Row]:
    """The pair against FluidSynth alone, which plays one version after the other."""
    tune = repeated(read(example()), PASSES)
    pair = {"plain": perform(tune, None), "shaped": perform(tune, mark(tune))}
    drivers = [driver(performance) for performance in pair.values()]
    sound = sum(driven() for driven in drivers)
    with tempfile.TemporaryDirectory() as folder:
        write = partial(write_sound, pair, Path(folder), soundfont=embedded_soundfont())
        works: dict[str, Callable[[], object]] = {
            f"FluidSynth alone, same events, {sound:.0f} s of sound": lambda: [
                driven() for driven in drivers
            ],
            "the same through pyfluidsynth's own calls": lambda: [
                driven_by_the_binding(performance) for performance in pair.values()
            ],
            "plain and shaped: played, measured, written": write,
            "the same without the room": partial(write, room=False),
        }
        seconds = best_of(list(works.values()))
        alone, whole = best_of([next(iter(works.values())), write], time.process_time)
    rows = [
        (
            name,
            f"{taken:.2f} s, {sound / taken:.0f} times real time",
            f"{taken / seconds[0]:.2f}",
        )
        for name, taken in zip(works, seconds, strict=True)
    ]
    return [
        *rows,
        ("the pair with the room: work of all processors", "", f"{whole / alone:.2f}"),
    ]


def marking_rows() -> list[Row]:
    """Notes marked a second, against sorting as many numbers."""
    tune = read(example())
    tune = repeated(tune, NOTES // len(tune))
    seconds = best(lambda: mark(tune))
    numbers = np.random.default_rng(1).random(len(tune))
    sorting = best(lambda: np.sort(numbers))
    speed = f"{len(tune) / seconds / 1e6:.2f} million notes a second"
    return [(f"marking {len(tune)} notes", speed, f"{seconds / sorting:.1f} sorts of as many")]


def import_rows() -> list[Row]:
    """Milliseconds to import the package, numpy's own left out, against importing json."""
    rows, base = [], _imported("json")
    names = (
        "phrasing",
        "phrasing.app.commands",
        "phrasing.performing.performance",
        "phrasing.marking.precedence",
    )
    for name in names:
        seconds = _imported(name)
        rows.append((f"import {name}", f"{seconds * 1000:.1f} ms", f"{seconds / base:.1f}"))
    return rows


def _imported(name: str) -> float:
    code = (
        "import numpy, numpy.typing, time; start = time.perf_counter();"
        f"import {name}; print(time.perf_counter() - start)"
    )
    command = [sys.executable, "-c", code]
    runs = [subprocess.run(command, capture_output=True, check=True) for _ in range(TIMES)]
    return min(float(run.stdout) for run in runs)


def desk_rows() -> list[Row]:
    """What happens on the desk between a click and its sound, on a melody of some 36 bars.

    The baseline is the whole pair, played and measured anew by the player's process.
    """
    melody = repeated(read(example()), 3)
    work = Work(Source(Path("tune.mid"), lambda path, asked: melody), Request())
    player = Player(embedded_soundfont().path)
    pair = {version.name: version.performance for version in work.versions}
    whole = best(lambda: player.whole(pair))
    marks, ink = count(1), Ink()

    def after() -> Work:
        note = 12 + next(marks) % 4
        return changed(work, {f"mark:{note}": "ghost"})

    def inked(have: int | None) -> object:
        edition = next(marks)
        return ink.draw(after(), edition, "broad", have and edition - 2)

    now = after()
    start, end = touched(work, now) or (0.0, 1.0)
    shaped = now.versions[1].performance
    stages = {
        "the change: marked, shaped, told": lambda: told(after()),
        "its stretch, played in another process": lambda: player.stretch(
            shaped, start, end + 0.6, 0.0
        ),
        "a layout engraved whole": lambda: inked(None),
        "its touched systems alone": lambda: inked(1),
    }
    rows = [("desk: both versions played, measured, sent", f"{whole * 1000:.0f} ms", "1.00")]
    for name, stage in stages.items():
        took = best(stage)
        rows.append((f"desk: {name}", f"{took * 1000:.0f} ms", f"{took / whole:.2f}"))
    player.close()
    return rows


def main() -> None:
    """Print the table."""
    table = Table("what", "measured", "ratio")
    for rows in (sound_rows(), marking_rows(), import_rows(), desk_rows()):
        for row in rows:
            table.add_row(*row)
        table.add_section()
    Console(width=110).print(table)


if __name__ == "__main__":
    main()
