"""The bass: walking in four or three, in two for a head or a ballad, broken at the end.

The whole line is chosen at once: every place has a cost for each pitch of the instrument,
every move from note to note has its own, and the cheapest line is played. Where a chord
arrives its root is meant, mostly; the note before leads there by the shares of ``feel.Bass``.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from phrasing.backing.bassplaces import Place, places_of
from phrasing.backing.bassrhythm import played
from phrasing.backing.harmony import scale_of
from phrasing.backing.lines import cheapest_line
from phrasing.backing.plan import Plan
from phrasing.backing.strokes import Stroke
from phrasing.feel import Bass
from phrasing.tempo import Bools, Floats

FORBIDDEN = 40.0
"""A cost that no line pays if there is any other."""
MISSED = 4.0
"""The cost of an approach that does not come as it was meant to."""
REPEATED = 4.0
"""The cost of one pitch three times in a row."""
FROM_CHORD = 0.2
"""The cost of a chord note between the beats that matter, so that scales come too."""
LEAP = 5
APPROACHES = ("above", "below", "whole_below", "whole_above", "fifth")
MOVES: dict[str, tuple[int, ...]] = {
    "above": (-1,),
    "below": (1,),
    "whole_below": (2,),
    "whole_above": (-2,),
    "fifth": (-7, 5),
}
"""From each kind of approach note to the arrival, in semitones."""


def bass_line(plan: Plan, bass: Bass, rng: np.random.Generator) -> list[Stroke]:
    """The bass of a whole play-along, from the first chorus to the last chord."""
    places = places_of(plan, bass, rng)
    pitches = Walker(plan.form.fifths, bass, rng).walk(places)
    return played(places, pitches, plan, bass, rng)


class Walker:
    """Finds the pitches of a line."""

    def __init__(self, fifths: int | None, bass: Bass, rng: np.random.Generator) -> None:
        self.fifths, self.bass, self.rng = fifths, bass, rng
        self.pitches = np.arange(bass.low, bass.high + 1)
        self.moves = self.pitches[None, :] - self.pitches[:, None]
        self.by_interval = self._interval_costs()

    def walk(self, places: list[Place]) -> list[int]:
        """A pitch for each place."""
        if not places:
            return []
        own = np.array([self._own(place) for place in places])
        own += self.bass.surprise * self.rng.gumbel(size=own.shape)
        steps = [self._step(*pair) for pair in pairwise(places)]
        return [self.bass.low + i for i in cheapest_line(own, steps, self._turns())]

    def _interval_costs(self) -> Floats:
        table = dict(self.bass.intervals)
        widest = max(table)
        costs = [table.get(i, FORBIDDEN) for i in range(int(widest) + 1)]
        far = np.minimum(np.abs(self.moves), int(widest) + 1)
        return np.asarray(np.array([*costs, FORBIDDEN])[far])

    def _turns(self) -> Floats:
        """What three notes in a row cost, beyond their two moves."""
        first, second = self.moves[:, :, None], self.moves[None, :, :]
        turned = first * second < 0
        leaps = (np.abs(first) >= LEAP) & (np.abs(second) >= LEAP) & (first * second > 0)
        cost = np.where(turned, self.bass.turn, 0.0) + np.where(leaps, self.bass.leaps, 0.0)
        back = (first + second == 0) & (first != 0)
        still = (first == 0) & (second == 0)
        cost = cost + np.where(back, self.bass.back, 0.0) + np.where(still, REPEATED, 0.0)
        return np.asarray(cost)

    def _own(self, place: Place) -> Floats:
        """What each pitch costs at a place, whatever comes before and after."""
        home = self.bass.home - (LEAP if place.broken else 0)
        strayed = (self.pitches - home).astype(np.float64)
        cost = self.bass.away * np.square(strayed)
        if place.role == "arrival":
            return cost + np.where(self._is(self._meant(place)), 0.0, FORBIDDEN)
        chord, scale = self._chord(place), self._scale(place)
        if place.role == "approach":
            return cost
        between = place.role == "weak"
        on_chord = FROM_CHORD if between else 0.0
        on_scale = 2 * FROM_CHORD if between else self.bass.stray
        outside = 4 * FROM_CHORD if between else FORBIDDEN
        cost = cost + np.where(chord, on_chord, np.where(scale, on_scale, outside))
        return cost + self._leaning(place)

    def _leaning(self, place: Place) -> Floats:
        """In two the fifth answers the root; in four a held chord shuns root and seventh.

        Over a bass note of its own, a held chord comes back to that.
        """
        chord, strong = place.chord, place.role == "strong"
        root = self._is(frozenset({chord.bass}))
        if strong and chord.bass != chord.root:
            return np.where(root, 0.0, self.bass.stray)
        seventh = self._is(frozenset((chord.root + i) % 12 for i in chord.intervals(7)))
        if place.in_two and place.beat.place:
            fifth = self._is(frozenset((chord.root + i) % 12 for i in chord.intervals(5)))
            rest = np.where(root | seventh, self.bass.stray, self.bass.back)
            return np.where(fifth, 0.0, rest)
        return np.where(root | seventh, self.bass.turn, 0.0)

    def _meant(self, place: Place) -> frozenset[int]:
        """The pitch class meant where a chord arrives: its bass, now and then another."""
        chord = place.chord
        others = [(chord.root + i) % 12 for i in chord.intervals(3, 5)]
        stays = place.is_top or place.alone or chord.bass != chord.root or not others
        if stays or self.rng.random() < self.bass.root:
            return frozenset({chord.bass})
        return frozenset({int(self.rng.choice(others))})

    def _is(self, classes: frozenset[int]) -> Bools:
        return np.isin(self.pitches % 12, sorted(classes))

    def _chord(self, place: Place) -> Bools:
        return self._is(place.chord.pitch_classes)

    def _scale(self, place: Place) -> Bools:
        return self._is(scale_of(place.chord, self.fifths, place.toward))

    def _step(self, here: Place, there: Place) -> Floats:
        """What each move costs from one place to the next."""
        if here.role == "approach":
            return self.by_interval + self._approach(here)
        if here.role == "arrival":
            return self.by_interval
        outside = ~self._scale(here)
        strays = outside[:, None] & (np.abs(self.moves) != 1)
        return self.by_interval + np.where(strays, self.bass.outside, 0.0)

    def _approach(self, here: Place) -> Floats:
        """The kind of approach meant: one of the moves, or a chord note that is none."""
        shares = [float(getattr(self.bass, name)) for name in APPROACHES]
        free = max(0.0, 1.0 - sum(shares))
        weights = np.array([*shares, free]) / (sum(shares) + free)
        kind = [*APPROACHES, "free"][int(self.rng.choice(len(weights), p=weights))]
        if kind == "free":
            near = np.abs(self.moves) <= max(MOVES["whole_below"])
            return np.where(self._chord(here)[:, None] & ~near, 0.0, MISSED)
        return np.where(np.isin(self.moves, MOVES[kind]), 0.0, MISSED)
