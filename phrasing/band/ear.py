"""What the band hears of the melody: where it is busy, where it rests, what it leans on.

Ticks are those of the form, in score time; the melody comes in every chorus that it is played
in. A student who plays it is heard as if it were there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from phrasing.band.form import Form
from phrasing.marking.marking import Marking
from phrasing.score.marks import CODE
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bools, Ints

STRONG = ("accent", "marcato", "clipped")
"""Marks that a drummer plays along with where they fall off the beat."""
LATE = TICKS // 10
"""Ticks by which a soloist's notes may end later than written, who lays back."""
RUBS = (1, 13)
"""Semitones between two notes at once that rub: a half step, and a minor ninth."""
Pair: TypeAlias = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Ear:
    """The melody's notes in the form: columns, one entry a note, in order of onset.

    ``strong``: accented off the beat. ``pairs``: the ticks of each preparation and its arrival.
    """

    onset: Ints
    end: Ints
    pitch: Ints
    strong: Bools
    pairs: tuple[Pair, ...] = ()

    @property
    def hears(self) -> bool:
        """Whether there is a melody at all."""
        return len(self.onset) > 0

    def struck(self, start: float, end: float) -> int:
        """How many notes begin from one tick to another."""
        first, last = np.searchsorted(self.onset, (start, end), "left")
        return int(last - first)

    def during(self, start: float, end: float) -> slice:
        """The notes that sound between two ticks."""
        first = int(np.searchsorted(self.end, start, "right"))
        return slice(first, max(first, int(np.searchsorted(self.onset, end, "left"))))

    def leaves_room(self, start: int, end: int) -> bool:
        """Whether nothing begins between two ticks: the melody rests, or holds a note."""
        return self.hears and self.struck(start, end) == 0

    def rubbing(self, start: int, end: int) -> set[int]:
        """The pitches that would rub with the melody between two ticks."""
        pitches = set(self.pitch[self.during(start, end)].tolist())
        return {pitch + away for pitch in pitches for rub in RUBS for away in (rub, -rub)}

    def rub(self, pitch: int, start: int, end: int) -> int | None:
        """The first tick between two at which a pitch would rub with the melody, if any."""
        notes = self.during(start, end)
        away = np.abs(self.pitch[notes] - pitch)
        found = np.flatnonzero(np.isin(away, RUBS))
        return max(start, int(self.onset[notes][found[0]])) if len(found) else None


_NONE = np.zeros(0, np.int64)
NOBODY = Ear(_NONE, _NONE, _NONE, np.zeros(0, bool))
"""What is heard where there is no melody."""


def ear_of(melody: Melody, marking: Marking | None, form: Form) -> Ear:
    """The melody as it is heard in the choruses of the form that it is played in."""
    onset, end = melody.onset, melody.onset + melody.length
    strong, links = np.zeros(len(melody), dtype=bool), np.empty((0, 2), np.int64)
    if marking is not None and len(melody):
        off = melody.in_bar % melody.beat_length != 0
        strong = np.isin(marking.mark, [CODE[name] for name in STRONG]) & off
        links = marking.link_rows
    passages = [(passage, passage.holds(onset)) for passage in form.passages()]
    return Ear(
        onset=_all([onset[held] + passage.shift for passage, held in passages]),
        end=_all(
            [passage.ends(end[held]) + LATE + passage.shift for passage, held in passages]
        ),
        pitch=_all([melody.pitch[held] for _, held in passages]),
        strong=_all([strong[held] for _, held in passages]).astype(bool),
        pairs=tuple(
            (int(onset[a]) + passage.shift, int(onset[b]) + passage.shift)
            for passage, held in passages
            for a, b in links
            if held[a] and held[b]
        ),
    )


def _all(columns: list[Ints]) -> Ints:
    return np.concatenate([np.zeros(0, np.int64), *columns])
