"""Comping: short and long chords that leave room, anticipations, the guitar's four-to-a-bar."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from phrasing.band.notation import AND, Figure, bar_of, one_of
from phrasing.band.plan import Beat, Plan, grouped_beats
from phrasing.band.strokes import Stroke
from phrasing.band.voicing import Instrument, Voicing, led, voicings_of
from phrasing.feel import Comping
from phrasing.score.meters import Floats

RESTATED_LATE = 0.4
"""How often a chord that the figure passed over comes on the "and" after its arrival."""
MOST_CHUNKS = 4
"""Bars of the guitar's quarters in a row."""
LONG = 0.9
"""Beats from which a chord counts as long."""
CROWDED = 2
"""Notes of the melody in a beat in which no chord is restated."""
FEWEST = 2
"""Notes without which a chord is not struck, where the melody leaves no more."""
NEAR = 2
"""Semitones around the melody's notes that are its register, too."""


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

    @property
    def sounds_to(self) -> int:
        """The tick at which it falls silent."""
        return self.end if self.longest is None else min(self.end, self.onset + self.longest)


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
    choices = [known[hit.span] for hit in hits]
    beside = [
        _beside_melody(hit, voicings, plan, comping)
        for hit, voicings in zip(hits, choices, strict=True)
    ]
    return [
        stroke
        for hit, voicing in zip(hits, led(choices, comping, rng, beside), strict=True)
        for stroke in _struck(hit, voicing, plan, comping)
    ]


def _beside_melody(hit: Hit, voicings: list[Voicing], plan: Plan, comping: Comping) -> Floats:
    """What each voicing costs for rubbing with the melody, and for lying in its register."""
    beat, ear = plan.beat_at(hit.onset).length, plan.ear
    end = hit.sounds_to
    near = ear.pitch[ear.during(hit.onset - beat, end + beat)]
    if not len(near):
        return np.zeros(len(voicings))
    low, high = int(near.min()) - NEAR, int(near.max()) + NEAR
    clashing = ear.rubbing(hit.onset, end)
    dear = dict.fromkeys(range(low, high + 1), comping.beside)
    for pitch in clashing:
        dear[pitch] = dear.get(pitch, 0.0) + comping.clash
    return np.array([sum(dear.get(pitch, 0.0) for pitch in v.pitches) for v in voicings])


def _struck(hit: Hit, voicing: Voicing, plan: Plan, comping: Comping) -> Iterator[Stroke]:
    """The notes of a chord, but for those that would rub with the melody."""
    level = comping.strum if hit.strummed else comping.level
    level += comping.early * hit.early + comping.long * hit.long + plan.growth(hit.onset)
    ends = [(pitch, _until(pitch, hit, plan)) for pitch in voicing.pitches]
    sounding = [(pitch, end) for pitch, end in ends if end > hit.onset]
    if len(sounding) < FEWEST:
        return
    last = max(len(sounding) - 1, 1)
    for i, (pitch, end) in enumerate(sounding):
        after = comping.roll * i / last
        yield Stroke(hit.onset, end, pitch, level, longest=hit.longest, after=after)


def _until(pitch: int, hit: Hit, plan: Plan) -> int:
    """Where a note is let go: before it rubs, if it has sounded for a beat by then."""
    rubs = plan.ear.rub(pitch, hit.onset, hit.sounds_to)
    if rubs is None:
        return hit.end
    return rubs if rubs - hit.onset >= plan.beat_at(hit.onset).length else hit.onset


