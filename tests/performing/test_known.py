"""What is played of some lines is what was listened to."""

from __future__ import annotations

import pytest

from phrasing.feel import FEELS, Feel
from phrasing.feelfile import adjusted
from phrasing.marking.precedence import mark
from phrasing.performing.performance import Part, perform
from phrasing.score.instruments import BY_KEY
from tests.known import lines

WINDS = ("alto-sax", "trumpet", "clarinet", "trombone", "flute")


def rows(part: Part) -> list[object]:
    """All that a part says of its notes, and of what changes during them."""
    curves = [(c.kind, c.ticks, c.values) for c in part.curves]
    columns = (part.onset, part.release, part.pitch, part.velocity, part.level, part.brightness)
    return [*columns, *curves, part.gain, part.pan, part.place, part.breath]


@pytest.mark.parametrize("name", FEELS)
@pytest.mark.parametrize("lay_back", [False, True], ids=["alone", "over a band"])
def test_known_lines(name, lay_back, known):
    feel = adjusted(Feel(), FEELS[name])
    found = {}
    for i, line in enumerate(lines(24)):
        horn = BY_KEY[WINDS[i % len(WINDS)]]
        played = perform(line, mark(line), feel, instrument=horn, lay_back=lay_back)
        found[f"line {i}"] = [*rows(played.parts[0]), played.swing, played.end]
    known(f"performing-{name}-{'band' if lay_back else 'alone'}", found)
