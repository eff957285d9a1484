"""What sounds when, in the form that MIDI files and synthesizers want it."""

from __future__ import annotations

import numpy as np

from phrasing.performance import Part
from phrasing.tempo import Ints


def note_ends(part: Part) -> Ints:
    """Ticks at which each note of the part is switched off.

    A note still sounding when its own pitch comes again ends there: one key cannot be pressed
    twice. Of two notes that start together on one pitch the earlier in the column ends as it
    begins, and is not to be played; every other note lasts a tick at least.
    """
    ends = np.maximum(part.release, part.onset + 1)
    order = np.lexsort((np.arange(len(ends)), part.onset, part.pitch))
    same = part.pitch[order][1:] == part.pitch[order][:-1]
    ends[order[:-1]] = np.where(
        same, np.minimum(ends[order[:-1]], part.onset[order[1:]]), ends[order[:-1]]
    )
    return ends
