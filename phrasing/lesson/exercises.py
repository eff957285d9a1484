"""Practice material from a melody, in the order of practice: phrases alone and joined, a ladder
of tempos, call and response, the band without the melody, and all keys round the cycle."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from phrasing.band.band import Backing, Player, accompany
from phrasing.errors import PhrasingError
from phrasing.lesson.lesson import Lesson
from phrasing.lesson.playalong import melody_over
from phrasing.marking.marking import Marking
from phrasing.performing.performance import Part, Performance, joined, moved, of_notes, perform
from phrasing.score.keys import keys_of
from phrasing.score.melody import Melody
from phrasing.score.meters import Bar, TempoMap, checked_tempo
from phrasing.score.pitches import in_signatures, name_of
from phrasing.score.transposing import Move, fit, move_asked, transposed
from phrasing.score.words import ratio_name

CYCLE = 12


@dataclass(frozen=True)
class Ladder:
    """Tempos to climb: ``first`` to ``last`` by ``step``, in quarter notes a minute or, with
    ``percent``, in hundredths of the melody's own tempo."""

    first: float = 60.0
    last: float = 100.0
    step: float = 5.0
    percent: bool = True

    def tempos(self, own: float) -> tuple[float, ...]:
        """The tempos (quarter notes a minute), the last one included."""
        scale = own / 100.0 if self.percent else 1.0
        rungs = np.arange(self.first, self.last + self.step / 1000, self.step)
        if len(rungs) == 0 or abs(rungs[-1] - self.last) > self.step / 100:
            rungs = np.append(rungs, self.last)
        return tuple(checked_tempo(float(round(float(rung) * scale))) for rung in rungs)


