"""What the band plays is what was listened to."""

from __future__ import annotations

from pathlib import Path

import pytest

from phrasing.band.band import accompany
from phrasing.band.edges import ENDINGS, INTROS
from phrasing.reading import read
from tests.known import lines
from tests.performing.test_known import rows

CHARTS = sorted((Path(__file__).parents[2] / "examples").glob("*.chart"))
STYLES = ("swing", "ballad", "shuffle", "even")


@pytest.mark.parametrize("path", CHARTS, ids=lambda path: path.stem)
def test_known_charts(path, known):
    found = {}
    for seed, comping in enumerate(("piano", "guitar")):
        played = accompany(
            read(path), choruses=2, comping=comping, head_in_two=seed == 1, seed=seed,
            intro=INTROS[seed], ending=ENDINGS[seed], trade=4 * seed,
        )  # fmt: skip
        found |= {f"{comping} {p.name}": rows(p) for p in played.performance("").parts}
    known(f"band-{path.stem}", found)


def test_known_lines(known):
    found = {}
    for i, line in enumerate(lines(12)):
        backing = accompany(line, ending=ENDINGS[i % len(ENDINGS)], seed=i)
        found |= {f"line {i} {p.name}": rows(p) for p in backing.performance("").parts}
    known("band-lines", found)
