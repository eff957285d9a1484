"""The rules, strongest first: where each applies, its mark, and why.

Common practice among jazz wind players; no published source. A rule is a function from
``Columns`` to a mask with one entry a note. Its reason is a sentence with blanks that
``explaining`` fills in for a note: {came} and {goes} are the intervals by which the line
reaches and leaves the note, {before} and {after} its neighbours by name, {length} its written
length, {silence} what follows a note that ends a line, {arrival} the mark of the next note.

To add a rule, write its function and its line in ``RULES`` where it belongs in strength.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from phrasing.marking.columns import EIGHTH, LEAP, QUARTER, STEP, Columns, after, before
from phrasing.tempo import Bools

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
    first_side = c.came + c.goes
    by_step: Bools = (np.abs(c.goes) <= STEP) & (np.abs(first_side) <= STEP)
    both_sides: Bools = first_side * c.goes < 0
    return by_step & both_sides & after(c.on_beat & (c.length >= EIGHTH))


def dip(c: Columns) -> Bools:
    """A short note that a rising line drops to by more than a step, and rises over again."""
    rising: Bools = (before(c.came) > 0) & (c.came + c.goes > 0)
    return rising & (c.came < -STEP) & c.is_short


def turn(c: Columns) -> Bools:
    """The top between a rise and a fall, one of which goes on for two intervals or more."""
    top: Bools = (c.came > 0) & (c.goes < 0) & ~after(dip(c))
    long: Bools = (before(c.came) > 0) | (after(c.goes) < 0)
    return top & long


def steps_to_arrival(c: Columns) -> Bools:
    """Goes by step to a note that value and position mark."""
    by_step: Bools = (c.goes != 0) & (np.abs(c.goes) <= STEP)
    return by_step & after(arrival(c))


def leap_up(c: Columns) -> Bools:
    """A note that the line leaps up to."""
    leaps: Bools = c.came >= LEAP
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
        "the line turns here: up {came} to this top, then down {goes}",
        Variant(
            "tenuto",
            steps_to_arrival,
            "the line turns at this top, up {came}, and steps down to the {arrival}",
        ),
    ),
    Rule("dip", "ghost", dip, "the rising line drops {came} here and goes on up"),
    Rule("leap-up", "stress", leap_up, "the line leaps up {came} to it"),
    Rule("phrase-peak", "stress", phrase_peak, "it is the one highest note of its phrase"),
)
