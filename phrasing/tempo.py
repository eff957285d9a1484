"""From ticks to seconds and back: the tempo map of a piece.

Ticks are of score time or of performed time alike: ``TICKS`` to the quarter note. Tempos are
in quarter notes a minute, the unit of SMF and MusicXML.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

TICKS = 960
"""Ticks to the quarter note: divisible by 2, 3, 4, 5, 6, 8, 10, 12, 16, 32 and 64."""

SMF_TEMPO = 120.0
"""Quarter notes a minute where a file says nothing (Standard MIDI Files 1.0)."""


@dataclass(frozen=True)
class TempoMap:
    """Tempo by tick: each tempo holds from its onset to the next one's.

    ``onsets`` (ticks, ascending, the first is 0) and ``tempos`` (quarter notes a minute).
    """

    onsets: tuple[int, ...] = (0,)
    tempos: tuple[float, ...] = (SMF_TEMPO,)

    def __post_init__(self) -> None:
        ascending = all(a < b for a, b in zip(self.onsets, self.onsets[1:], strict=False))
        if not self.onsets or self.onsets[0] != 0 or not ascending:
            raise ValueError("tempo onsets ascend from 0")
        if len(self.onsets) != len(self.tempos) or min(self.tempos) <= 0:
            raise ValueError("every tempo onset has one tempo above 0")

    @cached_property
    def _starts(self) -> Floats:
        """Seconds at which each tempo starts."""
        spans = np.diff(np.asarray(self.onsets)) / TICKS * 60 / np.asarray(self.tempos[:-1])
        return np.concatenate([[0.0], np.cumsum(spans)])

    def seconds(self, ticks: ArrayLike) -> Any:
        """Seconds from tick 0, for one tick or an array of them (before 0: negative)."""
        at = np.asarray(ticks, dtype=np.float64)
        which = np.maximum(np.searchsorted(self.onsets, at, "right") - 1, 0)
        since = at - np.asarray(self.onsets, dtype=np.float64)[which]
        return self._starts[which] + since / TICKS * 60 / np.asarray(self.tempos)[which]

    def ticks(self, seconds: ArrayLike) -> Any:
        """Ticks (fractional) at these seconds: the inverse of ``seconds``."""
        at = np.asarray(seconds, dtype=np.float64)
        which = np.maximum(np.searchsorted(self._starts, at, "right") - 1, 0)
        since = at - self._starts[which]
        onsets = np.asarray(self.onsets, dtype=np.float64)
        return onsets[which] + since * TICKS / 60 * np.asarray(self.tempos)[which]

    def at(self, ticks: ArrayLike) -> Any:
        """Quarter notes a minute in force at these ticks."""
        which = np.searchsorted(self.onsets, np.asarray(ticks), "right") - 1
        return np.asarray(self.tempos, dtype=np.float64)[np.maximum(which, 0)]

    def scaled_to(self, tempo: float) -> TempoMap:
        """The same map with its first tempo set to ``tempo`` and all changes in proportion."""
        factor = tempo / self.tempos[0]
        return TempoMap(self.onsets, tuple(t * factor for t in self.tempos))
