"""The bass: walking in four or three, in two for a head or a ballad, broken at the end.

The whole line is chosen at once: every place has a cost for each pitch of the instrument,
every move from note to note has its own, and the cheapest line is played. Where a chord
arrives its root is meant, mostly; the note before leads there by the shares of ``feel.Bass``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from phrasing.band.notation import AND, Spot, bar_of, one_of
from phrasing.band.plan import Beat, Plan, cheapest_line, grouped_beats
from phrasing.band.strokes import Stroke
from phrasing.band.voicing import scale_of
from phrasing.feel import Bass
from phrasing.score.chords import Chord
from phrasing.score.meters import TICKS, Bools, Floats

Role = Literal["arrival", "approach", "strong", "weak"]
ROOT, FIFTH, LEAD = "R", "5", "to"
"""Notes of a groove's bass: root, fifth, and one that leads on."""
ACCENT = 2.0
"""dB by which a note marked louder or lighter differs."""
NEAREST = TICKS // 4
"""Ticks before or after the arrival of a chord in which nothing else is played."""


@dataclass(frozen=True)
class Place:
    """A place for a note, from ``onset`` to ``end`` (ticks).

    ``toward``: the chord after ``chord``, None at the end. ``is_top``: a section begins here,
    or it is the last chord. ``alone``: the only note of its chord. ``broken``: in broken time,
    or the last chord. ``spot``: what the groove has here, where the bass has a rhythm of its
    own.
    """

    onset: int
    end: int
    chord: Chord
    toward: Chord | None
    role: Role
    beat: Beat
    is_top: bool
    in_two: bool
    broken: bool
    alone: bool = False
    spot: Spot | None = None


def places_of(plan: Plan, bass: Bass, rng: np.random.Generator) -> list[Place]:
    """The beats the bass plays on, and wherever a chord arrives; none without chord."""
    arrivals = {span.onset for span in plan.form.spans if span.chord.sounds}
    spots = {t: spot for t, spot in _walked(plan, bass, rng) if _is_free(t, arrivals)}
    ticks = {tick for tick in arrivals | spots.keys() if plan.start <= tick < plan.stop}
    ticks = {tick for tick in ticks if not plan.form.is_solo(tick)}
    if plan.form.final is not None:
        ticks.add(plan.form.final)
    order = sorted(tick for tick in ticks if plan.chord_span(tick).chord.sounds)
    places = [_place(plan, bass, *pair) for pair in pairwise([*order, plan.form.end])]
    places = [replace(place, spot=spots.get(place.onset)) for place in places]
    return [_leading(place, after) for place, after in pairwise([*places, None]) if place]


def _is_free(tick: int, arrivals: set[int]) -> bool:
    """Whether no chord arrives so near that there is no room for another note."""
    around = range(tick - NEAREST, tick + NEAREST + 1)
    return not any(other in arrivals for other in around if other != tick)


def _walked(
    plan: Plan, bass: Bass, rng: np.random.Generator
) -> Iterator[tuple[int, Spot | None]]:
    """The ticks on which the bass plays, and what the groove has there, if it says so."""
    for index, beats in plan.playing():
        if index in plan.broken:
            yield from ((tick, None) for tick in plan.broken[index])
        if index in plan.broken or index in plan.solo:
            continue
        rhythm = plan.groove_in(index).bass
        for group in grouped_beats(beats):
            if not isinstance(rhythm, str):
                spots = one_of(bar_of(rhythm, len(group), plan.place_in_chorus(index)), rng)
                yield from ((group[spot.place].at(spot.part), spot) for spot in spots)
            elif _is_in_two(plan, bass, group[0]):
                yield from ((tick, None) for tick in _in_two(group, bass, rng))
            else:
                yield from ((tick, None) for tick in _walking(group, bass, rng))


def _is_in_two(plan: Plan, bass: Bass, beat: Beat) -> bool:
    own = plan.groove_in(beat.bar).bass
    if not isinstance(own, str):
        return False
    two = own == "two" or beat.bar in plan.two
    return two or plan.beat_tempo(beat) < bass.two_below


def _in_two(group: tuple[Beat, ...], bass: Bass, rng: np.random.Generator) -> Iterator[int]:
    for beat in group:
        last = beat.place == len(group) - 1
        picks_up = last and rng.random() < bass.two_pickup
        if beat.place == 0 or (beat.place == 2 and not last) or picks_up:
            yield beat.onset


