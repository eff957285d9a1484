"""Performances written by hand, note by note, for tests of rendering."""

from __future__ import annotations

import numpy as np

from phrasing.performing.performance import Curve, Part, Performance
from phrasing.score.meters import Meter, TempoMap, bars_of_meters

Row = tuple[float, ...]


def part(
    *rows: Row, name: str = "Melody", program: int = 57, curves: tuple[Curve, ...] = (),
    gain: float = 0.0, kit: int = 1,
) -> Part:  # fmt: skip
    """Rows: onset, release (quarter notes), pitch, and where not 0 level (dB), brightness."""
    full = np.array([(*row, *[0.0] * (5 - len(row))) for row in rows]).reshape(-1, 5)
    onset, release, pitch, level, brightness = full.T
    return Part(
        name=name,
        program=program,
        onset=np.rint(onset * 960).astype(np.int64),
        release=np.rint(release * 960).astype(np.int64),
        pitch=pitch.astype(np.int64),
        velocity=np.rint(80 * 10 ** (level / 40)).astype(np.int64),
        level=level,
        brightness=brightness,
        source=np.arange(len(rows)),
        curves=curves,
        gain=gain,
        kit=kit,
    )


def performance(
    *parts: Part, tempo: float = 120.0, title: str = "Test", end: float | None = None,
    meter: Meter | None = None, pickup: float = 0.0,
) -> Performance:  # fmt: skip
    """The parts at one tempo; ``end`` and ``pickup`` in quarter notes."""
    last = max(int(p.release.max(initial=0)) for p in parts)
    stop = round(end * 960) if end is not None else last
    bars = bars_of_meters({0: meter or Meter()}, stop, round(pickup * 960))
    return Performance(parts, TempoMap((0,), (tempo,)), bars, title, stop)


def curve(kind: str, *points: tuple[float, float]) -> Curve:
    """A curve through points of quarter note and value."""
    ticks, values = np.array(points).T
    return Curve(kind, np.rint(ticks * 960).astype(np.int64), values)  # type: ignore[arg-type]
