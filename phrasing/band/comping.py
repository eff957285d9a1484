"""Comping: short and long chords that leave room, anticipations, the guitar's four-to-a-bar."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from phrasing.band.plan import AND, Beat, Plan, grouped_beats
from phrasing.band.strokes import Stroke
from phrasing.band.voicing import Instrument, Voicing, led, voicings_of
from phrasing.feel import Comping

Hits = tuple[tuple[float, float], ...]
"""(beat from 1, its "and" at .5; length in beats, 0 for a short chord) of each chord."""

FIGURES: dict[int, tuple[tuple[float, Hits], ...]] = {
    1: ((1.0, ((1, 0),)), (1.0, ()), (0.7, ((1.5, 0),))),
    2: (
        (2.0, ((1, 0),)),
        (2.0, ((1.5, 0),)),
        (1.5, ((2, 0),)),
        (1.5, ((2.5, 0.9),)),
        (1.0, ((1, 0), (2.5, 0))),
        (1.0, ((1, 1.8),)),
        (0.7, ()),
    ),
    3: (
        (3.0, ((1, 0), (2.5, 0))),
        (2.0, ((2, 0), (3, 0))),
        (2.0, ((2.5, 1.0),)),
        (2.0, ((1, 2.6),)),
        (1.5, ((2, 0),)),
        (1.5, ((3.5, 1.0),)),
        (1.5, ((1.5, 0), (3, 0))),
        (1.0, ((2.5, 0), (3.5, 0.9))),
        (1.0, ((1, 1.4), (2.5, 0))),
        (1.0, ()),
    ),
    4: (
        (4.0, ((1, 0), (2.5, 0))),
        (2.0, ((1, 1.4), (2.5, 0))),
        (3.0, ((2.5, 0),)),
        (2.5, ((2.5, 0), (4, 0))),
        (2.0, ((1.5, 0), (3, 0))),
        (2.0, ((2, 0), (4, 0))),
        (3.0, ((4.5, 1.2),)),
        (2.0, ((1, 0), (4.5, 1.0))),
        (2.0, ((2.5, 0), (4.5, 1.0))),
        (1.5, ((1.5, 0), (2.5, 0))),
        (1.5, ((1, 2.6),)),
        (1.5, ((1.5, 1.8), (3.5, 0))),
        (1.5, ((1, 0), (3.5, 0))),
        (1.5, ((3.5, 0),)),
        (1.0, ((2, 0), (3.5, 0))),
        (1.0, ((1.5, 1.0), (4, 0))),
        (1.2, ()),
    ),
}
"""By the size of a group: figures and their weights. Common practice, no source."""
RESTATED_LATE = 0.4
"""How often a chord that the figure passed over comes on the "and" after its arrival."""
MOST_CHUNKS = 4
"""Bars of the guitar's quarters in a row."""
LONG = 0.9
"""Beats from which a chord counts as long."""


@dataclass(frozen=True)
class Hit:
    """One chord to strike, from ``onset`` to ``end`` (ticks), and the index of its span.

    ``longest``: ticks it sounds at most. ``early``: before its chord arrives. ``strummed``:
    one of the guitar's quarter notes.
    """

    onset: int
    end: int
    span: int
    longest: int | None = None
    early: bool = False
    strummed: bool = False
    long: bool = False


def comp(
    plan: Plan, comping: Comping, instrument: Instrument, rng: np.random.Generator
) -> list[Stroke]:
    """The chords of a whole play-along, from the first chorus to the last chord."""
    hits = Comper(plan, comping, instrument, rng).hits()
    spans, fifths = plan.form.spans, plan.form.fifths
    known: dict[int, list[Voicing]] = {}
    for hit in hits:
        if hit.span not in known:
            toward = spans[hit.span + 1].chord if hit.span + 1 < len(spans) else None
            chord = spans[hit.span].chord
            known[hit.span] = voicings_of(chord, comping, instrument, fifths, toward)
    voicings = led([known[hit.span] for hit in hits], comping, rng)
    return [
        stroke
        for hit, voicing in zip(hits, voicings, strict=True)
        for stroke in _struck(hit, voicing, plan, comping)
    ]


def _struck(hit: Hit, voicing: Voicing, plan: Plan, comping: Comping) -> Iterator[Stroke]:
    level = comping.strum if hit.strummed else comping.level
    level += comping.early * hit.early + comping.long * hit.long + plan.growth(hit.onset)
    last = max(len(voicing.pitches) - 1, 1)
    for i, pitch in enumerate(voicing.pitches):
        after = comping.roll * i / last
        yield Stroke(hit.onset, hit.end, pitch, level, longest=hit.longest, after=after)