def _walking(group: tuple[Beat, ...], bass: Bass, rng: np.random.Generator) -> Iterator[int]:
    """Every beat; in a waltz, now and then, not the second."""
    held = len(group) == 3 and rng.random() > (1.0 + bass.plain) / 2
    yield from (beat.onset for beat in group if not (held and beat.place == 1))


def _place(plan: Plan, bass: Bass, onset: int, end: int) -> Place:
    index, beat = plan.span_index(onset), plan.beat_at(onset)
    span, spans = plan.form.spans[index], plan.form.spans
    following = spans[index + 1] if index + 1 < len(spans) else None
    final = onset == plan.form.final
    top = final or (beat.count == 0 and beat.bar in plan.tops and onset == beat.onset)
    strong = beat.onset == onset and (beat.place == 0 or (beat.place == 2 and beat.size == 4))
    arrives = onset == span.onset or final
    silent = following is not None and not following.chord.sounds
    end = min(end, span.end) if silent else end
    end = min([end, *(solo for solo, _ in plan.form.solos if solo > onset)])
    if final and plan.form.short:
        end = onset + beat.length // 2
    return Place(
        onset=onset,
        end=end,
        chord=span.chord,
        toward=following.chord if following is not None else None,
        role="arrival" if arrives or top else "strong" if strong else "weak",
        beat=beat,
        is_top=top or index == 0,
        in_two=_is_in_two(plan, bass, beat),
        broken=final or beat.bar in plan.broken,
    )


def _leading(place: Place, after: Place | None) -> Place:
    """A note of a beat at most that comes directly before an arrival leads to it."""
    leads = after is None or (after.role == "arrival" and after.onset == place.end)
    if place.role == "arrival":
        return replace(place, alone=leads)
    if place.spot is not None:
        return replace(place, role="approach") if leads and place.spot.note == LEAD else place
    if place.broken:
        return place
    short = after is not None and place.end - place.onset <= place.beat.length
    return replace(place, role="approach") if leads and short else place


# From the pitches of a bass line to what is played: skips, triplets, held notes, levels.

DECORATIONS: dict[str, float] = {"skip": 4.0, "lead": 2.5, "held": 2.0, "triplet": 1.0}
"""What may happen once in a bar, and how often against each other."""
OCTAVE = 12


def played(
    places: list[Place], pitches: list[int], plan: Plan, bass: Bass, rng: np.random.Generator
) -> list[Stroke]:
    """The strokes of a line."""
    decorated = dict(_decorations(places, plan, bass, rng))
    strokes: list[Stroke] = []
    skipped = False
    for i, (place, pitch) in enumerate(zip(places, pitches, strict=True)):
        if skipped:
            skipped = False
            continue
        kind = decorated.get(i)
        if kind == "held" and place.role == "arrival" and pitch % OCTAVE != place.chord.bass:
            kind = None
        skipped = kind == "held"
        end = places[i + 1].end if skipped else place.end
        following = pitches[i + 1] if i + 1 < len(pitches) else pitch
        level = _level(place, plan, bass)
        main = Stroke(place.onset, end, pitch, level)
        strokes += _with_decoration(main, kind, place, following, bass)
    return [replace(stroke, gate=bass.gate) for stroke in strokes]


def _level(place: Place, plan: Plan, bass: Bass) -> float:
    level = bass.level + plan.growth(place.onset) + (bass.in_two if place.in_two else 0.0)
    if place.spot is not None:
        level += ACCENT * place.spot.accent
    if place.role == "arrival":
        return level + bass.arrival
    return level + (bass.back_beat if place.beat.place % 2 else 0.0)


def _decorations(
    places: list[Place], plan: Plan, bass: Bass, rng: np.random.Generator
) -> Iterator[tuple[int, str]]:
    """Indices of places with something to happen, at most one in a bar."""
    bars: dict[int, list[int]] = {}
    for i, place in enumerate(places):
        bars.setdefault(place.beat.bar, []).append(i)
    kinds = list(DECORATIONS)
    weights = np.array(list(DECORATIONS.values())) / sum(DECORATIONS.values())
    for members in bars.values():
        plain = (1.0 + bass.plain) / 2 if places[members[0]].in_two else bass.plain
        if rng.random() < plain:
            continue
        kind = kinds[int(rng.choice(len(kinds), p=weights))]
        fitting = [i for i in members if _fits(kind, i, places, plan, bass)]
        if fitting:
            yield fitting[int(rng.integers(len(fitting)))], kind


