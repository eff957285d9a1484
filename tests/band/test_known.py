"""What the band plays is what was listened to."""

from __future__ import annotations

from pathlib import Path

import pytest

from phrasing.band.band import accompany
from phrasing.band.edges import ENDINGS, INTROS
from phrasing.marking.precedence import mark
from phrasing.performing.performance import Performance
from phrasing.reading import read
from tests.known import lines
from tests.performing.test_known import rows

CHARTS = sorted((Path(__file__).parents[2] / "examples").glob("*.chart"))
STYLES = ("swing", "ballad", "shuffle", "even")


def told(name: str, played: Performance) -> dict[str, object]:
    """What each of them plays, and the clock they share."""
    clock = [played.end, played.tempos.onsets, played.tempos.tempos, played.swing]
    return {f"{name} {p.name}": rows(p) for p in played.parts} | {f"{name} clock": clock}


@pytest.mark.parametrize("path", CHARTS, ids=lambda path: path.stem)
def test_known_charts(path, known):
    found = {}
    for seed, (intro, ending) in enumerate(zip(INTROS, ENDINGS, strict=False)):
        played = accompany(
            read(path), choruses=2, comping=("piano", "guitar")[seed % 2], seed=seed,
            head_in_two=seed == 1, intro=intro, ending=ending, trade=4 * (seed == 1),
        )  # fmt: skip
        found |= told(intro, played.performance(""))
    known(f"band-{path.stem}", found)


def test_known_lines(known):
    found = {}
    for i, line in enumerate(lines(12)):
        backing = accompany(line, ending=ENDINGS[i % len(ENDINGS)], marking=mark(line), seed=i)
        found |= told(f"line {i}", backing.performance(""))
    known("band-lines", found)