def ladder_from(first: str, last: str, step: str) -> Ladder:
    """``60%``, ``100%``, ``5%`` or ``100``, ``160``, ``10`` as a ladder.

    Raises ``PhrasingError`` where they do not go together or lead nowhere.

    >>> ladder_from("60%", "100%", "20%")
    Ladder(first=60.0, last=100.0, step=20.0, percent=True)
    """
    read = [re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(%?)\s*", text) for text in (first, last, step)]
    numbers = [float(m[1]) for m in read if m]
    percent = {m[2] == "%" for m in read if m}
    if len(numbers) < 3 or len(percent) > 1:
        raise PhrasingError(
            f"Tempos from {first} to {last} by {step}: write all three as in 60%, 100%, 5%, or "
            "all three in quarter notes a minute, as in 100, 160, 10."
        )
    low, high, by = numbers
    if not 0 < low <= high or by <= 0 or (high - low) / by > 100:
        raise PhrasingError(f"Tempos from {first} to {last} by {step}: that is no ladder.")
    return Ladder(low, high, by, percent.pop())


@dataclass(frozen=True, eq=False)
class Exercise:
    """One file to practise with: its ``name`` (for the file), its ``title``, what sounds.

    ``group``: the heading it stands under. ``ratio``: the swing ratio of its melody, None
    where the rhythm section's beat makes it. ``lesson``: the melody as it is played here, of
    which the performance plays some notes or all. ``bars``: the first and the last bar (by
    index), and ``later``: by how many ticks they are later in the performance, None where each
    comes several times.
    """

    group: str
    name: str
    title: str
    tempo: float
    ratio: float | None
    performance: Performance
    lesson: Lesson
    bars: tuple[int, int]
    later: int | None = None

    @property
    def sung(self) -> Part | None:
        """The part that plays the melody; None where that is the student's."""
        parts = self.performance.parts
        return next((part for part in parts if (part.source >= 0).any()), None)


@dataclass(frozen=True)
class Unit:
    """Notes ``first`` to ``last`` and bars ``low`` to ``high`` (indices, all inside).

    ``pickup``: ticks by which the notes begin before the first bar.
    """

    first: int
    last: int
    low: int
    high: int
    pickup: int


def exercises(
    lesson: Lesson,
    ladder: Ladder,
    *,
    bars: int = 2,
    keys: Sequence[str] = (),
    players: Sequence[Player] = (),
    seed: int = 0,
) -> Iterator[Exercise]:
    """All exercises of a lesson, in the order of practice.

    ``bars``: how many bars a phrase to practise has at least; ``keys``: names of keys, or
    ``("all",)``; ``players``: who of the band plays along with the whole melody. Raises
    ``PhrasingError`` for a phrase of no bars, a tempo or a key that there is not.

    >>> found = exercises(lesson("C5:2 D5:2 E5:4"), ladder_from("80%", "100%", "20%"))
    >>> [each.group for each in found][:2]
    ['The whole melody', 'The whole melody']
    """
    if bars < 1:
        raise PhrasingError(f"Phrases of {bars} bars: choose 1 or more.")
    tempos = ladder.tempos(lesson.tempo)
    slow, fast = at_tempo(lesson, tempos[0]), at_tempo(lesson, tempos[-1])
    found = units(lesson, bars)
    if len(found) > 1:
        yield from (_phrase(slow, unit) for unit in built_up(found) if unit != _whole(found))
    rungs = [at_tempo(lesson, tempo) for tempo in tempos]
    for rung in rungs:
        yield _with_band(rung, "The whole melody", "whole", players, seed)
    for rung in rungs:
        yield _call_and_response(rung, found, players, seed)
    if _playing(lesson.melody, players):
        yield from (_minus_one(rung, players, seed) for rung in rungs)
    for key in _keys(lesson, keys):
        yield _in_key(fast, key, players, seed)


def at_tempo(lesson: Lesson, tempo: float) -> Lesson:
    """The lesson at another tempo (quarter notes a minute), with the same marks."""
    return replace(lesson, melody=lesson.melody.with_tempo(tempo))


def units(lesson: Lesson, bars: int) -> tuple[Unit, ...]:
    """Phrases to practise: ``bars`` bars, or a few more (less than twice) to their end.

    None goes over a repeat sign.
    """
    melody = lesson.melody
    starts = _phrase_starts(lesson)
    first_bar = 1 if melody.pickup else 0
    found: list[Unit] = []
    note, bar, count = 0, first_bar, len(melody.bars)
    while bar < count and note < len(melody):
        last = _next_repeat(melody, bar)
        ends = range(bar + bars, min(bar + 2 * bars, last + 1))
        whole = [end for end in ends if end == last or end in starts]
        after = min(whole[0] if whole else bar + bars, last)
        next_note = starts.get(after, _first_note(melody, after))
        if next_note > note:
            pickup = max(0, melody.bars[bar].onset - int(melody.onset[note]))
            found.append(Unit(note, next_note - 1, bar, after - 1, pickup))
        note, bar = next_note, after
    return tuple(found)


def _next_repeat(melody: Melody, bar: int) -> int:
    """The next bar (by index) at which the player has gone back; the count without any."""
    numbers = [each.number for each in melody.bars]
    back = (i for i in range(bar + 1, len(numbers)) if numbers[i] <= numbers[i - 1])
    return next(back, len(numbers))


def _first_note(melody: Melody, bar: int) -> int:
    """The first note from a bar on; the count of notes after the last bar."""
    if bar >= len(melody.bars):
        return len(melody)
    return int(np.searchsorted(melody.onset, melody.bars[bar].onset))


def _phrase_starts(lesson: Lesson) -> dict[int, int]:
    """Bars (by index) with which a phrase begins, and its first note, pickup included."""
    melody = lesson.melody
    starts = {}
    for phrase in lesson.marking.phrases:
        bar = int(melody.bar_index[phrase.first])
        late = melody.in_bar[phrase.first] * 2 >= melody.bars[bar].meter.bar_length
        starts[bar + 1 if late else bar] = phrase.first
    return starts


def built_up(found: Sequence[Unit]) -> Iterator[Unit]:
    """Each unit alone, neighbours joined, those joined again, and so on to the whole."""
    if len(found) == 1:
        yield found[0]
        return
    half = 1 << ((len(found) - 1).bit_length() - 1)
    yield from built_up(found[:half])
    yield from built_up(found[half:])
    yield _whole(found)


def _whole(found: Sequence[Unit]) -> Unit:
    first, last = found[0], found[-1]
    return Unit(first.first, last.last, first.low, last.high, first.pickup)


def _phrase(lesson: Lesson, unit: Unit) -> Exercise:
    """A phrase alone after a bar of count-in, to the note that its line arrives on."""
    melody = lesson.melody
    start = melody.bars[unit.low].onset - unit.pickup
    clicks = _band(lesson, _chart(melody, [Turn(unit, "player")], unit.pickup), (), 0)
    part = perform(melody, lesson.marking, lesson.feel, instrument=lesson.instrument).parts[0]
    notes = of_notes(part, np.arange(unit.first, arrives(lesson, unit) + 1))
    later = clicks.form.offset() - start
    placed = replace(moved(notes, later), place=0.0)
    named = _bars_named(melody, unit)
    return Exercise(
        "Phrases, alone and joined",
        named.replace(" ", "-"),
        f"{named.capitalize()} at {lesson.tempo:g}, swing {ratio_name(lesson.ratio)}",
        lesson.tempo,
        lesson.ratio,
        clicks.performance(melody.title, [placed]),
        lesson,
        (unit.low, unit.high),
        later,
    )


def arrives(lesson: Lesson, unit: Unit) -> int:
    """The note that a unit played alone ends on.

    Its last, or the downbeat behind its bars where the phrase runs on to that without a rest.

    >>> line = lesson("C5:2 D5:2 E5:2 F5:2 G5:4 r:4")
    >>> [arrives(line, unit) for unit in units(line, 1)]
    [4, 4]
    """
    melody, after = lesson.melody, unit.last + 1
    if after >= len(melody) or after in {phrase.first for phrase in lesson.marking.phrases}:
        return unit.last
    bar = melody.bars[unit.high]
    runs_on = melody.onset[unit.last] + melody.length[unit.last] == melody.onset[after]
    on_line = melody.onset[after] == bar.onset + bar.length
    return after if runs_on and on_line else unit.last


def _bars_named(melody: Melody, unit: Unit) -> str:
    first, last = melody.bars[unit.low], melody.bars[unit.high]
    if unit.low == unit.high:
        named = f"bar {first.number}"
    else:
        named = f"bars {first.number}-{last.number}"
    if last.number < first.number or first.passing < last.passing:
        return f"{named} over the repeat"
    return f"{named} again" if first.passing > 1 else named


def _with_band(
    lesson: Lesson, group: str, name: str, players: Sequence[Player], seed: int, key: str = ""
) -> Exercise:
    """The whole melody over its band, or over the drums where there are no chords."""
    backing = _band(lesson, lesson.melody, players, seed, lesson.marking)
    part = melody_over(backing, lesson.melody, lesson.marking, lesson.instrument)
    return Exercise(
        group,
        f"{name}-at-{lesson.tempo:g}",
        f"{key or 'All of it'} at {lesson.tempo:g}, ride {ratio_name(backing.ratio)}",
        lesson.tempo,
        None,
        backing.performance(lesson.melody.title, [part]),
        lesson,
        (0, len(lesson.melody.bars) - 1),
        backing.form.offset(),
    )


def _minus_one(lesson: Lesson, players: Sequence[Player], seed: int) -> Exercise:
    """The band as under the whole melody, which is the student's to play."""
    backing = _band(lesson, lesson.melody, players, seed, lesson.marking)
    return Exercise(
        "The band without the melody",
        f"minus-one-at-{lesson.tempo:g}",
        f"You play the melody, at {lesson.tempo:g}",
        lesson.tempo,
        None,
        backing.performance(lesson.melody.title),
        lesson,
        (0, len(lesson.melody.bars) - 1),
        backing.form.offset(),
    )


Who = Literal["nobody", "player", "student"]


@dataclass(frozen=True)
class Turn:
    """A unit's bars, and whose turn they are; the band plays on through them."""

    unit: Unit
    who: Who


def turns(melody: Melody, found: Sequence[Unit]) -> Iterator[Turn]:
    """Each phrase for the player, then its bars for the student.

    A phrase's pickup has bars of its own before it, those that come before it in the melody:
    in the student's bars it would be in the way.
    """
    for number, unit in enumerate(found):
        if number and unit.pickup:
            yield Turn(_bars_before(melody, unit), "nobody")
        yield Turn(unit, "player")
        yield Turn(unit, "student")


def _bars_before(melody: Melody, unit: Unit) -> Unit:
    """The bars before a unit that its pickup reaches into."""
    low = unit.low - 1
    while low > 0 and melody.bars[unit.low].onset - melody.bars[low].onset < unit.pickup:
        low -= 1
    return Unit(unit.first, unit.first - 1, low, unit.low - 1, 0)


def _call_and_response(
    lesson: Lesson, found: Sequence[Unit], players: Sequence[Player], seed: int
) -> Exercise:
    """Each phrase played, then its bars once more for the student over the band."""
    melody = lesson.melody
    order = list(turns(melody, found))
    backing = _band(lesson, _chart(melody, order, found[0].pickup), players, seed)
    chorus = perform(
        melody, lesson.marking, backing.feel, instrument=lesson.instrument, lay_back=True
    ).parts[0]
    calls: list[Part] = []
    at = backing.form.choruses[0]
    for turn in order:
        if turn.who == "player":
            notes = of_notes(chorus, np.arange(turn.unit.first, turn.unit.last + 1))
            calls.append(moved(notes, at - melody.bars[turn.unit.low].onset))
        at += _length(melody, turn.unit)
    return Exercise(
        "Call and response",
        f"call-and-response-at-{lesson.tempo:g}",
        f"Each phrase, then the same bars for you, at {lesson.tempo:g}",
        lesson.tempo,
        None,
        backing.performance(melody.title, [replace(joined(calls), place=0.0)]),
        lesson,
        (0, len(melody.bars) - 1),
    )


def _length(melody: Melody, unit: Unit) -> int:
    return sum(bar.length for bar in melody.bars[unit.low : unit.high + 1])


def _keys(lesson: Lesson, wished: Sequence[str]) -> tuple[str, ...]:
    """The keys asked for; ``all`` goes round the cycle of fourths from the melody's own."""
    if tuple(wished) != ("all",):
        return tuple(wished)
    own = keys_of(lesson.melody)[0]
    places = [in_signatures(own.fifths - step) + 3 * own.minor for step in range(CYCLE)]
    return tuple(name_of(place) + (" minor" if own.minor else "") for place in places)


def _in_key(lesson: Lesson, key: str, players: Sequence[Player], seed: int) -> Exercise:
    asked = move_asked(lesson.melody, f"to {key}")
    octave = fit(transposed(lesson.melody, f"to {key}"), lesson.instrument).octaves or 0
    melody = transposed(lesson.melody, f"to {key}", octave)
    move = Move(
        lesson.move.semitones + asked.semitones + 12 * octave, lesson.move.fifths + asked.fifths
    )
    moved_lesson = replace(lesson, melody=melody, move=move, octave=lesson.octave + octave)
    plain = key.replace("♭", "b").replace("♯", "#").replace(" ", "-")
    name = f"in-{plain.replace('#', '-sharp')}"
    title = f"In concert {key[:1].upper()}{key[1:].replace('b', '♭', 1).replace('#', '♯')}"
    return _with_band(moved_lesson, "All keys", name, players, seed, title)


def _playing(melody: Melody, players: Sequence[Player]) -> list[Player]:
    """Who plays: nobody but the drums where there are no chords."""
    return [player for player in players if melody.chords or player == "drums"]


def _band(
    lesson: Lesson,
    melody: Melody,
    players: Sequence[Player],
    seed: int,
    marking: Marking | None = None,
) -> Backing:
    """The band over a melody or chart."""
    return accompany(
        melody,
        lesson.feel,
        count_in=1,
        parts=_playing(melody, players),
        ending="none",
        style=lesson.style,
        marking=marking,
        seed=seed,
    )


def _chart(melody: Melody, order: Sequence[Turn], pickup: int) -> Melody:
    """The bars, chords and notes of these turns one after the other, as the band hears them."""
    bars: list[Bar] = []
    chords = []
    notes: list[tuple[int, int, int]] = []
    at = pickup
    if pickup:
        meter = melody.bars[order[0].unit.low].meter
        bars.append(Bar(0, pickup, 0, meter, max(0, meter.bar_length - pickup)))
    for turn in order:
        unit = turn.unit
        start = melody.bars[unit.low].onset
        end = start + _length(melody, unit)
        bars += [
            replace(bar, onset=bar.onset - start + at)
            for bar in melody.bars[unit.low : unit.high + 1]
        ]
        before = [chord for chord in melody.chords if chord.onset <= start][-1:]
        inside = [chord for chord in melody.chords if start < chord.onset < end]
        chords += [
            replace(chord, onset=max(chord.onset, start) - start + at)
            for chord in before + inside
        ]
        notes += _notes(melody, turn, at - start)
        at += end - start
    onset, length, pitch = np.array(notes, dtype=np.int64).reshape(-1, 3).T
    return replace(
        melody,
        onset=onset,
        length=np.minimum(length, np.append(onset[1:], at) - onset),
        pitch=pitch,
        bars=tuple(bars),
        chords=tuple(chords),
        tempos=_steady(melody, order[0].unit),
        sections=(),
        slurs=(),
        phrase_ends=(),
        graces=(),
        marks={},
        inflections={},
        ids=(),
        manners=(),
    )


def _notes(melody: Melody, turn: Turn, shift: int) -> Iterator[tuple[int, int, int]]:
    """Onset, length and pitch of a turn's notes; the student's begin in their own bars."""
    start = melody.bars[turn.unit.low].onset
    for i in range(turn.unit.first, turn.unit.last + 1):
        onset = int(melody.onset[i])
        if turn.who == "player" or onset >= start:
            yield onset + shift, int(melody.length[i]), int(melody.pitch[i])


def _steady(melody: Melody, unit: Unit) -> TempoMap:
    """The tempo that the first unit starts with, throughout."""
    return TempoMap((0,), (float(melody.tempos.at(melody.bars[unit.low].onset)),))
