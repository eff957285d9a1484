"""The rules that mark a note, strongest first: where each applies, its mark, and why.

Common practice among jazz wind players; no published source. A rule is a function from
``Columns`` to a mask with one entry a note. Its reason is a sentence with blanks that
``explaining`` fills in for a note: {value} is its written value with its article, {manner} how
its mark is played, {interval_in} and {interval_out} are the intervals by which the line
reaches and leaves it, {approach} the notes that lead to a target with it, {target} that note,
{silence} what follows a note that ends a line, {arrival} the mark of the next note.

To add a rule, write its function and its row in ``RULES`` where it belongs in strength. What a
style makes of it is in that style's row (see ``style``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from phrasing.marking import phrases
from phrasing.marking.columns import EIGHTH, LEAP, QUARTER, STEP, Columns, after, before, moved
from phrasing.score.marks import UNMARKED, code_of
from phrasing.score.meters import Bools, Ints
from phrasing.style import Style

Where = Callable[[Columns], Bools]


@dataclass(frozen=True)
class Case:
    """A case of a rule with a mark and a reason of its own, ``where`` this holds as well."""

    name: str
    mark: str
    where: Where
    reason: str


@dataclass(frozen=True)
class Rule:
    """One rule: its ``name``, its ``mark`` (or a case's), where it ``applies``, and why.

    ``arrives``: what it marks is an arrival, by value and position. ``also``: what it says
    of a note that a stronger rule marks, "" where that says it all.
    """

    name: str
    mark: str
    applies: Where
    reason: str
    arrives: bool = False
    also: str = ""
    cases: tuple[Case, ...] = ()

    def marks(self, c: Columns) -> Ints:
        """For each note the mark (its code) that the rule gives in the columns' style."""
        given = np.full(len(c), code_of(mark_in(c.style, self.name, self.mark)))
        for case in self.cases:
            key = f"{self.name}/{case.name}"
            given[c.find(case.where)] = code_of(mark_in(c.style, key, case.mark))
        return np.where(c.find(self.applies), given, UNMARKED)


def mark_in(style: Style, rule: str, mark: str) -> str | None:
    """The mark that a rule, or a case ("rule/case"), gives in a style."""
    return style.marks.get(rule, mark)


# Value and position


def off_beat_quarter(c: Columns) -> Bools:
    """A quarter that starts off the beat."""
    return c.off_beat & c.is_quarter


def leads_syncopation(c: Columns) -> Bools:
    """An off-beat quarter that runs into an off-beat note of its length or more.

    Not one that the author slurs into it.
    """
    on: Bools = after(c.off_beat & (c.length >= QUARTER)) & (c.rest == 0)
    return off_beat_quarter(c) & on & ~c.author_slurred


def ends_syncopation(c: Columns) -> Bools:
    """The last of off-beat notes back to back."""
    return before(leads_syncopation(c)) & ~leads_syncopation(c)


def syncopated_pair(c: Columns) -> Bools:
    """One of two or more off-beat quarters back to back, the last of which may be longer."""
    return leads_syncopation(c) | ends_syncopation(c)


def off_beat_long(c: Columns) -> Bools:
    """A note longer than a quarter that starts off the beat."""
    longer: Bools = c.length > QUARTER
    return c.off_beat & longer


def on_beat_quarter(c: Columns) -> Bools:
    """A quarter on the beat that the author does not slur into the next note.

    Not the long note of a shuffle pair in a compound meter.
    """
    return c.on_beat & c.is_quarter & ~c.author_slurred & ~c.is_shuffle_long


def leads_to_downbeat(c: Columns) -> Bools:
    """A note before the first downbeat of its phrase that leads to it."""
    return c.find(phrases.is_pickup)


def before_rest(c: Columns) -> Bools:
    """A note with a rest of an eighth or more behind it, or the end."""
    return c.ends_line


def clipped_eighth(c: Columns) -> Bools:
    """An off-beat eighth with silence after it."""
    return c.off_beat & c.is_eighth & c.ends_line


def short_eighth(c: Columns) -> Bools:
    """An on-beat eighth with silence after it."""
    return c.on_beat & c.is_eighth & c.ends_line


def arrival(c: Columns) -> Bools:
    """A note that value and position mark in this style, whichever rules are left out."""
    marked = [c.find(rule.marks) != UNMARKED for rule in RULES if rule.arrives]
    return np.logical_or.reduce(marked)


# Contour


def target(c: Columns) -> Bools:
    """A note that the line goes to."""
    return phrases.targets(c, c.find(arrival))


def statement(c: Columns) -> Ints:
    """The place of a note in the statements of a figure; -1 for none."""
    return phrases.statements(c, c.find(target))


def enclosure(c: Columns) -> Bools:
    """The last of two to four notes around a target on the beat that follows them."""
    return c.find(enclosing) > 0


def enclosing(c: Columns) -> Ints:
    """For the last note before a target, how many notes enclose it: two to four, 0 for none.

    They stand directly before it, shorter than a quarter, within a whole step of it, none on
    its pitch, and at least one above and one below.
    """
    to = c.pitch + c.interval_out
    aimed = c.goes_on & after(c.find(target) & c.on_beat & (c.length >= EIGHTH))
    count = np.zeros(len(c), dtype=np.int64)
    near, above, below = aimed, np.zeros(len(c), bool), np.zeros(len(c), bool)
    pitch, joined = c.pitch, c.is_short
    for size in range(1, 5):
        away = pitch - to
        near = near & joined & (away != 0) & (np.abs(away) <= STEP)
        above, below = above | (near & (away > 0)), below | (near & (away < 0))
        count[near & above & below] = size
        joined = moved(c.goes_on & c.is_short, size)
        pitch = moved(c.pitch, size)
    return count


def inside_enclosure(c: Columns) -> Ints:
    """For a note of an enclosure that is not its last, the index of that; -1 elsewhere."""
    size = c.find(enclosing)
    last = np.full(len(c), -1, dtype=np.int64)
    for back in range(1, 4):
        ends = np.flatnonzero(size > back)
        last[ends - back] = ends
    return last


def dip(c: Columns) -> Bools:
    """A short low note inside a rising line, or one that returns below an upper line."""
    return c.find(rising_dip) | c.find(pedal)


def rising_dip(c: Columns) -> Bools:
    """A short note more than a step below both neighbours, in a line that otherwise rises.

    Not in a pattern that goes up and down all the time.
    """
    rising: Bools = (before(c.interval_in) > 0) & (c.interval_in + c.interval_out > 0)
    low: Bools = (c.interval_in < -STEP) & (c.interval_out > STEP) & c.is_short
    return rising & low & ~c.find(phrases.is_pattern)


def pedal(c: Columns) -> Bools:
    """A short off-beat note that returns three times or more between higher notes."""
    low: Bools = (c.interval_in < 0) & (c.interval_out > 0) & c.off_beat & c.is_short
    again = low & moved(low, 2) & (moved(c.pitch, 2) == c.pitch)
    thrice = again & moved(again, 2)
    return thrice | moved(thrice, -2) | moved(thrice, -4)


def turn(c: Columns) -> Bools:
    """The top between a rise and a fall, one of which goes on for two intervals or more."""
    top: Bools = (c.interval_in > 0) & (c.interval_out < 0) & ~after(c.find(dip))
    long: Bools = (before(c.interval_in) > 0) | (after(c.interval_out) < 0)
    return top & long


def steps_to_arrival(c: Columns) -> Bools:
    """Goes by step to a note that value and position mark."""
    by_step: Bools = (c.interval_out != 0) & (np.abs(c.interval_out) <= STEP)
    return by_step & after(c.find(arrival))


def leap_up(c: Columns) -> Bools:
    """A note that the line leaps up to, heard past a dip before it."""
    from_dip = before(c.find(dip))
    rises = c.interval_in + np.where(from_dip, before(c.interval_in), 0)
    leaps: Bools = rises >= LEAP
    return leaps


def phrase_peak(c: Columns) -> Bools:
    """The one highest note of a phrase that is long enough to have a peak."""
    peak = np.zeros(len(c), dtype=bool)
    peaks = c.find(phrases.phrase_peaks)
    peak[peaks[peaks >= 0]] = True
    return peak


RULES: tuple[Rule, ...] = (
    Rule(
        "syncopated-pair",
        "marcato",
        syncopated_pair,
        "{value} off the beat that runs straight into another note off the beat is usually "
        "{manner}",
        arrives=True,
        cases=(
            Case(
                "last",
                "accent",
                ends_syncopation,
                "it is the last of the off-beat notes back to back, and they lead to it",
            ),
        ),
    ),
    Rule(
        "off-beat-quarter",
        "accent",
        off_beat_quarter,
        "{value} off the beat is usually {manner}",
        arrives=True,
    ),
    Rule(
        "off-beat-long",
        "accent",
        off_beat_long,
        "a long note off the beat, here {value}, is usually {manner}",
        arrives=True,
    ),
    Rule(
        "on-beat-quarter",
        "marcato",
        on_beat_quarter,
        "{value} on the beat is usually {manner}",
        arrives=True,
        cases=(
            Case(
                "before-rest",
                "marcato",
                before_rest,
                "{value} on the beat with {silence} after it is usually {manner}",
            ),
            Case(
                "pickup",
                "staccato",
                leads_to_downbeat,
                "{value} that leads to the first downbeat of a phrase is usually {manner}",
            ),
        ),
    ),
    Rule(
        "clipped-eighth",
        "clipped",
        clipped_eighth,
        "{value} off the beat with {silence} after it is usually {manner}",
        arrives=True,
    ),
    Rule(
        "short-eighth",
        "staccato",
        short_eighth,
        "{value} on the beat with {silence} after it is usually {manner}",
        arrives=True,
    ),
    Rule(
        "enclosure",
        "tenuto",
        enclosure,
        "{approach} close in on {target} from both sides: a little weight on the approach, "
        "then it resolves",
        also="the last note of an approach from both sides",
    ),
    Rule(
        "turn",
        "stress",
        turn,
        "the line turns here: up {interval_in} to this top, then down {interval_out}",
        also="where the line turns",
        cases=(
            Case(
                "to-arrival",
                "tenuto",
                steps_to_arrival,
                "the line turns at this top, up {interval_in}, and steps down to the {arrival}",
            ),
        ),
    ),
    Rule(
        "dip",
        "ghost",
        dip,
        "the rising line drops {interval_in} here and goes on up",
        also="a dip in the line",
        cases=(
            Case(
                "pedal",
                "ghost",
                pedal,
                "this low note keeps returning below an upper line, which is the one to hear",
            ),
        ),
    ),
    Rule(
        "leap-up",
        "stress",
        leap_up,
        "the line leaps up {interval_in} to it",
        also="reached by a leap",
    ),
    Rule(
        "phrase-peak",
        "stress",
        phrase_peak,
        "it is the highest note of its phrase",
        also="the top of the phrase",
    ),
)