class Comper:
    """Finds the rhythm of one play-along's chords."""

    def __init__(
        self, plan: Plan, comping: Comping, instrument: Instrument, rng: np.random.Generator
    ) -> None:
        self.plan, self.comping, self.instrument, self.rng = plan, comping, instrument, rng
        self.before: Hits | None = None
        self.chunked = 0

    def hits(self) -> list[Hit]:
        """All chords in order, every chord symbol of a beat or more among them."""
        found: list[Hit] = []
        for index, beats in self.plan.playing():
            struck = self.plan.broken.get(index)
            if struck is not None:
                found += [self._hit(tick, 0.0) for tick in struck]
                continue
            chunks = self._chunks()
            for group in grouped_beats(beats):
                found += self._chunk(group) if chunks else self._figure(group)
        found += self._passed_over({hit.span for hit in found})
        final = self.plan.form.final
        if final is not None:
            last = len(self.plan.form.spans) - 1
            found.append(Hit(final, self.plan.form.end, last, long=True))
        return self._in_order(found)

    def _chunks(self) -> bool:
        """Whether the guitar plays quarters in this bar; not for ever."""
        tired = self.chunked >= MOST_CHUNKS
        wants = self.instrument == "guitar" and self.rng.random() < self.comping.chunk
        self.chunked = self.chunked + 1 if wants and not tired else 0
        return wants and not tired

    def _figure(self, group: tuple[Beat, ...]) -> Iterator[Hit]:
        figures = FIGURES[len(group)]
        fresh = [(w, f) for w, f in figures if f != self.before or len(figures) == 1]
        weights = np.array([weight for weight, _ in fresh])
        choice = int(self.rng.choice(len(fresh), p=weights / weights.sum()))
        self.before = fresh[choice][1]
        for beat, length in self.before:
            yield self._hit(group[int(beat) - 1].at(AND if beat % 1 else 0.0), length)

    def _chunk(self, group: tuple[Beat, ...]) -> Iterator[Hit]:
        for beat in group:
            hit = self._hit(beat.onset, 0.0)
            yield replace(hit, strummed=True)

    def _hit(self, tick: int, length: float) -> Hit:
        """The chord at a tick, or the one that arrives on the beat right after its "and"."""
        beat = self.plan.beat_at(tick)
        here = self.plan.span_index(tick)
        early = tick > beat.onset and self._arrives(beat.end)
        beats = length or self.comping.short
        if self.plan.brushes:
            beats = max(beats, self.comping.ballad)
        span = here + 1 if early else here
        length = round(beats * beat.length)
        return Hit(tick, self.plan.form.end, span, length, early, long=beats >= LONG)

    def _arrives(self, tick: int) -> bool:
        """Whether a chord arrives here that may be anticipated."""
        index = self.plan.span_index(tick)
        span = self.plan.form.spans[index]
        return span.onset == tick < self.plan.stop

    def _passed_over(self, stated: set[int]) -> Iterator[Hit]:
        """Chords that no figure struck, if they last a beat."""
        for index, span in enumerate(self.plan.form.spans):
            beat = self.plan.beat_at(span.onset)
            lasts = span.end - span.onset
            if index in stated or lasts < beat.length or span.onset >= self.plan.stop:
                continue
            late = lasts > beat.length and self.rng.random() < RESTATED_LATE
            on_beat = beat.onset == span.onset
            yield self._hit(beat.at(AND) if late and on_beat else span.onset, 0.0)

    def _in_order(self, found: list[Hit]) -> list[Hit]:
        """In order of time, one at a time, each ending before the next and with its chord."""
        spans = self.plan.form.spans
        sounding = [hit for hit in found if spans[hit.span].chord.sounds]
        hits = sorted({hit.onset: hit for hit in sounding}.values(), key=lambda h: h.onset)
        kept: list[Hit] = []
        for hit in hits:
            restated = kept and kept[-1].early and kept[-1].span == hit.span
            at_once = restated and hit.onset == spans[hit.span].onset
            if not at_once or hit.strummed:
                kept.append(hit)
        ends = [hit.onset for hit in kept[1:]] + [self.plan.form.end]
        return [
            replace(hit, end=min(end, spans[hit.span].end))
            for hit, end in zip(kept, ends, strict=False)
        ]
