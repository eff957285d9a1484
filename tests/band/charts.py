"""Random chord charts as text, and charts read from text, for the tests of the band."""

from __future__ import annotations

import random
import tempfile
from pathlib import Path

from phrasing.reading.chart import read_chart
from phrasing.score.melody import Melody

ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
KINDS = ["", "m", "6", "m6", "maj7", "7", "m7", "m7b5", "o7", "+", "sus4", "7sus4", "6/9", "9"]
KINDS += ["13", "m9", "m11", "maj9", "maj7#11", "7b9", "7#9", "7alt", "7b5", "7#5", "9#11", "5"]
KINDS += [
    "13b9",
    "m(maj7)",
    "add9",
    "sus2",
    "11",
    "dim",
    "o(maj7)",
    "m(add9)",
    "7b13",
    "13sus4",
]
METERS = ["4/4", "4/4", "3/4", "2/4", "5/4", "6/4", "7/4", "2/2", "3/2", "6/8", "9/8", "12/8"]
METERS += ["5/8", "7/8", "3/8", "1/4", "4/8", "8/4", "11/8", "5/16", "1/16"]


def chart(text: str) -> Melody:
    """The chart that a text file with this content holds."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.chart"
        path.write_text(text, encoding="utf-8")
        return read_chart(path)


def random_chart(seed: int) -> str:
    """A chart that may be anything a chart may be."""
    chance = random.Random(seed)
    lines = [f"tempo: {chance.choice([20, 48, 66, 90, 120, 152, 200, 260, 320, 400])}"]
    if chance.random() < 0.6:
        lines.append(f"key: {chance.choice(['C', 'F', 'Bb', 'G', 'Am', 'F#m', 'Ebm', 'Db'])}")
    if chance.random() < 0.2:
        lines.append(f"swing: {chance.choice(['straight', '1.5', '2:1', '3'])}")
    for _ in range(chance.randint(1, 4)):
        if chance.random() < 0.5:
            lines.append(f"{chance.choice('ABC')}:")
        if chance.random() < 0.5:
            lines.append(f"meter: {chance.choice(METERS)}")
        bars = [_bar(chance) for _ in range(chance.randint(1, 6))]
        line = " | ".join(bars)
        lines.append(f"|: {line} :|" if chance.random() < 0.3 else f"| {line} |")
    return "\n".join([*lines, "| C |"]) + "\n"


def _bar(chance: random.Random) -> str:
    kind = chance.random()
    if kind < 0.06:
        return "N.C."
    if kind < 0.14:
        return ""
    return _chord(chance)


def _chord(chance: random.Random) -> str:
    bass = f"/{chance.choice(ROOTS)}" if chance.random() < 0.1 else ""
    return chance.choice(ROOTS) + chance.choice(KINDS) + bass


def busy_chart(seed: int) -> str:
    """A chart in four with up to eight chords in a bar."""
    chance = random.Random(seed)
    bars = [
        " ".join(_chord(chance) for _ in range(chance.choice([1, 1, 2, 2, 3, 4, 8])))
        for _ in range(chance.randint(1, 12))
    ]
    return f"tempo: {chance.choice([60, 140, 240])}\n| {' | '.join(bars)} |\n"
