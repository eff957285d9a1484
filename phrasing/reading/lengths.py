"""Written lengths: what the end of a played note means.

Players and notation programs end most notes before the next begins. A note whose end leaves
less than a rest is written up to the next note.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from phrasing.melody import Bar
from phrasing.tempo import TICKS, Floats, Ints

SHORTEST_REST = TICKS // 4


def written_lengths(
    written: Ints, release: Floats, played: Floats, bars: Sequence[Bar]
) -> Ints:
    """The length (ticks) of each note, from its written onset, its played onset and release."""
    room = np.append(np.diff(written), 16 * TICKS)
    sounding = np.maximum(release - played, 1)
    grid = np.where(sounding < 0.6 * TICKS, TICKS // 4, TICKS // 2)
    snapped = np.maximum(np.rint(sounding / grid) * grid, grid)
    full = (sounding >= 0.5 * room) | (room <= TICKS // 2) | (snapped >= room)
    length = np.where(full, room, np.minimum(snapped, room))
    length[-1] = snapped[-1]
    return np.maximum(length, 1).astype(np.int64)
