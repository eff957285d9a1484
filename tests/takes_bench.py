"""Takes without a click, read: ``python -m tests.takes_bench [how many tunes]`` prints a table.

Folk and fiddle tunes of music21's collections (BSD licence) are played by a seeded player whose
tempo nobody knows, with drift, rubato, rests, swing and loose timing, written to a MIDI file
that says nothing of it, read, and compared with the score. Beside each figure stands the naive
way: each onset to the nearest twelfth of a quarter, told the take's mean tempo and its first
note. An onset is right where the score has it, but for one shift of the whole tune, since a
take has no bar lines.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from pathlib import Path

import numpy as np

from phrasing.reading.midi.melody import read_midi
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
    ``swing``: long to short of each pair of eighths.
    """

    jitter: float = 0.015
    drift: float = 0.0
    rubato: float = 0.0
    rest: int = 0
    swing: float | None = None


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
    period = 60 / rng.uniform(SLOWEST, FASTEST)
    written, length, pitch = np.array(tune.rows).T
    if player.rest:
        middle = written[len(written) // 2]
        written = written + player.rest * bar_length(tune) * (written >= middle)
    quarters = np.arange(-8, written[-1] + length[-1] + 16, 1 / 24)
    steps = period * _bends(tune, player, quarters, rng) / 24
    seconds = np.concatenate([[0.0], np.cumsum(steps[:-1])])
    played = _swung(written, player.swing)
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


def _swung(written: Floats, swing: float | None) -> Floats:
    if swing is None:
        return written
    off_beat = np.abs(written % 1 - 0.5) < 1e-6
    return written + (swing / (1 + swing) - 0.5) * off_beat


def swingable() -> list[Tune]:
    """Tunes in quarter meters; where sixteenths prevail, they are written as eighths."""
    chosen = []
    for tune in tunes():
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
    """So many of them, evenly."""
    return [chosen[i] for i in np.linspace(0, len(chosen) - 1, count).astype(int)]


def file_of(take: Recorded, **said: object) -> bytes:
    """A MIDI file of the take that says what every file says unasked: 120, no meter."""
    rows = zip(2 * take.begin, 2 * (take.end - take.begin), take.pitch.tolist(), strict=True)
    return midi_file(track(*((float(o), float(le), p) for o, le, p in rows)), division=960)


@dataclass(frozen=True)
class Score:
    """How a take was read: onsets ``right`` of ``notes``, right at ``any_level`` (twice or half
    as fast, in threes for twos), ``naive`` ones; the pickup, whether it is ``free``, its
    ``swing``, and whether a ``warning`` says that it may be misread."""

    notes: int
    right: int
    any_level: int
    naive: int
    pickup: bool
    free: bool
    swing: float | None
    warning: bool


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
    return Score(
        len(take.written),
        right[0],
        max(right),
        naive,
        pickup == round(take.tune.pickup * TICKS),
        "without a click" in said,
        melody.reading.swing_found,
        "misread" in said,
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


def read_take(take: Recorded, folder: Path) -> Score:
    """Write it, read it, score it."""
    path = folder / "take.mid"
    path.write_bytes(file_of(take))
    return scored(take, read_midi(path))


ROWS: tuple[tuple[str, Player], ...] = (
    ("steady, 15 ms", Player()),
    ("steady, 25 ms", Player(0.025)),
    ("steady, 40 ms", Player(0.040)),
    ("a rest of two bars, 15 ms", Player(rest=2)),
    ("drift of 5 %, 15 ms", Player(drift=0.05)),
    ("drift of 5 %, 25 ms", Player(0.025, drift=0.05)),
    ("drift of 8 %, 15 ms", Player(drift=0.08)),
    ("drift of 8 %, 25 ms", Player(0.025, drift=0.08)),
    ("drift of 5 %, rubato of 25 %, 15 ms", Player(drift=0.05, rubato=0.25)),
    ("swung 1.4 : 1, 15 ms", Player(swing=1.4)),
    ("swung 1.7 : 1, 25 ms", Player(0.025, swing=1.7)),
    ("swung 2 : 1, drift of 5 %, 25 ms", Player(0.025, drift=0.05, swing=2.0)),
    ("swung 1.7 : 1, 40 ms", Player(0.040, swing=1.7)),
)


def row(name: str, player: Player, count: int, folder: Path) -> str:
    """One line of the table."""
    chosen = spread(swingable() if player.swing else tunes(), count)
    scores = [read_take(recorded(t, player, i), folder) for i, t in enumerate(chosen)]
    notes = sum(s.notes for s in scores) / 100
    right, level, naive = (
        sum(getattr(s, what) for s in scores) / notes
        for what in ("right", "any_level", "naive")
    )
    with_pickup = [s.pickup for s, t in zip(scores, chosen, strict=True) if t.pickup]
    poor = [s for s in scores if s.right < 0.8 * s.notes]
    return (
        f"{name:36} {right:6.1f} {level:9.1f} {naive:7.1f} {sum(s.free for s in scores):6d}"
        f" {sum(s.swing is not None for s in scores):6d}"
        f" {sum(with_pickup):4d} of {len(with_pickup):3d}"
        f" {sum(s.warning for s in poor):4d} of {len(poor):3d}"
    )


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    print(
        f"{count} tunes a row; per cent of onsets right, at any level, by rounding; then takes"
    )
    print(
        f"{'':36} {'right':>6} {'any level':>9} {'naive':>7} {'free':>6} {'swung':>6}"
        f" {'pickup':>11} {'poor, said':>11}"
    )
    with tempfile.TemporaryDirectory() as folder:
        for name, player in ROWS:
            print(row(name, player, count, Path(folder)), flush=True)


if __name__ == "__main__":
    main()
