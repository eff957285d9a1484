"""What the phrase as a whole makes of the marks: statements alike, a budget, no contradiction.

Each rule sees a note and its neighbours; here the marks are weighed against each other.
**Weights** are stress and tenuto. Arrivals, phrase ends and the author's marks are never
changed. Each change keeps its cause, which ``explaining`` puts into a sentence.

Common practice among jazz wind players; no published source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from phrasing.marking import phrases
from phrasing.marking.columns import EIGHTH, Columns, after, before
from phrasing.marking.lines import WEDGE
from phrasing.marking.marking import AUTHOR, NO_RULE, Cause
from phrasing.marking.rules import RULES, inside_enclosure, statement, target
from phrasing.score.marks import CODE, MARKS, UNMARKED, WEIGHTS
from phrasing.score.melody import Bools, Ints

CONTOUR = np.array([not rule.arrives for rule in RULES])
BAR = 4
"""Beats to which a style's budget of weights is counted."""
FIRST = -1000
"""An order before that of any note."""
REPEATS = 3
"""Notes of one pitch from which a repetition has a direction."""


@dataclass(frozen=True, eq=False)
class Verdict:
    """Columns with one entry a note: the ``mark`` (its code) and the ``rule`` it is from.

    ``cause`` is a ``Cause``, and ``model`` the index of the note that it has to do with.
    """

    mark: Ints
    rule: Ints
    cause: Ints
    model: Ints

    def plain(self, where: Bools, cause: Cause, model: Ints | None = None) -> Verdict:
        """The same with these notes left plain, for this cause."""
        return Verdict(
            np.where(where, UNMARKED, self.mark),
            np.where(where, NO_RULE, self.rule),
            np.where(where, cause, self.cause),
            self.model if model is None else np.where(where, model, self.model),
        )


def balanced(c: Columns, verdict: Verdict, runs: Ints) -> Verdict:
    """The marks as the phrase has them; ``runs``: the rows (first, last) that get softer."""
    verdict = _unweighted_before_approach(c, verdict)
    verdict = _statements_alike(c, verdict)
    verdict = _soft_in_runs(c, verdict, runs)
    return _rationed(c, verdict)


def _is_weight(c: Columns, verdict: Verdict) -> Bools:
    """Stress or tenuto by the rules on an eighth or shorter."""
    return np.isin(verdict.mark, WEIGHTS) & (c.length <= EIGHTH)


def _unweighted_before_approach(c: Columns, verdict: Verdict) -> Verdict:
    """The notes that enclose a target with the last one of them have no weight."""
    last = c.find(inside_enclosure)
    weighs = _is_weight(c, verdict) & (verdict.rule != AUTHOR)
    given = np.append(verdict.rule, NO_RULE)[last] == ENCLOSURE
    return verdict.plain(weighs & (last >= 0) & given, Cause.APPROACH, last)


ENCLOSURE = next(i for i, rule in enumerate(RULES) if rule.name == "enclosure")


# Statements alike


def _statements_alike(c: Columns, verdict: Verdict) -> Verdict:
    """Statements of a figure with the contour marks that the first or half of them ask for."""
    free = np.flatnonzero(_may_change(c, verdict))
    _, group, size = np.unique(c.find(statement)[free], return_inverse=True, return_counts=True)
    asked = _asked(verdict)[free]
    wanted = _wanted(group, size, asked)[group]
    changed = wanted != asked
    rule, mark = np.divmod(wanted - 1, len(MARKS))
    verdict = replace(verdict, mark=verdict.mark.copy(), rule=verdict.rule.copy())
    notes = free[changed]
    verdict.mark[notes] = np.where(wanted > 0, mark, UNMARKED)[changed]
    verdict.rule[notes] = np.where(wanted > 0, rule, NO_RULE)[changed]
    model = _first_that(group, asked == wanted, free)[group]
    cause, models = verdict.cause.copy(), verdict.model.copy()
    cause[notes], models[notes] = Cause.ALIKE, model[changed]
    return replace(verdict, cause=cause, model=models)


def _may_change(c: Columns, verdict: Verdict) -> Bools:
    """Notes of a statement that have a contour mark or none, and do not end a phrase."""
    contour = np.append(CONTOUR, False)[verdict.rule] | (verdict.rule == NO_RULE)
    stated: Bools = c.find(statement) >= 0
    return stated & contour & (verdict.rule != AUTHOR) & ~c.find(phrases.ends_phrase)


def _asked(verdict: Verdict) -> Ints:
    """One number for rule and mark, the strongest rule first; 0 for none."""
    return np.where(verdict.rule >= 0, verdict.rule * len(MARKS) + verdict.mark + 1, 0)


def _wanted(group: Ints, size: Ints, asked: Ints) -> Ints:
    """For each group, the strongest that its first note or half of its notes ask for."""
    most = len(RULES) * len(MARKS) + 1
    pair, votes = np.unique(group * most + asked, return_counts=True)
    of, what = np.divmod(pair, most)
    _, first = np.unique(group, return_index=True)
    heard = (what > 0) & ((2 * votes >= size[of]) | (what == asked[first][of]))
    wanted = np.full(len(size), most)
    np.minimum.at(wanted, of[heard], what[heard])
    return np.where(wanted == most, 0, wanted)