class Comper:
    """Finds the rhythm of one play-along's chords."""

    def __init__(
        self, plan: Plan, comping: Comping, instrument: Instrument, rng: np.random.Generator
    ) -> None:
        self.plan, self.comping, self.instrument, self.rng = plan, comping, instrument, rng
        self.before: Figure | None = None
        self.chunked = 0

    def hits(self) -> list[Hit]:
        """All chords in order, every chord symbol of a beat or more among them."""
        found: list[Hit] = []
        for index, beats in self.plan.playing():
            struck = self.plan.broken.get(index)
            if struck is not None:
                found += [self._hit(tick, 0.0) for tick in struck]
            elif index not in self.plan.silent:
                chunks = self._chunks(index)
                for group in grouped_beats(beats):
                    found += self._chunk(group) if chunks else self._figure(index, group)
        found = [hit for hit in found if not self._leads_into_silence(hit)]
        found += self._passed_over({hit.span for hit in found})
        final = self.plan.form.final
        if final is not None:
            last = len(self.plan.form.spans) - 1
            beat = self.plan.beat_at(final).length
            longest = beat // 2 if self.plan.form.short else None
            found.append(Hit(final, self.plan.form.end, last, longest, long=longest is None))
        return self._in_order(found)

    def _leads_into_silence(self, hit: Hit) -> bool:
        """Whether it anticipates the chord of a bar in which the chords rest."""
        arrives = self.plan.form.spans[hit.span].onset
        return hit.early and self.plan.beat_at(arrives).bar in self.plan.silent

    def _chunks(self, index: int) -> bool:
        """Whether the guitar plays quarters in this bar; not for ever."""
        tired = self.chunked >= MOST_CHUNKS
        may = self.instrument == "guitar" and self.plan.groove_in(index).chunks
        wants = may and self.rng.random() < self.comping.chunk
        self.chunked = self.chunked + 1 if wants and not tired else 0
        return wants and not tired

    def _figure(self, index: int, group: tuple[Beat, ...]) -> Iterator[Hit]:
        number = self.plan.place_in_chorus(index)
        figures = bar_of(self.plan.groove_in(index).chords, len(group), number)
        likely = [self._likely(spots, group) for _, spots in figures]
        fresh = [
            chance * (spots != self.before or len(figures) == 1)
            for chance, (_, spots) in zip(likely, figures, strict=True)
        ]
        self.before = one_of(figures, self.rng, fresh)
        for spot in self.before:
            yield self._hit(group[spot.place].at(spot.part), float(spot.note or 0.0))

    def _likely(self, spots: Figure, group: tuple[Beat, ...]) -> float:
        """How well a figure suits the place: fuller later on, and in the melody's gaps."""
        comping, ear = self.comping, self.plan.ear
        suits = comping.denser * (self.plan.intensity(group[0].onset) - 0.5) * len(spots)
        for spot in spots:
            beat = group[spot.place]
            suits -= comping.crowd * max(ear.struck(beat.onset, beat.end) - 1, 0)
            suits += comping.answer * ear.leaves_room(beat.onset, beat.end)
        return float(np.exp(suits))

    def _chunk(self, group: tuple[Beat, ...]) -> Iterator[Hit]:
        for beat in group:
            hit = self._hit(beat.onset, 0.0)
            yield replace(hit, strummed=True)

    def _hit(self, tick: int, length: float) -> Hit:
        """The chord at a tick, or the one that arrives on the beat right after its "and"."""
        beat = self.plan.beat_at(tick)
        here = self.plan.span_index(tick)
        early = tick > beat.onset and self._arrives(beat.end)
        beats = length or self.plan.groove_in(beat.bar).short or self.comping.short
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
            if beat.bar in self.plan.silent:
                continue
            late = lasts > beat.length and self.rng.random() < RESTATED_LATE
            beat = self._quiet(beat, span.end)
            late = late and beat.onset >= span.onset
            yield self._hit(beat.at(AND) if late else max(beat.onset, span.onset), 0.0)

    def _quiet(self, beat: Beat, end: int) -> Beat:
        """The first beat of a chord in which the melody is not busy; its first if all are."""
        beats = [b for b in self.plan.beats_in(beat.bar) if beat.onset <= b.onset < end]
        ear = self.plan.ear
        return next((b for b in beats if ear.struck(b.onset, b.end) < CROWDED), beat)

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
            replace(hit, end=min(end, spans[hit.span].end, self._silence_after(hit)))
            for hit, end in zip(kept, ends, strict=False)
        ]

    def _silence_after(self, hit: Hit) -> int:
        """The tick at which the chords' next silent bar begins."""
        bar = self.plan.beat_at(hit.onset).bar
        following = [index for index in self._silences if index > bar]
        return self.plan.form.bars[following[0]].onset if following else self.plan.form.end

    @cached_property
    def _silences(self) -> list[int]:
        return sorted(self.plan.silent)
