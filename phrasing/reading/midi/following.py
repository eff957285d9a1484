"""The beat followed in a melody that was played without a click.

One path through beats and rhythms together: a beat may begin at any time and last about as
long as the one before, and costs what the likeliest division of it makes of its notes (the
same grids and costs as in ``rhythm``). The path that costs least over the whole melody is
found by dynamic programming (Viterbi); a second search, around the first one's beats, knows
the piece's own rhythms, its swing and how loosely it is played.

Times are in seconds. The numbers are design parameters of this project, set with folk tunes
turned into takes (``tests/takes_bench.py``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from phrasing.reading.midi import rhythm
from phrasing.reading.midi.rhythm import COMPOUND, PAIRS, SIMPLE
from phrasing.score.meters import Bools, Floats, Ints

STEP = 0.010
"""Seconds between two places where a beat may begin."""
EARLY = 0.035
"""Seconds by which a note may come before the beat it belongs to."""
FINER = 1.03
"""Ratio of two neighbouring beat lengths."""
LENGTHS = {
    SIMPLE: ((0.285, 0.48), (0.40, 0.70)),
    COMPOUND: ((0.43, 0.72), (0.62, 1.05)),
}
"""Seconds that a quarter (86 to 210 a minute), a dotted quarter (57 to 140) may last. The fast
and the slow half are searched each by itself, so that neither hides the other."""
AROUND = (0.86, 1.16)
"""Bounds of a beat's length in the second search, as parts of the usual one."""
NOISE = 0.022
"""Seconds of timing noise that are assumed at first."""
NOISES = (0.008, 0.045)
STIFFNESS = 0.025
"""How much a beat's length changes to the next: scale of its logarithm, with heavy tails."""
SHAKE = 0.5
"""Nats for a beat that comes one step early or late."""
REACH = 5
"""Neighbouring lengths (of ``FINER``) that can follow each other."""
GRIDS = 6
"""The plainest grids, which are all that the beat is followed by."""
SWINGS = (0.58, 0.625, 0.667, 0.72)
"""Where second eighths may be played, at first."""
SWING_COST = 1.5
"""Nats that a swung pair costs more than an even one, at first."""
LIMPING = np.array([0, 0, 0, 2, 0, 0, 0, 0], dtype=np.float64)
"""Nats more for a beat of three eighths with the first two only: short-long is rare."""
TOGETHER = 40.0
"""Nats for two notes at one place."""
APART = 6
"""Neighbouring lengths (of ``FINER``) within which only one path is kept."""
KEPT = 2
"""Paths kept of one search."""
ALIKE = 1.05
"""Two paths with beats of the same kind that differ by less are one."""
LOOKED_AT = 5
"""Paths that are searched a second time."""
FEW_SWUNG = 4
"""Swung pairs that are too few to tell where their second notes lie."""
BENDING = 0.012
"""How much beats bend when they are smoothed: the second difference, in beats."""


@dataclass(frozen=True, eq=False)
class Figure:
    """A division of the beat: ``points`` where its notes are played, as parts of the beat, and
    ``cost`` (nats) of each set of notes on them, as a number of one bit a point."""

    slot: int
    points: Floats
    cost: Floats

    @property
    def is_swung(self) -> bool:
        """Whether it is a pair with a late second eighth."""
        return len(self.points) == 2 and bool(self.points[1] != 0.5)


@dataclass(frozen=True, eq=False)
class Course:
    """A way through the beats. ``kind`` of beat (see ``rhythm``). ``beats``: when each begins
    (seconds after the first note), and when the last one ends. ``figure``: for each beat, its
    division among ``figures``. ``cost`` in nats."""

    kind: int
    beats: Floats
    figure: Ints
    figures: tuple[Figure, ...]
    cost: float

    @property
    def beat_length(self) -> float:
        """Seconds of the usual beat."""
        return float(np.median(np.diff(self.beats)))


@dataclass(frozen=True, eq=False)
class _Places:
    """Where a course puts each note: its ``beat``, the ``point`` of the beat's figure, the
    ``part`` of the beat where that is, and how late the note is (``off``, seconds)."""

    beat: Ints
    point: Ints
    part: Floats
    off: Floats


@dataclass(frozen=True, eq=False)
class _Search:
    """What a search starts from: the notes, the beat lengths tried, their figures."""

    onset: Floats
    lengths: Floats
    figures: tuple[Figure, ...]
    noise: float

    @property
    def steps(self) -> Ints:
        """Each length in whole steps."""
        return np.rint(self.lengths / STEP).astype(np.int64)


