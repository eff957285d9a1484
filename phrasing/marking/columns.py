"""What a player sees at each note: columns with one entry a note, and their neighbours.

Pitches and intervals are in semitones, lengths and rests in ticks (960 to the quarter).
Neighbours are asked for by ``before`` and ``after`` and never by index arithmetic. A column
is worked out when a rule first asks for it.

A **line** is a run of notes with no rest of an eighth or more between them. Intervals count
inside a line only: the first note of a line is reached from nowhere, and the last one goes
nowhere (their interval is 0). A **phrase** ends at a rest of a quarter or more, where the
author breathes, or at the end.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Any, TypeVar

import numpy as np

from phrasing.marking.places import DOTTED, in_eighths, written
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bools, Ints
from phrasing.style import SWING, Style

QUARTER = TICKS
EIGHTH = TICKS // 2
STEP = 2
"""Semitones of the widest step; a skip is wider, a leap wider still."""
LEAP = 5
"""Semitones of the narrowest leap."""
ENDLESS = np.iinfo(np.int32).max
"""The rest after the last note."""

Column = TypeVar("Column", Bools, Ints)


def before(column: Column, fill: int = 0) -> Column:
    """For each note, the entry of the note before it; ``fill`` for the first."""
    moved = np.empty_like(column)
    moved[:1] = fill
    moved[1:] = column[:-1]
    return moved


def after(column: Column, fill: int = 0) -> Column:
    """For each note, the entry of the note after it; ``fill`` for the last."""
    moved = np.empty_like(column)
    moved[-1:] = fill
    moved[:-1] = column[1:]
    return moved


def moved(column: Column, by: int) -> Column:
    """For each note, the entry of the note ``by`` before it (below 0: after it); 0 beyond."""
    entries = np.zeros_like(column)
    count = len(column)
    if abs(by) < count:
        entries[max(by, 0) : count + min(by, 0)] = column[max(-by, 0) : count - max(by, 0)]
    return entries


Found = TypeVar("Found")


class Columns:
    """The columns of a melody, as a style reads it."""

    def __init__(self, melody: Melody, style: Style = SWING) -> None:
        self.melody, self.style = melody, style
        places = in_eighths(melody) if style.triplets else written(melody)
        self.pitch = melody.pitch
        self.onset, self.length, self.in_bar = places.onset, places.length, places.in_bar
        self.into_beat, self.beat_length = places.into_beat, places.beat_length
        self.has_no_off_beats = places.has_no_off_beats
        self.bar_onset, self.bar_length = places.bar_onset, places.bar_length
        self.bar_beats = places.bar_beats
        self._found: dict[Callable[..., Any], Any] = {}

    def __len__(self) -> int:
        return len(self.pitch)

    def find(self, what: Callable[[Columns], Found]) -> Found:
        """What a function finds in these columns, looked for once."""
        if what not in self._found:
            self._found[what] = what(self)
        found: Found = self._found[what]
        return found

    @cached_property
    def on_beat(self) -> Bools:
        """Starts on a beat."""
        starts: Bools = self.into_beat == 0
        return starts

    @cached_property
    def off_beat(self) -> Bools:
        """Starts halfway through a beat; nothing does in meters of eighths but a shuffle."""
        halfway: Bools = self.into_beat * 2 == self.beat_length
        return halfway & ~self.has_no_off_beats

    @cached_property
    def is_eighth(self) -> Bools:
        """Is written as an eighth."""
        eighth: Bools = self.length == EIGHTH
        return eighth

    @cached_property
    def is_quarter(self) -> Bools:
        """Is written as a quarter (or two tied eighths)."""
        quarter: Bools = self.length == QUARTER
        return quarter

    @cached_property
    def is_shuffle_long(self) -> Bools:
        """Is a quarter that fills a compound beat together with the eighth after it."""
        compound: Bools = self.beat_length == DOTTED
        joined: Bools = self.rest == 0
        return compound & self.on_beat & self.is_quarter & joined & after(self.is_eighth)

    @cached_property
    def is_short(self) -> Bools:
        """Is shorter than a quarter."""
        short: Bools = self.length < QUARTER
        return short

    @cached_property
    def rest(self) -> Ints:
        """Ticks of silence between the note and the next; ``ENDLESS`` after the last."""
        gap: Ints = after(self.onset, ENDLESS) - self.onset - self.length
        gap[-1:] = ENDLESS
        return gap

    @cached_property
    def ends_line(self) -> Bools:
        """Is followed by a rest of an eighth or more, or by the end."""
        silent: Bools = self.rest >= EIGHTH
        return silent

    @cached_property
    def goes_on(self) -> Bools:
        """Is followed by another note of its line."""
        return ~self.ends_line

    @cached_property
    def touches_next(self) -> Bools:
        """Lasts until the next note begins, and the author does not breathe in between."""
        touches: Bools = self.rest <= 0
        return touches & ~self.author_ends

    @cached_property
    def interval_in(self) -> Ints:
        """The interval by which the line reaches the note: above 0 from below."""
        return before(self.interval_out)

    @cached_property
    def interval_out(self) -> Ints:
        """The interval by which the line leaves the note: above 0 upward."""
        return np.where(self.goes_on, after(self.pitch) - self.pitch, 0)

    @cached_property
    def author_ends(self) -> Bools:
        """Where the author ends a phrase after the note."""
        ends = np.zeros(len(self), dtype=bool)
        ends[[i for i in self.melody.phrase_ends if 0 <= i < len(self)]] = True
        return ends

    @cached_property
    def under_author_slur(self) -> Bools:
        """Lies under a slur of the author's, and is not its last note."""
        return self._slurs_over(0, 0)

    @cached_property
    def author_slurred(self) -> Bools:
        """Is slurred into the next note, another pitch, by the author."""
        moves: Bools = self.interval_out != 0
        return self.under_author_slur & self.touches_next & moves

    @cached_property
    def near_author_slur(self) -> Bools:
        """Lies under a slur of the author's, or just before one, where the tongue is used."""
        return self._slurs_over(-1, 1)

    def _slurs_over(self, earlier: int, later: int) -> Bools:
        """Notes from each slur's first, moved by ``earlier``, to before its last, moved."""
        change = np.zeros(len(self) + 1, dtype=np.int64)
        ends = np.array(self.melody.slurs, dtype=np.int64).reshape(-1, 2)
        np.add.at(change, np.clip(ends[:, 0] + earlier, 0, len(self)), 1)
        np.add.at(change, np.clip(ends[:, 1] + later, 0, len(self)), -1)
        under: Bools = np.cumsum(change[:-1]) > 0
        return under
