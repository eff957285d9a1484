"""What is made of some pieces, as it was when somebody last listened to it and looked at it.

Each piece of what is made is kept as a digest, by its place, so that a test can say where
something became other than it was. That it is other is no fault in itself: what changes on
purpose is listened to and looked at again, and then written down::

    python -m pytest -n 0 -k known --renew
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from phrasing.score.melody import ChordSymbol, Grace, Melody
from phrasing.score.meters import Meter, TempoMap, bars_of_meters

HERE = Path(__file__).parent
MADE_BY = "made by"
CHORDS = ("Dm7", "G7b9b13", "Cmaj7", "A7b9", "F6", "Bb13", "Em7b5", "Ab°7")


@dataclass(frozen=True)
class Known:
    """What is known, by the name of a file here; ``renew``: write down what is found."""

    renew: bool = False

    def __call__(self, name: str, found: Mapping[str, object], made_by: str = "") -> None:
        """Fail where something found is not as it is known; skip where a library that has to
        do with it (``made_by``) is not the one it is known of."""
        file = HERE / f"{name}.json"
        now = {place: digest(rows) for place, rows in found.items()}
        if self.renew:
            file.write_text(json.dumps({MADE_BY: made_by} | now, indent=0) + "\n")
        before = json.loads(file.read_text())
        if before.pop(MADE_BY) != made_by:
            pytest.skip(f"{name}: not known of {made_by}")
        other = [p for p in {**before, **now} if before.get(p) != now.get(p)]
        assert not other, f"{name}: {len(other)} of {len(before)} other, first: {other[:4]}"


def digest(rows: object) -> str:
    """A word for lists, texts and numbers; of fractions, a millionth makes no difference."""
    return hashlib.blake2b(repr(_plain(rows)).encode(), digest_size=4).hexdigest()


def _plain(value: object) -> object:
    if isinstance(value, np.ndarray | np.generic):
        value = value.tolist()
    if isinstance(value, float):
        return round(value, 5) + 0.0
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value


METERS = (Meter(4, 4), Meter(4, 4), Meter(4, 4), Meter(3, 4), Meter(5, 4), Meter(2, 2))
TEMPOS = (60.0, 96.0, 132.0, 168.0, 210.0, 250.0)
LENGTHS = (480,) * 6 + (960,) * 3 + (240, 320, 640, 720, 1440, 1920)
RESTS = (0,) * 9 + (240, 480, 480, 960, 1440)


def lines(count: int, notes: int = 32) -> Iterator[Melody]:
    """Lines of eighths, quarters and less usual lengths, in steps, skips and leaps, each of
    its own tempo, some in other meters than 4/4, some with a pickup, every other one with
    grace notes, all with chords."""
    for seed in range(count):
        dice = np.random.default_rng(seed)
        rows, at, pitch = [], int(dice.choice((0, 0, 480, 960))), int(dice.integers(58, 74))
        for _ in range(notes):
            length = int(dice.choice(LENGTHS))
            rows.append((at, length, pitch))
            at += length + int(dice.choice(RESTS))
            step = dice.choice((-7, -3, -2, -2, -1, -1, 0, 1, 1, 2, 2, 3, 5, 12))
            pitch = int(np.clip(pitch + step, 52, 84))
        onset, length, pitches = zip(*rows, strict=True)
        pickup = int(dice.choice((0, 0, 480, 960)))
        bars = bars_of_meters({0: METERS[seed % len(METERS)]}, at, pickup)
        symbols = tuple(
            ChordSymbol(bar.onset, str(dice.choice(CHORDS))) for bar in bars if bar.number
        )
        tempos = TempoMap((0,), (TEMPOS[seed % len(TEMPOS)],))
        graces = (Grace(1, (pitches[1] - 1,)), Grace(5, (pitches[5] - 3, pitches[5] - 1)))
        yield Melody(
            onset, length, pitches, bars, tempos,
            chords=symbols, title=f"Line {seed}",
            graces=graces if seed % 2 else (),
        )  # fmt: skip
