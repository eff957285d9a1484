"""Takes, read: ``python -m tests.takes_bench [how many tunes] [rows]`` prints a table, or the
rows whose names hold a text.

Folk and fiddle tunes of music21's collections (BSD licence) are played by a seeded player, with
drift, rubato, rests, swing and loose timing. Without a click nobody knows the tempo, and the
MIDI file says nothing of it; to a click the file has tempo and meters. The file is read and
compared with the score. Beside each figure stands the naive way: each onset to the nearest
twelfth of a quarter, told the take's mean tempo and its first note. An onset is right where the
score has it, but for one shift of the whole tune, since a take has no bar lines; at any level
it may be twice or half as fast, or in threes for twos. Scores whose repeats, played out, lose
part of a beat have no beat throughout, and are left out.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from multiprocessing import Pool
from pathlib import Path

import numpy as np

from phrasing.reading.midi.melody import read_midi
from phrasing.score.keys import guessed_key
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Floats, Ints
from tests.outside.test_quantizing import Tune, tunes
from tests.smf import midi_file, track

SLOWEST, FASTEST = 90, 200
"""Quarter notes a minute."""
HELD = 0.88
"""How much of its length a note is held."""


@dataclass(frozen=True)
class Player:
    """How a take is played.

    ``jitter``: standard deviation of each onset, in seconds. ``drift``: how far the tempo
    wanders about its mean, in waves of some 30 to 90 quarters. ``rubato``: how much slower the
    last two quarters of every four bars become. ``rest``: bars of silence in the middle.
    ``swing``: long to short of each pair of eighths, or from the middle on (``second_half``).
    ``click``: quarters a minute of a click, or nobody's tempo.
    """

    jitter: float = 0.015
    drift: float = 0.0
    rubato: float = 0.0
    rest: int = 0
    swing: float | None = None
    second_half: bool = False
    click: float | None = None


@dataclass(frozen=True, eq=False)
class Recorded:
    """A take: seconds ``begin`` and ``end``, ``pitch``, and what the score has (``written``:
    quarters; ``bar``: quarters in a bar). ``period``: seconds of a quarter, on average."""

    tune: Tune
    begin: Floats
    end: Floats
    pitch: Ints
    written: Floats
    period: float


def bar_length(tune: Tune) -> float:
    """Quarter notes in a bar."""
    beats, unit = map(int, next(iter(tune.meters.values())).split("/"))
    return 4 * beats / unit


def recorded(tune: Tune, player: Player, seed: int) -> Recorded:
    """A take of the tune, the same for the same seed."""
    rng = np.random.default_rng(seed)
    period = 60 / (player.click or rng.uniform(SLOWEST, FASTEST))
    written, length, pitch = np.array(tune.rows).T
    if player.rest:
        middle = written[len(written) // 2]
        written = written + player.rest * bar_length(tune) * (written >= middle)
    quarters = np.arange(-8, written[-1] + length[-1] + 16, 1 / 24)
    steps = period * _bends(tune, player, quarters, rng) / 24
    seconds = np.concatenate([[0.0], np.cumsum(steps[:-1])])
    played = _swung(written, player)
    begin, end = (np.interp(at, quarters, seconds) for at in (played, written + length))
    start = rng.uniform(0.3, 1.5) - begin[0]
    begin, end = begin + start, end + start
    struck = begin + rng.normal(0, player.jitter, len(begin))
    struck = np.maximum.accumulate(np.maximum(struck, 0) + np.arange(len(begin)) * 1e-6)
    held = np.maximum((end - struck) * HELD * np.exp(rng.normal(0, 0.08, len(begin))), 0.03)
    end = np.minimum(struck + held, np.append(struck[1:] - 0.002, np.inf))
    end = np.maximum(end, struck + 0.01)
    mean = float((begin[-1] - begin[0]) / (written[-1] - written[0]))
    return Recorded(tune, struck, end, pitch.astype(np.int64), written, mean)


def _bends(tune: Tune, player: Player, quarters: Floats, rng: np.random.Generator) -> Floats:
    """How much longer than usual each moment is."""
    waves = zip((0.6, 0.4), (rng.uniform(24, 48), rng.uniform(60, 120)), strict=True)
    swell = sum(
        size * np.sin(2 * np.pi * (quarters / length + rng.uniform())) for size, length in waves
    )
    phrase = 4 * bar_length(tune)
    left = phrase - (quarters - tune.pickup) % phrase
    slower = player.rubato * np.clip(1 - left / 2, 0, 1)
    return (1 + player.drift * swell) * (1 + slower)


def _swung(written: Floats, player: Player) -> Floats:
    if player.swing is None:
        return written
    off_beat = np.abs(written % 1 - 0.5) < 1e-6
    there = written >= written[len(written) // 2] if player.second_half else True
    return written + (player.swing / (1 + player.swing) - 0.5) * (off_beat & there)


def whole_beats(tune: Tune) -> bool:
    """Whether the sections of its score, played out, all begin with the beat or the pickup."""
    beat = 1.5 if next(iter(tune.meters.values())) in ("6/8", "9/8", "12/8") else 1.0
    begins = {round(at % beat, 3) for at in tune.meters}
    return begins <= {0.0, round(tune.pickup % beat, 3)}


def playable() -> list[Tune]:
    """The tunes that have a beat throughout."""
    return [tune for tune in tunes() if whole_beats(tune)]


def quick() -> list[Tune]:
    """Those with sixteenths or triplets in one beat of ten."""
    chosen = []
    for tune in playable():
        at = np.array(tune.rows)[:, 0]
        fine = np.unique(np.floor(at[np.abs(at * 2 - np.round(at * 2)) > 1e-3]))
        if len(fine) > 0.1 * len(np.unique(np.floor(at))):
            chosen.append(tune)
    return chosen


def swingable() -> list[Tune]:
    """Tunes in quarter meters; where sixteenths prevail, they are written as eighths."""
    chosen = []
    for tune in playable():
        meters = set(tune.meters.values())
        if not meters <= {"2/4", "3/4", "4/4", "2/2"}:
            continue
        part = np.round(np.array(tune.rows)[:, 0] % 1, 3)
        twice = 2 if np.isin(part, (0.25, 0.75)).sum() > (part == 0.5).sum() else 1
        rows = [(on * twice, le * twice, p) for on, le, p in tune.rows]
        if sum(abs(on % 1 - 0.5) < 1e-6 for on, _, _ in rows) >= 8:
            chosen.append(replace(tune, rows=rows, pickup=tune.pickup * twice))
    return chosen


def spread(chosen: Sequence[Tune], count: int) -> list[Tune]:
    """So many of them, evenly; all, where there are no more."""
    count = min(count, len(chosen))
    return [chosen[i] for i in np.linspace(0, len(chosen) - 1, count).astype(int)]


def file_of(take: Recorded, click: float | None = None) -> bytes:
    """A MIDI file of the take: to a click with its tempo and meters, else with what every file
    says unasked, 120 and no meter."""
    speed = (click or 120.0) / 60
    if click:
        start = take.begin[0] - take.written[0] / speed
        take = replace(take, begin=take.begin - start, end=take.end - start)
    begin = np.maximum(speed * take.begin, 0)
    rows = zip(begin, speed * (take.end - take.begin), take.pitch.tolist(), strict=True)
    notes = track(*((float(o), float(le), p) for o, le, p in rows))
    if click:
        return midi_file(notes, tempo=click, meters=take.tune.meters, division=960)
    return midi_file(notes, division=960)


@dataclass(frozen=True)
class Score:
    """How a take was read: onsets ``right`` of ``notes``, right at ``any_level`` (twice or half
    as fast, in threes for twos), ``naive`` ones; whether the ``pickup``, the ``bar`` length and
    the ``key`` are right, whether it is ``free``, its ``swing``, whether it has ``passages``,
    and whether a ``warning`` says that it may be misread or what else it could be."""

    notes: int
    right: int
    any_level: int
    naive: int
    pickup: bool
    bar: bool
    key: bool
    free: bool
    swing: float | None
    passages: bool
    warning: bool

    @property
    def poor(self) -> bool:
        """Whether one onset in ten or more is wrong."""
        return self.right < POOR * self.notes


POOR = 0.9
LEVELS = (1, 2, 1 / 2, 3 / 2, 2 / 3, 3, 1 / 3)


def scored(take: Recorded, melody: Melody) -> Score:
    """The melody as read against the score."""
    written, found = _matched(take, melody)
    right = [_in_place(found * level, written) for level in LEVELS]
    rounded = np.round((take.begin - take.begin[0]) / take.period * 12) / 12
    naive = int((np.abs(rounded - (take.written - take.written[0])) < 0.01).sum())
    bar = melody.meter.bar_length
    first = int(melody.onset[0])
    pickup = (melody.pickup - first if melody.pickup else bar - first) % bar
    said = " ".join(melody.reading.warnings)
    fifths = guessed_key(replace(melody, keys=())).fifths
    return Score(
        len(take.written),
        right[0],
        max(right),
        naive,
        pickup == round(take.tune.pickup * TICKS),
        bar == round(bar_length(take.tune) * TICKS),
        take.tune.fifths == (fifths,),
        "without a click" in said,
        melody.reading.swing_found,
        bool(melody.manners),
        "misread" in said or "might also be at" in said,
    )


def _matched(take: Recorded, melody: Melody) -> tuple[Floats, Floats]:
    """Where the score and the melody have the notes that are in both, in quarters."""
    played, read = take.pitch.tolist(), melody.pitch.tolist()
    blocks = SequenceMatcher(None, played, read, autojunk=False).get_matching_blocks()
    pairs = [(block.a + i, block.b + i) for block in blocks for i in range(block.size)]
    mine, its = np.array(pairs).T
    return take.written[mine], melody.onset[its] / TICKS


def _in_place(found: Floats, written: Floats) -> int:
    """How many are in place after the one shift that puts most of them there."""
    _, counts = np.unique(np.round((found - written) * 48), return_counts=True)
    return int(counts.max())


def read_take(take: Recorded, folder: Path, click: float | None = None) -> Score:
    """Write it, read it, score it."""
    path = folder / f"take{os.getpid()}.mid"
    path.write_bytes(file_of(take, click))
    return scored(take, read_midi(path))


@dataclass(frozen=True)
class Row:
    """A row of the table: its name, how the takes are played, of which tunes."""

    name: str
    player: Player
    tunes: Callable[[], list[Tune]] = playable


ROWS = (
    Row("steady, 15 ms", Player()),
    Row("steady, 25 ms", Player(0.025)),
    Row("steady, 40 ms", Player(0.040)),
    Row("a rest of two bars, 15 ms", Player(rest=2)),
    Row("drift of 5 %, 15 ms", Player(drift=0.05)),
    Row("drift of 5 %, 25 ms", Player(0.025, drift=0.05)),
    Row("drift of 8 %, 15 ms", Player(drift=0.08)),
    Row("drift of 5 %, rubato of 25 %, 15 ms", Player(drift=0.05, rubato=0.25)),
    Row("swung 1.4 : 1, 15 ms", Player(swing=1.4), swingable),
    Row("swung 1.7 : 1, 25 ms", Player(0.025, swing=1.7), swingable),
    Row("swung 1.7 : 1, 40 ms", Player(0.040, swing=1.7), swingable),
    Row("swung 2 : 1, drift of 5 %, 25 ms", Player(0.025, drift=0.05, swing=2.0), swingable),
    Row("even, then 1.7 : 1, 15 ms", Player(swing=1.7, second_half=True), swingable),
    Row("to a click of 120, 15 ms", Player(click=120.0)),
    Row("to a click of 120, 25 ms", Player(0.025, click=120.0)),
    Row("16ths and triplets, click, 25 ms", Player(0.025, click=120.0), quick),
    Row("16ths and triplets, no click, 25 ms", Player(0.025), quick),
    Row("swung 1.7 : 1, click, 25 ms", Player(0.025, swing=1.7, click=120.0), swingable),
    Row("swung 1.7 : 1, click, 40 ms", Player(0.040, swing=1.7, click=120.0), swingable),
    Row("even, then 1.7 : 1, click, 25 ms",
        Player(0.025, swing=1.7, second_half=True, click=120.0), swingable),
)  # fmt: skip
HEADINGS = (
    "right", "any level", "rounded", "followed", "swung", "changing", "pickup", "meter", "key",
    "poor, said", "good, said",
)  # fmt: skip


def score_of(job: tuple[Tune, Player, int]) -> Score:
    """One take."""
    tune, player, seed = job
    take = recorded(tune, player, seed)
    return read_take(take, Path(tempfile.gettempdir()), player.click)


def figures(scores: Sequence[Score], chosen: Sequence[Tune]) -> list[str]:
    """What the table says of these takes, by ``HEADINGS``."""
    notes = sum(s.notes for s in scores) / 100
    shares = [
        f"{sum(getattr(s, what) for s in scores) / notes:.1f}"
        for what in ("right", "any_level", "naive")
    ]
    with_pickup = [s.pickup for s, t in zip(scores, chosen, strict=True) if t.pickup]
    keyed = [s.key for s, t in zip(scores, chosen, strict=True) if len(t.fifths) == 1]
    return [
        *shares,
        str(sum(s.free for s in scores)),
        str(sum(s.swing is not None for s in scores)),
        str(sum(s.passages for s in scores)),
        _of(with_pickup),
        str(sum(s.bar for s in scores)),
        _of(keyed),
        _of([s.warning for s in scores if s.poor]),
        _of([s.warning for s in scores if not s.poor]),
    ]


def _of(these: Sequence[bool]) -> str:
    return f"{sum(these)} of {len(these)}"


def main() -> None:
    """Print the table."""
    from rich.console import Console
    from rich.table import Table

    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    rows = [row for row in ROWS if "".join(sys.argv[2:3]) in row.name]
    left_out = len(tunes()) - len(playable())
    table = Table("take", *HEADINGS, caption=CAPTION.format(count=count, left_out=left_out))
    with Pool() as pool:
        for row in rows:
            chosen = spread(row.tunes(), count)
            scores = pool.map(score_of, [(t, row.player, i) for i, t in enumerate(chosen)], 4)
            table.add_row(row.name, *figures(scores, chosen))
            print(row.name, *figures(scores, chosen), sep=" | ", file=sys.stderr, flush=True)
    Console(width=150).print(table)


CAPTION = (
    "Up to {count} tunes a row ({left_out} left out: their bars do not add up). Per cent of "
    "onsets right, right at any level, by rounding; then takes: followed without a click, "
    "swing found, a change of feel found, pickup, bar length and key right; of those with one "
    "onset in ten wrong, and of the others, how many say so or what else it may be."
)


if __name__ == "__main__":
    main()
