"""What the phrase as a whole makes of the marks: statements alike, a budget, no contradiction.

Each rule sees a note and its neighbours; here the marks are weighed against each other.
**Weights** are stress and tenuto. Arrivals, phrase ends and the author's marks are never
changed. Each change keeps its cause, which ``explaining`` puts into a sentence.

Common practice among jazz wind players; no published source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from phrasing.feel import Detached
from phrasing.marking import phrases
from phrasing.marking.columns import QUARTER, STEP, Columns, after, before
from phrasing.marking.lines import WEDGE
from phrasing.marking.marking import AUTHOR, NO_RULE, Cause
from phrasing.marking.rules import RULES, inside_enclosure, statement, target
from phrasing.score.marks import CODE, MARKS, UNMARKED, WEIGHTS
from phrasing.score.meters import Bools, Floats, Ints

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

    def copy(self) -> Verdict:
        """Columns of its own, to be changed."""
        return Verdict(self.mark.copy(), self.rule.copy(), self.cause.copy(), self.model.copy())

    def leave_plain(self, notes: Ints, cause: Cause, model: Ints | None = None) -> None:
        """Take the marks of these notes (indices) away, for this cause."""
        self.mark[notes], self.rule[notes], self.cause[notes] = UNMARKED, NO_RULE, cause
        if model is not None:
            self.model[notes] = model


def balanced(c: Columns, by_rules: Verdict, runs: Ints) -> Verdict:
    """The marks as the phrase has them; ``runs``: the rows (first, last) that get softer."""
    verdict = by_rules.copy()
    _unweight_approaches(c, verdict)
    _make_statements_alike(c, verdict)
    _soften_runs(verdict, runs)
    _ration(c, verdict)
    return verdict


def _is_weight(c: Columns, verdict: Verdict) -> Bools:
    """Stress or tenuto, on a quarter or shorter, that does not make an arrival."""
    contour = np.append(CONTOUR, True)[np.maximum(verdict.rule, NO_RULE)]
    weighs: Bools = np.isin(verdict.mark, WEIGHTS) & contour & (c.length <= QUARTER)
    return weighs


def _unweight_approaches(c: Columns, verdict: Verdict) -> None:
    """The notes that enclose a target with the last one of them have no weight."""
    last = c.find(inside_enclosure)
    weighs = _is_weight(c, verdict) & (verdict.rule != AUTHOR) & (last >= 0)
    notes = np.flatnonzero(weighs & (verdict.rule[last] == ENCLOSURE))
    verdict.leave_plain(notes, Cause.APPROACH, last[notes])


ENCLOSURE = next(i for i, rule in enumerate(RULES) if rule.name == "enclosure")


# Statements alike


def _make_statements_alike(c: Columns, verdict: Verdict) -> None:
    """Statements of a figure with the contour marks that the first or half of them ask for."""
    free = np.flatnonzero(_may_change(c, verdict))
    place, asked = c.find(statement)[free], _asked(verdict)[free]
    free = free[_is_contested(place, asked)]
    _, group, size = np.unique(c.find(statement)[free], return_inverse=True, return_counts=True)
    asked = _asked(verdict)[free]
    wanted = _wanted(group, size, asked)[group]
    model = _first_that(group, asked == wanted, free)[group]
    changed = wanted != asked
    notes, (rule, mark) = free[changed], np.divmod(wanted[changed] - 1, len(MARKS))
    verdict.mark[notes] = np.where(wanted[changed] > 0, mark, UNMARKED)
    verdict.rule[notes] = np.where(wanted[changed] > 0, rule, NO_RULE)
    verdict.cause[notes], verdict.model[notes] = Cause.ALIKE, model[changed]


def _may_change(c: Columns, verdict: Verdict) -> Bools:
    """Notes of a statement that have a contour mark or none, and do not end a phrase."""
    contour = np.append(CONTOUR, False)[verdict.rule] | (verdict.rule == NO_RULE)
    stated: Bools = c.find(statement) >= 0
    return stated & contour & (verdict.rule != AUTHOR) & ~c.find(phrases.ends_phrase)


def _asked(verdict: Verdict) -> Ints:
    """One number for rule and mark, the strongest rule first; 0 for none."""
    return np.where(verdict.rule >= 0, verdict.rule * len(MARKS) + verdict.mark + 1, 0)


def _is_contested(place: Ints, asked: Ints) -> Bools:
    """Whether the statements of a note's place ask for different marks."""
    count = int(place.max(initial=-1)) + 1
    some = np.zeros(count, dtype=np.int64)
    some[place] = asked
    other = np.bincount(place, some[place] != asked, count) > 0
    return other[place]


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
    first = np.zeros(count, dtype=np.int64)
    first[group[::-1]] = notes[::-1]
    first[group[holds][::-1]] = notes[holds][::-1]
    return first


