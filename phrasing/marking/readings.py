"""Where schooled players differ: a second reading, with what it gains and loses.

The first reading is what the rules say. Common practice; no published source, but for what was
counted in recorded solos (Weimar Jazz Database, ODbL; counted by us): of two off-beat quarters
back to back the second is the longer in 65 of 100; a quarter on beat 1 or 3 before a step is
detached in 29 of 100.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from phrasing.marking.columns import EIGHTH, STEP, Columns, after, before
from phrasing.marking.rules import RULES, leads_syncopation, on_beat_quarter
from phrasing.score.marks import CODE, UNMARKED, code_of
from phrasing.score.meters import Bools, Ints

NONE = -1
"""Stands in the ``reading`` column where players agree."""
RULE = {rule.name: index for index, rule in enumerate(RULES)}


@dataclass(frozen=True)
class Reading:
    """A choice between two readings.

    ``where``: from columns, marks and rules (codes) to the notes that have another mark in
    the second reading, and those marks. ``name``: what the second one does; ``trade_off``:
    what each of them gains, in one sentence.
    """

    name: str
    where: Callable[[Columns, Ints, Ints], tuple[Bools, Ints]]
    trade_off: str


def _given(mark: Ints, where: Bools, name: str | None) -> tuple[Bools, Ints]:
    return where, np.full_like(mark, code_of(name))


def _both_held(c: Columns, mark: Ints, rule: Ints) -> tuple[Bools, Ints]:
    """The first of two off-beat quarters held, too."""
    short = (rule == RULE["syncopated-pair"]) & (mark == CODE["marcato"])
    return _given(mark, short & c.find(leads_syncopation), "accent")


def _before_the_top(c: Columns, mark: Ints, rule: Ints) -> tuple[Bools, Ints]:
    """The weight on the note before a top that the line turns at, and none on the top."""
    top = (rule == RULE["turn"]) & (c.length <= EIGHTH) & (c.interval_in > 0)
    free = before((mark == UNMARKED) & (c.length <= EIGHTH) & c.goes_on)
    alone = before(before(~np.isin(mark, (CODE["stress"], CODE["tenuto"])), 1), 1)
    moves = top & free & alone
    return moves | after(moves), np.where(after(moves), CODE["stress"], UNMARKED)


def _quarter_held(c: Columns, mark: Ints, rule: Ints) -> tuple[Bools, Ints]:
    """A quarter on beat 1 or 3 that goes on by step, held."""
    short = (rule == RULE["on-beat-quarter"]) & (mark == CODE["marcato"])
    strong = (c.in_bar // c.beat_length) % 2 == 0
    by_step = (c.interval_out != 0) & (np.abs(c.interval_out) <= STEP) & c.touches_next
    return _given(mark, short & strong & by_step & c.find(on_beat_quarter), "tenuto")


READINGS: tuple[Reading, ...] = (
    Reading(
        "both held",
        _both_held,
        "Holding both is smoother and heavier; the first one short gives the second more lift.",
    ),
    Reading(
        "weight before the top",
        _before_the_top,
        "With the weight on the note before it the top is a release; on the top itself it is "
        "a goal.",
    ),
    Reading(
        "quarter held",
        _quarter_held,
        "Held, the quarter leads into the next note; short, it gives the beat more bounce.",
    ),
)


def second_reading(c: Columns, mark: Ints, rule: Ints) -> tuple[Ints, Ints]:
    """For each note, the index of the choice in ``READINGS`` (``NONE`` where players agree)
    and its mark (code) in the second reading."""
    reading, other = np.full_like(mark, NONE), mark.copy()
    for index, choice in enumerate(READINGS):
        where, marks = choice.where(c, mark, rule)
        open_to = where & (reading == NONE)
        reading[open_to], other[open_to] = index, marks[open_to]
    return reading, other


def of_choice(reading: Ints, name: str) -> Ints:
    """The ``reading`` column with one choice alone, by its name; ``NONE`` elsewhere.

    >>> of_choice(np.array([0, 1, -1]), "both held").tolist()
    [0, -1, -1]
    """
    index = [choice.name for choice in READINGS].index(name)
    return np.where(reading == index, reading, NONE)
