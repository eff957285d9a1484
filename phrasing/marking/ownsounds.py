"""A teacher's own level and length for single notes, as cells of the marks table.

``own level`` is in dB against the plain note, ``own gate`` the fraction of the swung written
length that sounds, both at full strength; an empty cell leaves it to the mark and the line.
They win over both, as the teacher's marks win over the rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from phrasing.feel import MarkSound, limits_of
from phrasing.score.meters import Floats

LIMITS = {name: limits_of(MarkSound, name) for name in ("level", "gate")}
"""What an own level (dB) and gate may be: as for a mark."""
PLACES = {"level": 2, "gate": 3}
"""Decimals that are kept, in the table as on the desk."""


@dataclass(frozen=True)
class OwnSound:
    """What a teacher wants of one note: ``level`` in dB against the plain note, ``gate`` the
    fraction of its swung written length that sounds; None leaves it to mark and line."""

    level: float | None = None
    gate: float | None = None


def checked_sound(what: str, value: float) -> float:
    """An own level or gate, rounded as it is kept; ``ValueError`` for one that cannot be.

    >>> checked_sound("level", 3.14159)
    3.14
    """
    least, most = LIMITS[what]
    if not least <= value <= most:
        raise ValueError(f"choose {least:g} to {most:g}")
    return round(float(value), PLACES[what])


def own_column(own: Mapping[int, OwnSound], what: str, count: int) -> Floats:
    """The own levels or gates of ``count`` notes, not a number where there is none.

    >>> own_column({1: OwnSound(level=3.0)}, "level", 3).tolist()
    [nan, 3.0, nan]
    """
    column = np.full(count, np.nan)
    for note, sound in own.items():
        value = getattr(sound, what)
        if value is not None:
            column[note] = value
    return column


def own_words(level: float, gate: float) -> str:
    """What is wanted of a note, in words; empty where nothing is.

    >>> own_words(3.0, 0.6)
    '3 dB over the plain note, for 60 % of its length'
    """
    words = []
    if not np.isnan(level):
        side = "over" if level > 0 else "under"
        words.append(
            f"{abs(level):g} dB {side} the plain note" if level else "as loud as plain"
        )
    if not np.isnan(gate):
        words.append(f"for {round(100 * gate):d} % of its length")
    return ", ".join(words)
