"""A stretch of a performance, sounded by itself as it sounds in the whole.

For a change that is to be heard at once: only what can be heard in the stretch is played.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from phrasing.performing.performance import Part, Performance, selected
from phrasing.score.meters import TempoMap
from phrasing.sound.sound import LEAD_IN, analysed
from phrasing.sound.soundfonts import Soundfont
from phrasing.sound.streams import BLOCK, Samples

RUN_UP = 1.5
"""Seconds before the stretch: notes that end in them are played too, for their tails."""


def stretch(
    performance: Performance, soundfont: Soundfont, start: float, end: float, *, rate: int
) -> Samples:
    """The samples, shape (2, n), from ``start`` to ``end`` seconds after the sound's start.

    At the synthesizer's own level, as in the sound of the whole. Raises ``NoSoundError``
    without a synthesizer library.

    >>> from phrasing.performing.performance import perform
    >>> from phrasing.sound.soundfonts import find_soundfont
    >>> played = perform(melody("C5:2 D5:2"), None)
    >>> stretch(played, find_soundfont(), 0.1, 0.3, rate=44100).shape
    (2, 8820)
    """
    parts = tuple(_within(part, performance.tempos, start, end) for part in performance.parts)
    heard = replace(performance, parts=parts)
    first, last = int(start * rate), int(end * rate)
    sound, at = np.zeros((2, last - first), np.float32), 0
    for block, _ in analysed(heard, soundfont, rate=rate, room=True):
        low, high = max(at, first), min(at + block.shape[1], last)
        if low < high:
            sound[:, low - first : high - first] = block[:, low - at : high - at]
        at += block.shape[1]
        if at >= last + BLOCK:
            break
    return sound


def _within(part: Part, tempos: TempoMap, start: float, end: float) -> Part:
    """The notes of a part that can be heard in the stretch."""
    begins = tempos.seconds(part.onset) + LEAD_IN
    ends = tempos.seconds(part.release) + LEAD_IN
    return selected(part, (begins < end + RUN_UP) & (ends > start - RUN_UP))
