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

from phrasing.marking import phrases
from phrasing.marking.columns import EIGHTH, QUARTER, Columns, after, before
from phrasing.marking.rules import arrival, leads_syncopation
from phrasing.score.marks import DETACHED, STRONG
from phrasing.score.meters import Bools, Ints

FALL_NOTES = 4
"""Notes that a falling run has at least, its arrival among them."""
FALL = 7
"""Semitones that it falls at least: a fifth."""
WEDGE = 3
"""Notes under the shortest wedge."""


@dataclass(frozen=True)
class LineRule:
    """A rule over the line: its ``name``, what it ``finds`` in the columns, its effect.

    ``nothing`` makes of what it finds what is found where the rule is left out. No rule over
    the line makes an arrival.
    """

    name: str
    finds: Callable[[Columns], NDArray[Any]]
    nothing: Callable[[NDArray[Any]], NDArray[Any]]
    effect: str


def descending_runs(c: Columns) -> Ints:
    """Rows of (first, last) note under a decrescendo.

    Four or more notes shorter than a quarter that fall in one direction, a fifth or more in
    all; the last may be longer. An arrival at the end is led to, and is not under the wedge.
    """
    falls = (c.interval_out < 0) & ~c.author_ends & c.is_short
    first = np.flatnonzero(falls & ~before(falls))
    last = np.flatnonzero(before(falls) & ~falls)
    long = (last - first + 1 >= FALL_NOTES) & (c.pitch[first] - c.pitch[last] >= FALL)
    first, last = first[long], last[long]
    led_to = (c.find(arrival) | ~c.is_short)[last]
    return np.stack([first, last - led_to], axis=1)


def flowing(c: Columns) -> Bools:
    """Off-beat eighths that another note of the line touches, before or after."""
    lifted = c.off_beat & c.is_eighth & (c.touches_next | before(c.touches_next))
    return lifted & (c.style.slurs == "into the beat")


def slurred(c: Columns, mark: Ints) -> Bools:
    """Notes that the style slurs into the next, by their marks (codes).

    Off-beat eighths into the beat, or all notes of a phrase, or none. Nothing is slurred into
    its own repetition, nor from a short mark, nor into a note that wants a hard tongue.
    """
    on = c.touches_next & (c.interval_out != 0) & ~c.find(phrases.ends_phrase)
    if c.style.slurs == "none":
        on &= False
    elif c.style.slurs == "into the beat":
        on &= c.off_beat & c.is_eighth & after(c.on_beat)
    return on & ~after(np.isin(mark, STRONG), 0)


def joined(c: Columns, mark: Ints, flow: bool) -> Bools:
    """What is slurred into the next note: as the author wrote, elsewhere as the style does."""
    own = slurred(c, mark) if flow else np.zeros(len(c), dtype=bool)
    return np.where(c.near_author_slur, c.author_slurred, own) & ~np.isin(mark, DETACHED)


def repeated(c: Columns) -> Bools:
    """Notes whose pitch comes again at once in the line, not under a slur of the author's."""
    again: Bools = after(c.pitch, -1) == c.pitch
    return again & c.goes_on & ~c.author_ends & ~c.under_author_slur


def tongued(c: Columns) -> Bools:
    """Notes that touch another pitch, so that a tongue between them leaves a gap."""
    moves: Bools = c.interval_out != 0
    return moves & c.touches_next


def syncopated_links(c: Columns) -> Ints:
    """Rows of (preparation, arrival) in off-beat notes back to back."""
    first = np.flatnonzero(c.find(leads_syncopation))
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
    LineRule("descending-run", descending_runs, _no_rows, "get softer down this run"),
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
        "the first is stopped just before the second, so that the second speaks",
    ),
    LineRule(
        "tongued-gap",
        tongued,
        np.zeros_like,
        "a tongued note is parted from the next, the more the wider the interval",
    ),
    LineRule(
        "phrase-arch",
        phrases.phrase_peaks,
        _no_peak,
        "rises gently toward its peak, relaxes after it",
    ),
    LineRule(
        "pickup", phrases.pickups, np.zeros_like, "a little lighter, growing into the downbeat"
    ),
)


def found(c: Columns, left_out: Collection[str]) -> dict[str, NDArray[Any]]:
    """What each rule over the line finds, by its name."""
    finds = ((rule, c.find(rule.finds)) for rule in LINE_RULES)
    return {
        rule.name: rule.nothing(what) if rule.name in left_out else what for rule, what in finds
    }
