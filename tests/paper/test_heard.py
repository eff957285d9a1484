"""Slurs and wedges on paper are those that are heard."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from lxml import etree

from phrasing.feel import Feel
from phrasing.marking.precedence import mark
from phrasing.paper.heard import heard_slurs
from phrasing.paper.musicxml import new_score
from phrasing.performing.performance import shape_of, timing
from phrasing.score.instruments import BY_KEY
from tests.lines import melody

LINE = "E4:1 G4:1 A4:1 C5:1 B4:1 G4:1 A4:2 r:1 D5:1 C5:1 A4:1 G4:1 E4:1 D4:2 "
FALL = "G5:1 F5:1 E5:1 D5:1 C5:1 B4:1 A4:2 r:8 "


def printed(score: bytes) -> list[tuple[int, int]]:
    """The slurs of a score by the numbers of their first and last note."""
    starts: dict[str, int] = {}
    found = []
    for index, note in enumerate(etree.fromstring(score).iterfind(".//note[pitch]")):
        for slur in note.iterfind("notations/slur"):
            if slur.get("type") == "start":
                starts[slur.get("number", "")] = index
            else:
                found.append((starts.pop(slur.get("number", "")), index))
    assert starts == {}
    return found


def test_slurs_are_printed_where_notes_overlap_in_sound_and_nowhere_else() -> None:
    line = melody(LINE * 2)
    made = mark(line)
    gate = shape_of(line, made, Feel(), timing(line, Feel())).gate
    joined = {n for first, last in heard_slurs(line, made) for n in range(first, last)}
    follows = np.append(line.onset[1:] == line.onset[:-1] + line.length[:-1], False)
    assert joined == set(np.flatnonzero((gate > 1.0) & follows).tolist())
    assert printed(new_score(line, made, slurs=True)) == list(heard_slurs(line, made))
    assert printed(new_score(line, made)) == []


def test_the_authors_slurs_stand_and_none_lies_over_them() -> None:
    line = melody(LINE)
    (first, *_) = heard_slurs(line, mark(line))
    own = replace(line, slurs=((first[0], first[1] + 1),))
    heard = heard_slurs(own, mark(own))
    assert all(a > first[1] + 1 or b < first[0] for a, b in heard)
    assert own.slurs[0] in printed(new_score(own, mark(own), slurs=True))


@pytest.mark.parametrize("key", ["trumpet", "alto-sax"])
def test_a_printed_wedge_ends_where_the_sound_stops_getting_softer(key: str) -> None:
    line = melody(FALL + LINE + FALL)
    made = mark(line)
    level = shape_of(line, made, Feel(), timing(line, Feel())).level
    assert len(made.swells) >= 2
    notes = list(
        etree.fromstring(new_score(line, made, instrument=BY_KEY[key])).iter("wedge", "pitch")
    )
    at, ends = 0, []
    for node in notes:
        if node.tag == "pitch":
            at += 1
        else:
            ends.append((node.get("type"), at))
    opens = [n for kind, n in ends if kind == "diminuendo"]
    stops = [n - 1 for kind, n in ends if kind == "stop"]
    assert [(s.first, s.last) for s in made.swells] == list(zip(opens, stops, strict=True))
    for first, last in zip(opens, stops, strict=True):
        assert level[last] <= level[first + 1 : last].min() + 0.1
        assert last + 1 == len(level) or level[last + 1] > level[last]