def _fits(kind: str, i: int, places: list[Place], plan: Plan, bass: Bass) -> bool:
    """Whether a decoration has room at a place: a whole beat, in walking time."""
    place = places[i]
    beat = place.beat
    whole = place.onset == beat.onset and place.end >= beat.end and beat.off > 0
    if place.broken or place.spot is not None or not whole or i + 1 >= len(places):
        return False
    after = places[i + 1]
    if kind == "held":
        weak = after.role == "weak" and after.beat.bar == beat.bar
        return weak and after.onset == place.end and not place.in_two
    if kind == "triplet":
        return plan.beat_tempo(beat) < bass.busy_until and place.role != "approach"
    if kind == "lead":
        return plan.beat_tempo(beat) < bass.busy_until and after.onset == beat.end
    return True


def _with_decoration(
    main: Stroke, kind: str | None, place: Place, following: int, bass: Bass
) -> list[Stroke]:
    """The note and what comes after it in its last beat."""
    beat, pitch = place.beat, main.pitch
    ghost = main.level + bass.ghost
    if kind == "skip":
        off = beat.at(AND)
        short = Stroke(main.onset, off, pitch, main.level)
        return [short, Stroke(off, beat.end, _near(following, pitch, bass), ghost)]
    if kind == "lead":
        off, step = beat.at(AND), 1 if following < pitch else -1
        lead = Stroke(off, beat.end, _inside(following + step, bass), main.level - bass.arrival)
        return [Stroke(main.onset, off, pitch, main.level), lead]
    if kind == "triplet":
        second, third = beat.at(1 / 3), beat.at(2 / 3)
        low = pitch - OCTAVE if pitch - OCTAVE >= bass.low else pitch
        return [
            Stroke(main.onset, second, pitch, main.level),
            Stroke(second, third, pitch, ghost),
            Stroke(third, beat.end, low, ghost),
        ]
    return [main]


def _near(following: int, pitch: int, bass: Bass) -> int:
    """What a skip plucks: the note just played, or the next one if that is a step away."""
    return following if 0 < abs(following - pitch) <= 2 else _inside(pitch, bass)


def _inside(pitch: int, bass: Bass) -> int:
    return min(max(pitch, bass.low), bass.high)


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
        if place.spot is not None or place.broken:
            return self._asked(place, place.spot.note if place.spot else "")
        root = self._is(frozenset({chord.bass}))
        if strong and chord.bass != chord.root:
            return np.where(root, 0.0, self.bass.stray)
        seventh = self._is(frozenset((chord.root + i) % 12 for i in chord.intervals(7)))
        if place.in_two and place.beat.place:
            fifth = self._is(frozenset((chord.root + i) % 12 for i in chord.intervals(5)))
            rest = np.where(root | seventh, self.bass.stray, self.bass.back)
            return np.where(fifth, 0.0, rest)
        return np.where(root | seventh, self.bass.turn, 0.0)

    def _asked(self, place: Place, note: str) -> Floats:
        """What a groove's own note costs: its root or fifth, or one that goes on."""
        chord = place.chord
        fifths = [(chord.root + i) % 12 for i in chord.intervals(5)]
        root, fifth = self._is(frozenset({chord.bass})), self._is(frozenset(fifths))
        if note == ROOT:
            return np.where(root, 0.0, FORBIDDEN)
        if note == FIFTH:
            return np.where(fifth, 0.0, np.where(root, self.bass.turn, FORBIDDEN))
        return np.where(root | fifth, 0.0, self.bass.stray)

    def _meant(self, place: Place) -> frozenset[int]:
        """The pitch class meant where a chord arrives: its bass, now and then another.

        A note that lasts longer than a beat has to say which chord it is: in two, in a waltz.
        """
        chord = place.chord
        others = [(chord.root + i) % 12 for i in chord.intervals(3, 5)]
        own = place.spot is not None or chord.bass != chord.root
        lasts = place.end - place.onset > place.beat.length
        stays = place.is_top or place.alone or own or lasts or not others
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
