"""Parts of a performance moved, cut and joined."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from phrasing.feel import NO_BREATH, Feel, Swing
from phrasing.feelfile import STRAIGHT
from phrasing.marking.marking import Marking
from phrasing.performing import clock, dynamics, life
from phrasing.performing.dynamics import Shape
from phrasing.performing.swing import Swinging, SwingMap, SwingRatio, swing_map, swinging
from phrasing.score.instruments import DEFAULT, Instrument
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bar, Bools, Floats, Ints, TempoMap
from phrasing.style import chosen

DRUMS = 0
"""The ``program`` of a drum part, which plays General MIDI drum keys (channel 10)."""


@dataclass(frozen=True, eq=False)
class Curve:
    """A controller over time: at ``ticks`` (ascending) it takes ``values`` and holds them.

    ``expression``: dB added to the part, 0 or below. ``bend``: semitones.
    """

    kind: Literal["expression", "bend"]
    ticks: Ints
    values: Floats


@dataclass(frozen=True, eq=False)
class Part:
    """One player. Columns have one entry a sounded note, in order of onset.

    ``onset`` and ``release``: ticks of performed time (960 to the quarter), already swung
    and laid back; ``Performance.tempos.seconds`` turns them into seconds. ``pitch``: MIDI
    number or drum key. ``velocity``: 1 to 127. ``level``: dB against the plain note
    (velocity ``Feel.plain_velocity``), as it is to be heard. ``brightness``: -1 to 1.
    ``source``: index of the note in the melody (a grace note has its main note's), -1 where
    there is none. ``program``: General MIDI program from 1, or ``DRUMS``.
    ``gain``: dB by which the whole part is set in a mix. ``kit``: the drum set of a drum part,
    from 1 (General MIDI 2 drum sets: 1 standard, 33 jazz, 41 brush). ``pan``: its seat, from
    -1 (left) to 1 (right). ``place``: LU against the melody at which the whole part is to be
    heard, on any soundfont; None leaves it to its gain. ``breath``: dB against its note of
    the air that is heard at each tongued attack; None where none is.
    """

    name: str
    program: int
    onset: Ints
    release: Ints
    pitch: Ints
    velocity: Ints
    level: Floats
    brightness: Floats
    source: Ints
    curves: tuple[Curve, ...] = ()
    gain: float = 0.0
    kit: int = 1
    pan: float = 0.0
    place: float | None = None
    breath: float | None = None

    @property
    def is_drums(self) -> bool:
        """Whether it plays the drum kit."""
        return self.program == DRUMS


@dataclass(frozen=True, eq=False)
class Performance:
    """All that sounds: the parts, and the clock they share.

    ``bars`` are the melody's, on the same ticks; ``end`` (ticks) is where the last bar ends.
    """

    parts: tuple[Part, ...]
    tempos: TempoMap
    bars: tuple[Bar, ...]
    title: str
    end: int
    swing: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Timing:
    """When the notes come: columns of performed ticks (fractional), one entry a note.

    ``onset``; ``end`` is where the written length ends. ``ratio`` is the swing ratio at the
    start of the piece; ``swung`` turns any tick of score time into performed time.
    """

    onset: Floats
    end: Floats
    ratio: float
    swung: Callable[[ArrayLike], Floats]


def timing(
    melody: Melody, feel: Feel, *, lay_back: bool = False, straight: bool = False
) -> Timing:
    """The melody's notes in performed time.

    Alone, it swings at the melody's own ratio. With a rhythm section (``lay_back``) it takes
    the ride's beat, comes late on the beats and meets the ride on the off-beats.
    ``straight``: even eighths.

    >>> timing(melody("C5:1 D5:1"), Feel()).onset.round().tolist()
    [0.0, 629.0]
    """
    ways = swinging(melody, feel.swing, ride=lay_back)
    if straight:
        ways = (Swinging(0, SwingRatio(Swing(by_tempo=STRAIGHT))),)
    beats = clock.uneven(swing_map(melody, ways, feel.swing.sixteenths), feel.wander)

    def swung(ticks: ArrayLike) -> Floats:
        moved = beats.swung(ticks)
        late = _late(moved, beats, melody.tempos, feel) if lay_back else 0.0
        drift = clock.drift(moved, beats, melody.tempos, feel.wander)
        return np.asarray(np.maximum(moved + late + drift, 0.0))

    return Timing(
        swung(melody.onset),
        swung(melody.onset + melody.length),
        float(_first(ways).at(melody.tempos.tempos[0])),
        swung,
    )


def _first(ways: Sequence[Swinging]) -> Swinging:
    """What holds at the start."""
    return [way for way in ways if way.onset <= 0][-1]


def _late(ticks: Floats, beats: SwingMap, tempos: TempoMap, feel: Feel) -> Floats:
    """Ticks by which the soloist is late: all of it on a beat, none on its off-beat."""
    if len(beats.off) == 0:
        return np.zeros_like(ticks)
    beat = np.clip(np.searchsorted(beats.starts, ticks, "right") - 1, 0, len(beats.off) - 1)
    start, end = beats.starts[beat], beats.starts[beat + 1]
    inside = (ticks - start) / (end - start)
    off = beats.off[beat]
    share = np.where(inside < off, 1.0 - inside / off, (inside - off) / (1.0 - off))
    at = tempos.at(ticks)
    lag = np.interp(at, *np.array(feel.lay_back.by_tempo).T) * at / 60.0 * TICKS
    lag = lag * clock.leaning(ticks, beats, feel.wander)
    return np.asarray(np.clip(share, 0.0, 1.0) * lag)


def shape_of(melody: Melody, marking: Marking | None, feel: Feel, times: Timing) -> Shape:
    """Level, gate and brightness of each note (plain where there is no marking), in each
    section those of its style.

    >>> tune, feel = melody("C5:1 D5:1"), Feel()
    >>> shape_of(tune, None, feel, timing(tune, feel)).level.tolist()
    [0.0, 0.0]
    """
    if marking is None:
        return dynamics.plain_shape(melody, feel)
    written = melody.tempos.seconds(times.end) - melody.tempos.seconds(times.onset)
    shape = dynamics.shaped(melody, marking, feel, written)
    for style, there in marking.other_styles:
        own = style.instead_of(marking.style, feel)
        shape = shape.over(dynamics.shaped(melody, marking, own, written), there)
    return shape


def perform(
    melody: Melody,
    marking: Marking | None,
    feel: Feel | None = None,
    *,
    instrument: Instrument = DEFAULT,
    lay_back: bool = False,
    straight: bool = False,
    name: str = "Melody",
    shape: Shape | None = None,
) -> Performance:
    """Perform a melody: shaped as its marking says, or plain without one.

    Plain and shaped have the same notes at the same onsets. ``lay_back`` and ``straight``
    as in ``timing``; ``name`` names the part. ``shape``: level, gate and brightness of each
    note where they are settled already, as for some bars of a longer piece. Without a ``feel``
    it is that of the melody's style.

    >>> perform(melody("C5:1 D5:1"), None).parts[0].onset.tolist()
    [0, 629]
    """
    feel = feel or (marking.style if marking else chosen(melody).style).played()
    times = timing(melody, feel, lay_back=lay_back, straight=straight)
    shape = shape or shape_of(melody, marking, feel, times)
    onset = np.rint(times.onset).astype(np.int64)
    release = _releases(melody, shape, times, onset)
    curves: tuple[Curve, ...] = ()
    breath = None
    if marking is not None and instrument.wind and feel.strength > 0.0:
        curves = _curves(melody, marking, feel, onset, release)
        breath = feel.life.breath if feel.life.breath > NO_BREATH else None
    part = Part(
        name=name,
        program=instrument.program,
        onset=onset,
        release=release,
        pitch=melody.pitch,
        velocity=dynamics.velocities(shape.level, feel),
        level=shape.level,
        brightness=shape.brightness,
        source=np.arange(len(melody), dtype=np.int64),
        curves=curves,
        breath=breath,
    )
    part = _with_graces(part, melody, feel)
    end = max(melody.end, int(part.release.max(initial=0)))
    return Performance((part,), melody.tempos, melody.bars, melody.title, end, (times.ratio,))


def _releases(melody: Melody, shape: Shape, times: Timing, onset: Ints) -> Ints:
    """Releases in ticks: after the onset, and before a note of the same pitch speaks."""
    release = np.rint(times.onset + shape.gate * (times.end - times.onset)).astype(np.int64)
    return freed(onset, release, melody.pitch)


def freed(onset: Ints, release: Ints, pitch: Ints) -> Ints:
    """Releases that let a note end a tick before its own pitch comes again.

    Columns of ticks and MIDI numbers, in any order. Every note lasts a tick at least.

    >>> freed(np.array([0, 480]), np.array([480, 900]), np.array([60, 60])).tolist()
    [479, 900]
    """
    order = np.lexsort((onset, pitch))
    again = pitch[order][1:] == pitch[order][:-1]
    ends, starts = release[order], onset[order]
    ends[:-1] = np.where(again, np.minimum(ends[:-1], starts[1:] - 1), ends[:-1])
    released = np.empty_like(release)
    released[order] = np.maximum(ends, starts + 1)
    return released


def _curves(
    melody: Melody, marking: Marking, feel: Feel, onset: Ints, release: Ints
) -> tuple[Curve, ...]:
    """What notes do while they sound; each begins with nothing left of the one before."""
    following = np.append(onset[1:], np.iinfo(np.int64).max)
    until = np.minimum(release, following)
    starts, tempos = melody.tempos.seconds(onset), melody.tempos
    now = life.situation(melody, marking, tempos.seconds(until) - starts)
    lines: dict[Literal["expression", "bend"], dict[int, float]] = {
        "expression": {},
        "bend": {},
    }
    for note in range(len(melody)):
        for kind, points in life.lines(now, note, feel.life, feel.strength):
            at, values = np.array(points).T
            ticks = np.minimum(np.rint(tempos.ticks(starts[note] + at)), until[note])
            lines[kind].update(zip(ticks.astype(int).tolist(), values.tolist(), strict=True))
            lines[kind].setdefault(int(onset[note]), 0.0)
            if note + 1 < len(melody):
                lines[kind][int(onset[note + 1])] = 0.0
    return tuple(_curve(kind, line) for kind, line in lines.items() if line)


def _curve(kind: Literal["expression", "bend"], line: dict[int, float]) -> Curve:
    ticks = sorted(line)
    return Curve(kind, np.array(ticks, dtype=np.int64), np.array([line[t] for t in ticks]))


def _with_graces(part: Part, melody: Melody, feel: Feel) -> Part:
    """The part with its grace notes, each run just before its note.

    The note before makes room. At the very start there is none, and they are left out.
    """
    rows: list[tuple[int, int, int, int]] = []
    release = part.release.copy()
    for grace in melody.graces:
        at = int(part.onset[grace.note])
        each = round(feel.line.grace * float(melody.tempos.at(at)) / 60.0 * TICKS)
        before = int(part.onset[grace.note - 1]) if grace.note else 0
        each = min(each, (at - before) // (len(grace.pitches) + 1))
        if each < 1:
            continue
        first = at - each * len(grace.pitches)
        if grace.note:
            release[grace.note - 1] = min(int(release[grace.note - 1]), first)
        rows += [
            (first + k * each, first + (k + 1) * each, pitch, grace.note)
            for k, pitch in enumerate(grace.pitches)
        ]
    if not rows:
        return part
    added = np.array(rows, dtype=np.int64).T
    level = np.full(len(rows), feel.line.grace_level)
    onset = np.concatenate([part.onset, added[0]])
    order = np.argsort(onset, kind="stable")
    return replace(
        part,
        onset=onset[order],
        release=np.concatenate([release, added[1]])[order],
        pitch=np.concatenate([part.pitch, added[2]])[order],
        velocity=np.concatenate([part.velocity, dynamics.velocities(level, feel)])[order],
        level=np.concatenate([part.level, level])[order],
        brightness=np.concatenate([part.brightness, np.zeros(len(rows))])[order],
        source=np.concatenate([part.source, added[3]])[order],
    )


def moved(part: Part, ticks: int) -> Part:
    """The part, ``ticks`` later (or earlier, below 0).

    >>> moved(perform(melody("C5:1 D5:1"), None).parts[0], 960).onset.tolist()
    [960, 1589]
    """
    curves = tuple(replace(curve, ticks=curve.ticks + ticks) for curve in part.curves)
    return replace(part, onset=part.onset + ticks, release=part.release + ticks, curves=curves)


def selected(part: Part, kept: Bools) -> Part:
    """The part with only these of its rows; its curves stay.

    >>> part = perform(melody("C5:1 D5:1"), None).parts[0]
    >>> selected(part, np.array([True, False])).pitch.tolist()
    [72]
    """
    return _rows(part, kept, part.curves)


def of_notes(part: Part, notes: ArrayLike) -> Part:
    """Those notes of the part that come from these notes of the melody (indices).

    >>> of_notes(perform(melody("C5:1 D5:1"), None).parts[0], [1]).pitch.tolist()
    [74]
    """
    kept = np.isin(part.source, np.asarray(notes))
    if not kept.any():
        return _rows(part, kept, ())
    first, last = int(part.onset[kept].min()), int(part.release[kept].max())
    curves = []
    for curve in part.curves:
        inside = (curve.ticks >= first) & (curve.ticks <= last)
        if inside.any():
            curves.append(Curve(curve.kind, curve.ticks[inside], curve.values[inside]))
    return _rows(part, kept, tuple(curves))


def _rows(part: Part, kept: Bools, curves: tuple[Curve, ...]) -> Part:
    return replace(
        part,
        onset=part.onset[kept],
        release=part.release[kept],
        pitch=part.pitch[kept],
        velocity=part.velocity[kept],
        level=part.level[kept],
        brightness=part.brightness[kept],
        source=part.source[kept],
        curves=curves,
    )


def joined(parts: Sequence[Part]) -> Part:
    """Parts of one player one after the other as a single part, in order of onset.

    >>> part = perform(melody("C5:1 D5:1"), None).parts[0]
    >>> joined([part, moved(part, 1920)]).onset.tolist()
    [0, 629, 1920, 2549]
    """
    order = np.argsort(np.concatenate([part.onset for part in parts]), kind="stable")
    curves = []
    for kind in ("expression", "bend"):
        same = [curve for part in parts for curve in part.curves if curve.kind == kind]
        if same:
            ticks = np.concatenate([curve.ticks for curve in same])
            by_tick = np.argsort(ticks, kind="stable")
            values = np.concatenate([curve.values for curve in same])
            curves.append(Curve(same[0].kind, ticks[by_tick], values[by_tick]))
    return replace(
        parts[0],
        onset=np.concatenate([part.onset for part in parts])[order],
        release=np.concatenate([part.release for part in parts])[order],
        pitch=np.concatenate([part.pitch for part in parts])[order],
        velocity=np.concatenate([part.velocity for part in parts])[order],
        level=np.concatenate([part.level for part in parts])[order],
        brightness=np.concatenate([part.brightness for part in parts])[order],
        source=np.concatenate([part.source for part in parts])[order],
        curves=tuple(curves),
    )