def _first_that(group: Ints, holds: Bools, notes: Ints) -> Ints:
    """For each group, the first of its notes of which this holds, or else its first."""
    count = int(group.max(initial=-1)) + 1
    found = np.full(count, np.iinfo(np.int64).max)
    np.minimum.at(found, group[holds], notes[holds])
    first = np.full(count, np.iinfo(np.int64).max)
    np.minimum.at(first, group, notes)
    return np.minimum(np.where(found == np.iinfo(np.int64).max, first, found), 2**62)


# No contradiction


def _soft_in_runs(c: Columns, verdict: Verdict, runs: Ints) -> Verdict:
    """No stress inside a run that gets softer, but on its first note."""
    inside = covered(runs + np.array([1, 0]), len(c))
    stress = (verdict.mark == CODE["stress"]) & (verdict.rule != AUTHOR)
    return verdict.plain(inside & stress, Cause.SOFTER)


def covered(rows: Ints, count: int) -> Bools:
    """Which of ``count`` notes lie in rows of (first, last), both inside.

    >>> covered(np.array([[1, 2]]), 4).tolist()
    [False, True, True, False]
    """
    change = np.zeros(count + 1, dtype=np.int64)
    np.add.at(change, rows[:, 0], 1)
    np.add.at(change, rows[:, 1] + 1, -1)
    inside: Bools = np.cumsum(change[:-1]) > 0
    return inside


def wedges(runs: Ints, mark: Ints) -> Ints:
    """The runs as far as they get softer: none goes on over a tenuto or a stress in it.

    Wedges of fewer than three notes are left out.
    """
    weighs = np.append(np.flatnonzero(np.isin(mark, WEIGHTS)), len(mark))
    following = weighs[np.searchsorted(weighs, runs[:, 0], "right")]
    last = np.minimum(runs[:, 1], following - 1)
    kept = last - runs[:, 0] + 1 >= WEDGE
    return np.stack([runs[kept, 0], last[kept]], axis=1)


# The budget


def _rationed(c: Columns, verdict: Verdict) -> Verdict:
    """No two neighbours with a weight, and no more in a bar than the style bears.

    What leads to a target goes first, then the higher note; the author's marks all stay.
    Places of statements yield together.
    """
    order = _order(c, verdict)
    weighs = _is_weight(c, verdict)
    kept = _together(c, weighs, _apart(weighs, order))
    beside = np.where(after(kept), 1, -1)
    verdict = verdict.plain(weighs & ~kept, Cause.BESIDE, np.arange(len(c)) + beside)
    within = _together(c, kept, _within_budget(c, kept, order))
    return verdict.plain(kept & ~within, Cause.ENOUGH)


def _order(c: Columns, verdict: Verdict) -> Ints:
    """Which weights go first: the lower, the sooner; a figure's place as its best statement."""
    leads = c.goes_on & after(c.find(target))
    order = np.where(leads, 0, 128) - c.pitch
    place = c.find(statement)
    stated = np.flatnonzero(place >= 0)
    best = np.full(int(place.max(initial=-1)) + 1, -FIRST)
    np.minimum.at(best, place[stated], order[stated])
    order[stated] = best[place[stated]]
    return np.where(verdict.rule == AUTHOR, FIRST, order)


def _apart(weighs: Bools, order: Ints) -> Bools:
    """Of weights, those that keep it beside each other, over a rest too.

    The best of a chain is settled first, so that it silences its neighbours only.
    """
    keeps = weighs.copy()
    while True:
        pairs = np.flatnonzero(keeps & after(keeps))
        pairs = pairs[(order[pairs] != FIRST) | (order[pairs + 1] != FIRST)]
        if not len(pairs):
            return keeps
        second = order[pairs + 1] < order[pairs]
        better, weaker = pairs + second, pairs + ~second
        unbeaten = ~np.isin(better, weaker)
        keeps[weaker[unbeaten]] = False


def _within_budget(c: Columns, weighs: Bools, order: Ints) -> Bools:
    """Of weights, the first in each bar, as many as it bears."""
    notes = np.flatnonzero(weighs)
    bar = c.melody.bar_index[notes]
    sorted_by = np.lexsort((notes, order[notes], bar))
    rank = np.arange(len(notes)) - np.searchsorted(bar[sorted_by], bar[sorted_by])
    kept = weighs.copy()
    share = c.style.weights_at(c.melody.tempos.tempos[0])
    most = np.maximum(1, share * c.bar_beats // BAR)[bar[sorted_by]]
    over = (rank >= most) & (order[notes[sorted_by]] != FIRST)
    kept[notes[sorted_by[over]]] = False
    return kept


def _together(c: Columns, before_: Bools, after_: Bools) -> Bools:
    """What is kept, where all statements of a place that had it keep it or none does."""
    place = c.find(statement)
    lost = np.flatnonzero(before_ & ~after_ & (place >= 0))
    return after_ & ~np.isin(place, np.unique(place[lost])) if len(lost) else after_


# Repeats have a direction


def growing(c: Columns, mark: Ints) -> Ints:
    """Rows of (first, last) of three or more notes of one pitch and mark in a phrase."""
    ends = c.find(phrases.ends_phrase)
    same = (after(c.pitch, -1) == c.pitch) & (after(mark, -9) == mark) & ~ends
    first = np.flatnonzero(same & ~before(same))
    last = np.flatnonzero(before(same) & ~same)
    long = last - first + 1 >= REPEATS
    return np.stack([first[long], last[long]], axis=1)