def courses(onset: Floats) -> list[Course]:
    """Ways through the beats of notes that begin at these seconds (ascending), the likeliest
    of each kind and tempo.

    Quarters and eighths at about 120, a little uneven:

    >>> played = np.array([0.0, 0.51, 0.74, 1.0, 1.5, 2.02, 2.26, 2.5, 3.0, 3.25, 3.51, 4.0])
    >>> best = courses(played)[0]
    >>> bool(0.49 < best.beat_length < 0.51)
    True
    """
    since = onset - onset[0]
    found: list[Course] = []
    for kind, ranges in LENGTHS.items():
        for low, high in ranges:
            search = _Search(since, _lengths(low, high), usual_figures(kind), NOISE)
            found += _searched(search, kind, KEPT)
    again = [_again(since, course) for course in _different(found)[:LOOKED_AT]]
    return _different(again)


def _different(found: list[Course]) -> list[Course]:
    """The cheapest first, and of those that are alike the cheapest only."""
    kept: list[Course] = []
    for course in sorted(found, key=lambda course: course.cost):
        length = course.beat_length
        if not any(
            course.kind == other.kind and 1 / ALIKE < length / other.beat_length < ALIKE
            for other in kept
        ):
            kept.append(course)
    return kept


def _again(onset: Floats, course: Course) -> Course:
    """The course found once the rhythms of this one are known."""
    each = np.diff(course.beats)
    low = min(AROUND[0] * course.beat_length, 0.95 * float(np.percentile(each, 2)))
    high = max(AROUND[1] * course.beat_length, 1.05 * float(np.percentile(each, 98)))
    figures, noise = _own_figures(onset, course)
    search = _Search(onset, _lengths(max(low, 3 * STEP), high), figures, noise)
    return next(iter(_searched(search, course.kind, 1)), course)


def _lengths(low: float, high: float) -> Floats:
    count = int(np.ceil(np.log(high / low) / np.log(FINER))) + 1
    lengths: Floats = low * FINER ** np.arange(count, dtype=np.float64)
    return lengths


def usual_figures(kind: int) -> tuple[Figure, ...]:
    """The divisions of a beat before anything is known of the piece."""
    silent, note = rhythm.grid_costs()
    figures = []
    for slot, grid in enumerate(rhythm.BY_KIND[kind][:GRIDS]):
        bits = np.arange(1 << grid.parts)[:, None] >> np.arange(grid.parts) & 1
        cost = silent[kind, slot] + bits @ note[kind, slot, : grid.parts]
        figures.append(Figure(slot, np.arange(grid.parts) / grid.parts, cost))
    if kind == SIMPLE:
        pair = figures[PAIRS]
        figures += [
            replace(pair, points=np.array([0.0, at]), cost=pair.cost + SWING_COST)
            for at in SWINGS
        ]
    else:
        eighths = figures[rhythm.EIGHTHS]
        figures[rhythm.EIGHTHS] = replace(eighths, cost=eighths.cost + LIMPING)
    return tuple(figures)


def _own_figures(onset: Floats, course: Course) -> tuple[tuple[Figure, ...], float]:
    """The divisions with what they cost in this piece, its own swing, and its noise."""
    places = _places(onset, course)
    bits = np.bincount(places.beat, np.left_shift(1, places.point), len(course.figure))
    own: list[Figure] = []
    swung = np.array([figure.is_swung for figure in course.figures])
    for index, figure in enumerate(course.figures):
        if not figure.is_swung:
            own.append(_learnt(figure, bits[course.figure == index], len(bits)))
    late = swung[course.figure[places.beat]] & (places.point == 1)
    if late.sum() >= FEW_SWUNG:
        at = float(np.median(_part(onset, course, places.beat)[late]))
        pair = replace(course.figures[int(swung.argmax())], points=np.array([0.0, at]))
        own.append(_learnt(pair, bits[swung[course.figure]], len(bits)))
    noise = 1.483 * float(np.median(np.abs(places.off)))
    return tuple(own), float(np.clip(noise, *NOISES))


def _learnt(figure: Figure, bits: Floats, beats: int) -> Figure:
    """The figure with costs that count how often each of its patterns was used."""
    used = np.bincount(_as_pattern(bits, figure), minlength=len(figure.cost))
    share = used + rhythm.PRIOR_BEATS * np.exp(-figure.cost)
    return replace(figure, cost=-np.log(share / (beats + rhythm.PRIOR_BEATS)))


