"""How a bar is built: its beats, its middle, and how deep in it a tick lies.

5/8 is taken as 3 + 2, 7/8 as 2 + 2 + 3, 5/4 as 3 + 2 (common practice, no source).
"""

from __future__ import annotations

from phrasing.melody import Meter
from phrasing.tempo import TICKS

FINEST = TICKS // 16
"""The 64th, the shortest value outside tuplets."""


def beat_of(meter: Meter) -> int:
    """Ticks in the beat as it is written: the meter's unit, dotted where compound."""
    unit = 4 * TICKS // meter.unit
    return unit * 3 if is_compound(meter) else unit


def is_compound(meter: Meter) -> bool:
    """Whether its beats are written dotted: 6/8, 9/8, 12/8, 6/4 and their like."""
    return meter.beats % 3 == 0 and (meter.beats > 3 or meter.unit >= 8)


def beat_starts(meter: Meter) -> tuple[int, ...]:
    """Where the beats of a bar start, in ticks; 5/8 is taken as 3 + 2, 7/8 as 2 + 2 + 3."""
    unit = 4 * TICKS // meter.unit
    if meter.unit >= 8 and not is_compound(meter) and meter.beats > 4:
        twos = meter.beats // 2 - 1
        groups = [0, 3 * unit] if meter.beats == 5 else [2 * unit * k for k in range(twos + 1)]
        return tuple(groups)
    return tuple(range(0, meter.bar_length, beat_of(meter)))


def depth(tick: int, meter: Meter) -> int:
    """How deep in the bar a tick lies: 0 its start, 1 its middle, 2 a beat, 3 half a beat..."""
    tick %= meter.bar_length
    if tick == 0:
        return 0
    if tick in _middles(meter):
        return 1
    if tick in beat_starts(meter):
        return 2
    finer = 4 * TICKS // meter.unit if meter.unit >= 8 else beat_of(meter) // 2
    if is_compound(meter):
        finer = beat_of(meter) // 3
    level = 3
    while tick % finer and finer > 1:
        finer, level = finer // 2, level + 1
    return level


def _middles(meter: Meter) -> tuple[int, ...]:
    beats = meter.bar_length // beat_of(meter)
    if meter.beats == 5 and meter.unit < 8:
        return (3 * beat_of(meter),)
    return (meter.bar_length // 2,) if beats == 4 else ()
