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

from phrasing.marking.columns import EIGHTH, LEAP, QUARTER, STEP, Columns, after, before
from phrasing.score.melody import Bools, Ints

Where = Callable[[Columns], Bools]


@dataclass(frozen=True)
class Variant:
    """Another mark that a rule gives ``where`` this holds as well, for its own reason."""

    mark: str
    where: Where
    reason: str


@dataclass(frozen=True)
class Rule:
    """One rule: its ``name``, its ``mark`` (or its variant's), where it ``applies``, why."""

    name: str
    mark: str
    applies: Where
    reason: str
    variant: Variant | None = None


# Value and position


def off_beat_quarter(c: Columns) -> Bools:
    """A quarter that starts off the beat."""
    return c.off_beat & c.is_quarter


def leads_syncopation(c: Columns) -> Bools:
    """An off-beat quarter with another right behind it, not slurred to it by the author."""
    quarter = off_beat_quarter(c)
    to_another: Bools = after(quarter) & (c.rest == 0)
    return quarter & to_another & ~c.author_slurred


def ends_syncopation(c: Columns) -> Bools:
    """The last of off-beat quarters back to back."""
    return before(leads_syncopation(c)) & ~leads_syncopation(c)


def syncopated_pair(c: Columns) -> Bools:
    """One of two or more off-beat quarters back to back."""
    return leads_syncopation(c) | ends_syncopation(c)


def off_beat_long(c: Columns) -> Bools:
    """A note longer than a quarter that starts off the beat."""
    longer: Bools = c.length > QUARTER
    return c.off_beat & longer


def on_beat_quarter(c: Columns) -> Bools:
    """A quarter on the beat that the author does not slur into the next note.

    Not the long note of a shuffle: a quarter and an eighth that fill a compound beat are the
    swung pair of that meter, and are played as eighths are.
    """
    return c.on_beat & c.is_quarter & ~c.author_slurred & ~c.is_shuffle_long


def clipped_eighth(c: Columns) -> Bools:
    """An off-beat eighth with silence after it."""
    return c.off_beat & c.is_eighth & c.ends_line


def short_eighth(c: Columns) -> Bools:
    """An on-beat eighth with silence after it."""
    return c.on_beat & c.is_eighth & c.ends_line


def arrival(c: Columns) -> Bools:
    """A note that value and position mark, whichever rules are left out."""
    return (
        off_beat_quarter(c)
        | off_beat_long(c)
        | on_beat_quarter(c)
        | clipped_eighth(c)
        | short_eighth(c)
    )


# Contour


def enclosure(c: Columns) -> Bools:
    """The second of two notes that close in on a beat by step, one from each side."""
    first_side = c.interval_in + c.interval_out
    by_step: Bools = (np.abs(c.interval_out) <= STEP) & (np.abs(first_side) <= STEP)
    both_sides: Bools = first_side * c.interval_out < 0
    return by_step & both_sides & after(c.on_beat & (c.length >= EIGHTH))


def dip(c: Columns) -> Bools:
    """A short note that a rising line drops to by more than a step, and rises over again."""
    rising: Bools = (before(c.interval_in) > 0) & (c.interval_in + c.interval_out > 0)
    return rising & (c.interval_in < -STEP) & c.is_short


def turn(c: Columns) -> Bools:
    """The top between a rise and a fall, one of which goes on for two intervals or more."""
    top: Bools = (c.interval_in > 0) & (c.interval_out < 0) & ~after(dip(c))
    long: Bools = (before(c.interval_in) > 0) | (after(c.interval_out) < 0)
    return top & long


def steps_to_arrival(c: Columns) -> Bools:
    """Goes by step to a note that value and position mark."""
    by_step: Bools = (c.interval_out != 0) & (np.abs(c.interval_out) <= STEP)
    return by_step & after(arrival(c))


def leap_up(c: Columns) -> Bools:
    """A note that the line leaps up to."""
    leaps: Bools = c.interval_in >= LEAP
    return leaps


def phrase_peak(c: Columns) -> Bools:
    """The one highest note of a phrase that is long enough to have a peak."""
    peak = np.zeros(len(c), dtype=bool)
    peak[c.phrase_peaks[c.phrase_peaks >= 0]] = True
    return peak


RULES: tuple[Rule, ...] = (
    Rule(
        "syncopated-pair",
        "marcato",
        syncopated_pair,
        "this off-beat quarter runs straight into another one, so it is hit and let go",
        Variant(
            "accent",
            ends_syncopation,
            "it is the last of the off-beat quarters back to back, the one they push toward",
        ),
    ),
    Rule(
        "off-beat-quarter",
        "accent",
        off_beat_quarter,
        "a quarter that starts off the beat is leaned on and held",
    ),
    Rule(
        "off-beat-long",
        "accent",
        off_beat_long,
        "it starts off the beat and lasts {length}: leaned on, and held to its end",
    ),
    Rule(
        "on-beat-quarter",
        "marcato",
        on_beat_quarter,
        "a quarter on the beat is struck and let go",
    ),
    Rule(
        "clipped-eighth",
        "clipped",
        clipped_eighth,
        "it is an off-beat eighth with {silence} after it: the line is cut off here",
    ),
    Rule(
        "short-eighth",
        "staccato",
        short_eighth,
        "it is an eighth on the beat with {silence} after it",
    ),
    Rule(
        "enclosure",
        "tenuto",
        enclosure,
        "{before} and {this} close in on {after} from both sides: lean here, resolve there",
    ),
    Rule(
        "turn",
        "stress",
        turn,
        "the line turns here: up {interval_in} to this top, then down {interval_out}",
        Variant(
            "tenuto",
            steps_to_arrival,
            "the line turns at this top, up {interval_in}, and steps down to the {arrival}",
        ),
    ),
    Rule("dip", "ghost", dip, "the rising line drops {interval_in} here and goes on up"),
    Rule("leap-up", "stress", leap_up, "the line leaps up {interval_in} to it"),
    Rule("phrase-peak", "stress", phrase_peak, "it is the one highest note of its phrase"),
)

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
    falls = (c.interval_out < 0) & ~c.author_ends
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
    to_beat: Bools = after(c.on_beat) & c.touches_next & (c.interval_out != 0)
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
