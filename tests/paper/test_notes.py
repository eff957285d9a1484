"""Beams that show the beats."""

from __future__ import annotations

import pytest

from phrasing.paper.beaming import beams
from phrasing.paper.values import REST, BarShare, bar_pieces
from phrasing.score.meters import Bar, Meter

ENDS = {"begin": "[", "continue": "-", "end": "]", "forward hook": ">", "backward hook": "<"}


def drawn(words: str, meter: str = "4/4") -> str:
    """First beam line of a bar: [ begin, - go on, ] end, . none."""
    beats, unit = map(int, meter.split("/"))
    events, at = [], 0
    for number, word in enumerate(words.split()):
        length = round(float(word.lstrip("r")) * 480)
        events.append(BarShare(at, at + length, REST if word[0] == "r" else number))
        at += length
    bar = Bar(0, at, 1, Meter(beats, unit))
    lines = beams(bar_pieces(bar, events), bar)
    return "".join(ENDS[own[0]] if own else "." for own in lines)


@pytest.mark.parametrize(
    ("meter", "bar", "beam"),
    [
        ("4/4", "1 1 1 1 1 1 1 1", "[--][--]"),  # eighths by halves
        ("4/4", "1 1 2 2 1 1", "[]..[]"),
        ("4/4", "1 2 1 1 1 1 1", "...[--]"),  # broken by a quarter
        ("4/4", "r1 1 1 1 1 1 1 1", ".[-][--]"),
        ("4/4", "1 r1 1 1 4", "..[]."),  # broken by a rest
        ("4/4", "0.5 0.5 1 1 1 4", "[-][]."),  # finer notes: by beats
        ("4/4", "0.6667 0.6667 0.6666 1 1 4", "[-][]."),  # tuplets by themselves
        ("3/4", "1 1 1 1 1 1", "[][][]"),
        ("6/8", "1 1 1 1 1 1", "[-][-]"),
        ("6/8", "2 1 1 2", "...."),
        ("7/8", "1 1 1 1 1 1 1", "[][][-]"),
        ("5/8", "1 1 1 1 1", "[-][]"),
        ("2/4", "1 1 1 1", "[--]"),
    ],
)
def test_first_beams(meter: str, bar: str, beam: str) -> None:
    assert drawn(bar, meter) == beam


def test_second_beams_begin_hook_and_end() -> None:
    events = [
        BarShare(0, 720, 0),
        BarShare(720, 960, 1),
        BarShare(960, 1200, 2),
        BarShare(1200, 1920, 3),
    ]
    bar = Bar(0, 1920, 1, Meter(2, 4))
    lines = beams(bar_pieces(bar, events), bar)
    assert lines == [("begin",), ("end", "backward hook"), ("begin", "forward hook"), ("end",)]
