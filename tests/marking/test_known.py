"""How some lines are marked is how somebody last read it."""

from __future__ import annotations

import pytest

from phrasing.marking.precedence import mark
from phrasing.style import STYLE
from tests.known import lines


@pytest.mark.parametrize("style", ["swing", "ballad", "shuffle", "even"])
def test_known_lines(style, known):
    found = {}
    for i, line in enumerate(lines(40)):
        made = mark(line, style=STYLE[style])
        notes = (made.mark, made.rule, made.applied, made.cause, made.model, made.reading)
        touch = (made.joined, made.flow, made.repeated, made.tongued)
        spans = (made.swell_rows, made.link_rows, made.phrase_rows, made.growing_rows)
        found[f"line {i}"] = [*notes, *touch, *spans]
    known(f"marking-{style}", found)
