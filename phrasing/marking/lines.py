"""What happens along a line, besides the marks: the rules that shape runs of notes.

Common practice among jazz wind players; no published source. Where the author breathes,
nothing is joined and no run goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phrasing.marking.columns import EIGHTH, QUARTER, Columns, after, before
from phrasing.marking.rules import leads_syncopation
from phrasing.tempo import Bools, Ints

FALL_NOTES = 4
"""Notes that a falling run has at least."""
FALL = 7
"""Semitones that it falls at least: a fifth."""


@dataclass(frozen=True)
class LineRule:
    """A rule over the line: its ``name``, what it ``finds`` in the columns, its effect.

    ``nothing`` makes of what it finds what is found where the rule is left out.
    """

    name: str
    finds: Callable[[Columns], NDArray[Any]]
    nothing: Callable[[NDArray[Any]], NDArray[Any]]
    effect: str


def descending_runs(c: Columns) -> Ints:
    """Rows of (first, last) note: four or more falling in one line, a fifth or more in all.

    No rule gives a note inside one a stress: each is reached from above, in its phrase.
    """
    falls = (c.goes < 0) & ~c.author_ends
    first = np.flatnonzero(falls & ~before(falls))
    last = np.flatnonzero(before(falls) & ~falls)
    long = (last - first + 1 >= FALL_NOTES) & (c.pitch[first] - c.pitch[last] >= FALL)
    return np.stack([first[long], last[long]], axis=1)


def flowing(c: Columns) -> Bools:
    """Off-beat eighths that another note of the line touches, before or after."""
    return c.off_beat & c.is_eighth & (c.touches_next | before(c.touches_next))


def slurred_on(c: Columns) -> Bools:
    """Off-beat eighths slurred into the on-beat that follows.

    A note cannot be slurred into its own repetition.
    """
    to_beat: Bools = after(c.on_beat) & c.touches_next & (c.goes != 0)
    return c.off_beat & c.is_eighth & to_beat


def repeated(c: Columns) -> Bools:
    """Notes whose pitch comes again at once in the line, not under a slur of the author's."""
    again: Bools = after(c.pitch, -1) == c.pitch
    return again & c.goes_on & ~c.author_ends & ~c.under_author_slur


def peaks(c: Columns) -> Ints:
    """For each phrase, the note toward which it rises, -1 where there is none."""
    return c.phrase_peaks


def pickups(c: Columns) -> Ints:
    """For each phrase, how many notes lead to its downbeat.

    Those that start before its first bar line, where the phrase goes on over that line and
    a note begins or sounds there; a note that anticipates the downbeat is no pickup itself,
    and notes that fill more than three quarters of a bar are a bar of their own.
    """
    first, last = c.phrase_starts, c.phrase_starts + c.phrase_sizes - 1
    downbeats = np.array([b.onset for b in c.melody.bars if not b.offset], dtype=np.int64)
    following = np.searchsorted(downbeats, c.onset[first])
    line = np.append(downbeats, np.iinfo(np.int64).max)[following]
    at_line = np.searchsorted(c.onset, line, "right") - 1
    sounds = c.onset[at_line] + c.length[at_line] > line
    lengths = np.array([b.meter.bar_length for b in c.melody.bars], dtype=np.int64)
    short = 4 * (line - c.onset[first]) <= 3 * lengths[c.melody.bar_index[first]]
    leads = sounds & (at_line <= last) & (at_line > first) & short
    return np.where(leads, at_line - first, 0)


def syncopated_links(c: Columns) -> Ints:
    """Rows of (preparation, arrival) in off-beat quarters back to back."""
    first = np.flatnonzero(leads_syncopation(c))
    return np.stack([first, first + 1], axis=1)


def parted_links(c: Columns) -> Ints:
    """Rows of (preparation, arrival): off-beat quarters or longer, parted by an eighth.

    The eighth between them is a rest, or one note on the beat.
    """
    held = c.off_beat & (c.length >= QUARTER)
    over_rest = held & (c.rest == EIGHTH) & after(held)
    between = c.on_beat & c.is_eighth & (c.rest == 0)
    over_note = held & (c.rest == 0) & after(between) & after(after(held))
    prepares = np.flatnonzero(over_rest | over_note)
    return np.stack([prepares, prepares + np.where(over_note[prepares], 2, 1)], axis=1)


def _no_rows(rows: NDArray[Any]) -> NDArray[Any]:
    return rows[:0]


def _no_peak(peaks: NDArray[Any]) -> NDArray[Any]:
    return np.full_like(peaks, -1)


LINE_RULES: tuple[LineRule, ...] = (
    LineRule(
        "descending-run",
        descending_runs,
        _no_rows,
        "decrescendo from the first note to the last",
    ),
    LineRule(
        "line-flow",
        flowing,
        np.zeros_like,
        "off-beats a little stronger, tongued, and slurred into the beat that follows",
    ),
    LineRule(
        "repeated-note",
        repeated,
        np.zeros_like,
        "the first is cut a little short so that the second speaks",
    ),
    LineRule("phrase-arch", peaks, _no_peak, "rises gently toward its peak, relaxes after it"),
    LineRule("pickup", pickups, np.zeros_like, "a little lighter, growing into the downbeat"),
)


def found(c: Columns, left_out: Collection[str]) -> dict[str, NDArray[Any]]:
    """What each rule over the line finds, by its name."""
    finds = ((rule, rule.finds(c)) for rule in LINE_RULES)
    return {
        rule.name: rule.nothing(what) if rule.name in left_out else what for rule, what in finds
    }