def _as_pattern(bits: Floats, figure: Figure) -> Ints:
    """Sums of bits as numbers of patterns, where two notes at one place make no sense."""
    return np.minimum(bits, len(figure.cost) - 1).astype(np.int64)


def _part(onset: Floats, course: Course, beat: Ints) -> Floats:
    part: Floats = (onset - course.beats[beat]) / np.diff(course.beats)[beat]
    return part


def _places(onset: Floats, course: Course) -> _Places:
    last = len(course.figure) - 1
    beat = np.clip(np.searchsorted(course.beats - EARLY, onset, "right") - 1, 0, last)
    since = _part(onset, course, beat)
    point, part = np.zeros(len(onset), np.int64), np.zeros(len(onset))
    for index, figure in enumerate(course.figures):
        mine = course.figure[beat] == index
        point[mine] = np.abs(since[mine, None] - figure.points).argmin(axis=1)
        part[mine] = figure.points[point[mine]]
    return _Places(beat, point, part, (since - part) * np.diff(course.beats)[beat])


# The search. A beat is a step where it begins and one of the lengths.


def _searched(search: _Search, kind: int, most: int) -> list[Course]:
    """The courses that cost least, of lengths that are apart from each other at their end."""
    lead = float(search.lengths[-1])
    search = replace(search, onset=search.onset + lead)
    trellis = _Trellis(search)
    return [
        Course(kind, beats.astype(np.float64) * STEP - lead, figure, search.figures, cost)
        for beats, figure, cost in trellis.paths(most)
    ]


class _Trellis:
    """All ways through the beats: ``cost`` to come to the end of a beat of each length at
    each step, how far the beat was ``moved`` (steps), and which length ``came`` before."""

    def __init__(self, search: _Search) -> None:
        self.steps = search.steps
        self.here, self.which = _beat_costs(search)
        self.begins, width = self.here.shape
        ends = self.begins + int(self.steps[-1]) + 2
        self.cost = np.full((ends, width), np.inf)
        self.moved = np.zeros((ends, width), np.int8)
        self.came = np.zeros((self.begins, width), np.int8)
        uneven = search.lengths / STEP - self.steps
        self.shakes = [(by, SHAKE * (by - uneven) ** 2) for by in (-1, 0, 1)]
        start = self._starts(search)
        block = int(self.steps[0]) - 1
        for first in range(0, self.begins, block):
            self._advance(slice(first, min(first + block, self.begins)), start)

    def _starts(self, search: _Search) -> Floats:
        """What it costs to begin with a beat: the first note lies in it, anywhere."""
        first = int((search.onset[0] + EARLY) / STEP)
        at = np.arange(self.begins)[:, None]
        within = (at <= first) & (at > first - self.steps)
        return np.where(within, np.log(self.steps), np.inf)

    def _advance(self, at: slice, start: Floats) -> None:
        """From the costs of coming to these steps to those of the beats that begin there."""
        width = self.cost.shape[1]
        around = np.pad(self.cost[at], ((0, 0), (REACH, REACH)), constant_values=np.inf)
        by = np.abs(np.arange(-REACH, REACH + 1)) * np.log(FINER) / STIFFNESS
        ways = [around[:, i : i + width] + cost for i, cost in enumerate(by)]
        every = np.stack([*ways, start[at]])
        self.came[at] = every.argmin(axis=0)
        cost = every.min(axis=0) + self.here[at]
        ends = np.arange(at.start, at.stop)[:, None] + self.steps
        column = np.broadcast_to(np.arange(width), ends.shape)
        for shift, shake in self.shakes:
            self._arrive(ends + shift, column, cost + shake, shift)

    def _arrive(self, ends: Ints, column: Ints, cost: Floats, shift: int) -> None:
        better = cost < self.cost[ends, column]
        place = ends[better], column[better]
        self.cost[place] = cost[better]
        self.moved[place] = shift

    def paths(self, most: int) -> Iterator[tuple[Ints, Ints, float]]:
        """Steps where beats begin and end, their figures, and the cost of the best paths."""
        last = self.cost[self.begins :]
        least = last.min(axis=0)
        padded = np.pad(least, APART, constant_values=np.inf)
        around = np.lib.stride_tricks.sliding_window_view(padded, 2 * APART + 1).min(axis=1)
        best = [i for i in np.argsort(least, kind="stable") if least[i] == around[i] < np.inf]
        for length in best[:most]:
            end = self.begins + int(last[:, length].argmin())
            yield *self._back(end, int(length)), float(least[length])

    def _back(self, end: int, length: int) -> tuple[Ints, Ints]:
        beats, figures = [end], []
        while True:
            begin = beats[-1] - int(self.steps[length]) - int(self.moved[beats[-1], length])
            beats.append(begin)
            figures.append(int(self.which[begin, length]))
            way = int(self.came[begin, length])
            if way > 2 * REACH:
                return np.array(beats[::-1]), np.array(figures[::-1])
            length += way - REACH