# No contradiction


def _soften_runs(verdict: Verdict, runs: Ints) -> None:
    """No stress inside a run that gets softer, but on its first note."""
    inside = covered(runs + np.array([1, 0]), len(verdict.mark))
    stress = (verdict.mark == CODE["stress"]) & (verdict.rule != AUTHOR)
    verdict.leave_plain(np.flatnonzero(inside & stress), Cause.SOFTER)


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


def _ration(c: Columns, verdict: Verdict) -> None:
    """No two neighbours with a weight, and no more in a bar than the style bears.

    What leads to a target goes first, then the higher note; the author's marks all stay.
    Places of statements yield together.
    """
    order = _order(c, verdict)
    weighs = _is_weight(c, verdict)
    kept = _together(c, weighs, _apart(weighs, order))
    lost = np.flatnonzero(weighs & ~kept)
    verdict.leave_plain(lost, Cause.BESIDE, lost + np.where(after(kept), 1, -1)[lost])
    within = _together(c, kept, _within_budget(c, kept, order))
    verdict.leave_plain(np.flatnonzero(kept & ~within), Cause.ENOUGH)


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


def _together(c: Columns, had: Bools, keeps: Bools) -> Bools:
    """What is kept, where all statements of a place that had it keep it or none does."""
    place = c.find(statement)
    lost = np.zeros(int(place.max(initial=-1)) + 2, dtype=bool)
    lost[place[had & ~keeps]] = True
    lost[-1] = False
    return keeps & ~lost[place]


# Repeats have a direction


def growing(c: Columns, mark: Ints) -> Ints:
    """Rows of (first, last) of three or more notes of one pitch and mark in a phrase."""
    ends = c.find(phrases.ends_phrase)
    same = (after(c.pitch, -1) == c.pitch) & (after(mark, -9) == mark) & ~ends
    first = np.flatnonzero(same & ~before(same))
    last = np.flatnonzero(before(same) & ~same)
    long = last - first + 1 >= REPEATS
    return np.stack([first[long], last[long]], axis=1)


# As recorded players do


def held_by_share(c: Columns, verdict: Verdict, detached: Detached) -> Verdict:
    """The marks with only a share of the quarters on the beat detached, by chance."""
    verdict = verdict.copy()
    chance = np.random.default_rng([detached.seed, 3]).random(len(c))
    short = (verdict.rule == ON_BEAT_QUARTER) & (verdict.mark == CODE["marcato"])
    held = short & (chance >= _share_detached(c, detached))
    verdict.leave_plain(np.flatnonzero(held), Cause.HELD)
    return verdict


ON_BEAT_QUARTER = next(i for i, rule in enumerate(RULES) if rule.name == "on-beat-quarter")


def _share_detached(c: Columns, detached: Detached) -> Floats:
    """The share of players who detach a quarter, by its beat and by where it goes."""
    strong = (c.in_bar // np.maximum(c.beat_length, 1)) % 2 == 0
    step = (c.interval_out != 0) & (np.abs(c.interval_out) <= STEP)
    repeated = c.goes_on & (after(c.pitch, -1) == c.pitch)
    on_strong = np.where(step, detached.strong_step, detached.strong)
    on_weak = np.where(repeated, detached.weak_repeated, detached.weak)
    return np.where(strong, on_strong, on_weak)
