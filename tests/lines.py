"""Short melodies and markings for tests, written in eighths."""

from __future__ import annotations

import numpy as np

from phrasing.marking.marking import AUTHOR, NO_RULE, Marking
from phrasing.score.marks import CODE, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.meters import Meter, TempoMap, bars_of_meters

EIGHTH = 480
NAMES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def midi(name: str) -> int:
    """``Bb4`` as a MIDI number."""
    accidental = name[1:-1].count("#") - name[1:-1].count("b")
    return 12 * (int(name[-1]) + 1) + NAMES[name[0]] + accidental


def melody(words: str, meter: str = "4/4", tempo: float = 120.0, pickup: int = 0) -> Melody:
    """``"C5:1 r:1 D5:2"``: note names (or r) and lengths in eighths; ``pickup`` in eighths."""
    rows, at = [], 0
    for word in words.split():
        name, eighths = word.split(":")
        length = round(float(eighths) * EIGHTH)
        if name != "r":
            rows.append((at, length, midi(name)))
        at += length
    onset, length, pitch = np.array(rows).T
    beats, unit = meter.split("/")
    bars = bars_of_meters({0: Meter(int(beats), int(unit))}, at, pickup * EIGHTH)
    return Melody(onset, length, pitch, bars, TempoMap((0,), (tempo,)))


def marking(
    count: int,
    marks: dict[int, str] | None = None,
    *,
    flow: tuple[int, ...] = (),
    joined: tuple[int, ...] = (),
    repeated: tuple[int, ...] = (),
    tongued: tuple[int, ...] = (),
    growing: tuple[tuple[int, int], ...] = (),
    swells: tuple[tuple[int, int], ...] = (),
    phrases: tuple[tuple[int, int, int, int], ...] = (),
    left_out: tuple[str, ...] = (),
) -> Marking:
    """A marking written by hand: marks by note index, rows as in ``Marking``."""
    mark = np.full(count, UNMARKED)
    for i, name in (marks or {}).items():
        mark[i] = CODE[name]

    def mask(which: tuple[int, ...]) -> np.ndarray:
        return np.isin(np.arange(count), which)

    return Marking(
        mark=mark,
        rule=np.where(mark == UNMARKED, NO_RULE, AUTHOR),
        by_rules=mark,
        applied=np.zeros(count, dtype=np.int64),
        cause=np.zeros(count, dtype=np.int64),
        model=np.arange(count),
        reading=np.full(count, -1),
        other=mark,
        joined=mask(joined),
        flow=mask(flow),
        repeated=mask(repeated),
        tongued=mask(tongued),
        own_level=np.full(count, np.nan),
        own_gate=np.full(count, np.nan),
        growing_rows=np.array(growing, dtype=np.int64).reshape(-1, 2),
        swell_rows=np.array(swells, dtype=np.int64).reshape(-1, 2),
        phrase_rows=np.array(phrases, dtype=np.int64).reshape(-1, 4),
        left_out=left_out,
    )