def _beat_costs(search: _Search) -> tuple[Floats, Ints]:
    """What a beat costs at best that begins at each step with each length, and its figure."""
    begins = int((search.onset[-1] + EARLY) / STEP) + 1
    shape = begins, len(search.lengths)
    cost, which = np.empty(shape), np.empty(shape, np.int64)
    for column, length in enumerate(search.lengths.tolist()):
        window = _window(search.onset, length, begins)
        of_figures = np.stack([_figure_cost(window, f, search.noise) for f in search.figures])
        which[:, column] = of_figures.argmin(axis=0)
        cost[:, column] = of_figures.min(axis=0)
    return cost, which


@dataclass(frozen=True, eq=False)
class _Window:
    """Every note in every beat of one ``length`` that can hold it: the step where the beat
    begins, seconds ``since`` then, and for those whose next note is in the beat too
    (``with_next``) the seconds of that one (``following``)."""

    length: float
    begins: int
    begin: Ints
    since: Floats
    with_next: Bools
    following: Floats


def _window(onset: Floats, length: float, begins: int) -> _Window:
    back = np.arange(int(length / STEP) + 2)
    begin = np.floor((onset + EARLY) / STEP).astype(np.int64)[:, None] - back
    since = onset[:, None] - begin * STEP
    inside = (since < length - EARLY) & (begin >= 0)
    following = (np.append(onset[1:], np.inf)[:, None] - begin * STEP)[inside]
    with_next = following < length - EARLY
    return _Window(
        length, begins, begin[inside], since[inside], with_next, following[with_next]
    )


def _figure_cost(window: _Window, figure: Figure, noise: float) -> Floats:
    """Nats for each step where a beat of this figure begins."""
    points = figure.points * window.length
    between = (points[1:] + points[:-1]) / 2
    point = np.searchsorted(between, window.since)
    cost = rhythm.misfit(window.since - points[point], noise)
    cost[window.with_next] += TOGETHER * (
        point[window.with_next] == np.searchsorted(between, window.following)
    )
    bits = _sums(window, np.left_shift(1, point))
    return _sums(window, cost) + figure.cost[_as_pattern(bits, figure)]


def _sums(window: _Window, of_notes: ArrayLike) -> Floats:
    """What the notes of each beat of the window make together."""
    return np.bincount(window.begin, of_notes, window.begins).astype(np.float64)


def smoothed(onset: Floats, course: Course) -> Floats:
    """The course's beats (seconds) drawn as smoothly through its notes as a player's are.

    Least squares with a penalty on bending; notes far from their place count little.
    """
    from scipy.linalg import solveh_banded

    places = _places(onset - onset[0], course)
    noise = max(1.483 * float(np.median(np.abs(places.off))), NOISES[0])
    weight = 1 / (1 + (places.off / (2.5 * noise)) ** 2) / noise**2
    ends = np.stack([1 - places.part, places.part])
    count = len(course.beats)
    bands, right = np.zeros((3, count)), np.zeros(count)
    bands[2] += 1e-6
    for i, of_i in enumerate(ends):
        np.add.at(right, places.beat + i, weight * of_i * (onset - onset[0]))
        for j in range(i, 2):
            np.add.at(bands[2 - j + i], places.beat + j, weight * of_i * ends[j])
    _stiffen(bands, 1 / (BENDING * course.beat_length) ** 2)
    beats: Floats = solveh_banded(bands, right)
    return beats if (np.diff(beats) > 0).all() else course.beats


def _stiffen(bands: Floats, weight: float) -> None:
    """Add the penalty on second differences to the equations' upper bands."""
    bend: Sequence[float] = (1.0, -2.0, 1.0)
    count = bands.shape[1] - 2
    for i in range(3):
        for j in range(i, 3):
            bands[2 - j + i, j : j + count] += weight * bend[i] * bend[j]
