"""How some lines are spelled, named and read by a horn is how somebody last read it."""

from __future__ import annotations

from phrasing.score.instruments import BY_KEY
from phrasing.score.keys import guessed_key
from phrasing.score.transposing import as_written, transposed
from phrasing.score.words import where
from tests.known import lines


def test_known_lines(known):
    found = {}
    for i, line in enumerate(lines(24)):
        key = guessed_key(line)
        moved = as_written(transposed(line, "up a fourth"), BY_KEY["alto-sax"])
        found[f"line {i}"] = [
            key.fifths, key.minor, [where(line, n) for n in range(len(line))],
            moved.pitch, [chord.text for chord in moved.chords],
        ]  # fmt: skip
    known("score", found)
