"""A take without a click, read by the beats that were followed in it.

Each way through the beats (``following``) turns seconds into score time; the quantizer then
reads the notes as it reads a take played to a click, and its evidence decides which way is
believed, and whether the file's own beats are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from phrasing.reading.midi.barlines import (
    COMPOUND_METERS,
    SIMPLE_METERS,
    BarLines,
    Sung,
    likeliest,
)
from phrasing.reading.midi.following import Course, courses, smoothed
from phrasing.reading.midi.quantizing import Quantized, quantize
from phrasing.reading.midi.rhythm import COMPOUND
from phrasing.reading.midi.takes import ENOUGH
from phrasing.reading.midi.tracks import SingleLine, Tidied
from phrasing.score.doubts import Answer, Doubt, pickup_doubt
from phrasing.score.meters import TICKS, Bar, Floats, Meter, TempoMap, bars_of_meters

SLOWEST, FASTEST = 90.0, 200.0
"""Quarter notes a minute between which a take's tempo is looked for."""
LEVEL = {
    "likely by its rhythms": 0.0031,
    "likely by its beats": 0.0023,
    "likely by its beats, for each note": 3.72,
    "a tempo outside": -3.8,
    "off the eighths": -6.34,
    "off the sixteenths": -9.26,
    "room for each note": -0.97,
    "dotted quarters": -1.64,
}
"""What speaks for the level at which a reading counts its beats (see ``_for_level``): nats, so
that the difference of two readings is the log of the odds between them. Fitted (conditional
logit) to 1,110 takes of 310 folk tunes of music21's collections, other ones than those the
tests play; what bar lines tell (``barlines``) adds nothing to it."""
VERY_SAME = 0.005
"""Octaves by which a tempo that was followed differs from a click that it was played to."""
OTHER_TEMPO, OWN_TEMPO = 20.0, 4.0
"""Nats for each octave away from a tempo that was asked for; for the tempo that the file says,
which nobody plays by chance (design parameters)."""
MEANT = 0.15
"""Octaves within which a tempo that was asked for tells how a take is to be read, and not only
how fast it is to be played (design parameter)."""
LOOSE_CLICK = 0.017
"""Seconds of timing noise under which the file's own beats are never doubted."""
FREEDOM, FREEDOM_A_NOTE = 15.0, 6.0
"""Nats by which followed beats must explain the notes better than the file's own, and more
for each note and second of timing noise, since they bend towards the notes. Played to a
click, none of 60 folk tunes with 15 to 25 ms of noise gained so much."""
SAME_TEMPO, SAME_NEEDS = 0.02, 2.0
"""Octaves by which a tempo is the file's own, and how much more following must gain then."""
LONGEST, LONGEST_A_NOTE = 900.0, 4.0
"""Seconds of a take, and of it for each of its notes, that are followed at most."""
RESOLUTION = 0.5
"""Ticks between two positions of a take that can be told apart."""
EIGHTH, SIXTEENTH = TICKS // 2, TICKS // 4
FEWEST = 8
"""Notes that are too few to follow."""
OTHER, NEAR = 0.1, 3.0
"""Octaves by which another tempo differs, and nats by which it may be less likely, to be worth
a word: one chance in twenty."""


@dataclass(frozen=True, eq=False)
class Followed:
    """A reading of a take by beats followed in it.

    ``tempo``: the usual one, ``slow`` and ``fast``: its bounds (quarter notes a minute; the
    tenth slowest and fastest beats left out). ``compound``: its beats are dotted quarters.
    ``release``, ``onset``: ticks of score time, tick 0 at the beat that holds the first note.
    ``found``: what to write. ``worth``: log of the chance, in nats, that the notes sound so;
    ``liking``: the same with what looks usual on paper.
    """

    tempo: float
    slow: float
    fast: float
    compound: bool
    onset: Floats
    release: Floats
    found: Quantized
    worth: float
    liking: float = 0.0


@dataclass(frozen=True)
class Asked:
    """What the teacher says of a take: ``tempo`` (quarter notes a minute), ``meter``,
    ``pickup`` (quarter notes). ``own``: the tempo that the file says."""

    tempo: float | None = None
    meter: Meter | None = None
    pickup: float | None = None
    own: float | None = None


@dataclass(frozen=True, eq=False)
class FreeTake:
    """A take without a click as it is to be written: the ``line`` in score time, its ``bars``
    and steady ``tempos``, what was ``found``, sentences on it (``said``), and what it leaves
    open (``doubts``)."""

    line: SingleLine
    bars: tuple[Bar, ...]
    tempos: TempoMap
    found: Quantized
    said: tuple[str, ...]
    doubts: tuple[Doubt, ...]


def without_click(
    line: SingleLine, found: Quantized, tempos: TempoMap, asked: Asked
) -> FreeTake | None:
    """The take read by its own beats; None where the file's beats are as good.

    ``line`` and ``found``: as read by the file's beats, ``tempos`` those of the file.
    """
    if found.noise < LOOSE_CLICK or len(line.onset) < FEWEST:
        return None
    at, until = (np.asarray(tempos.seconds(t)) for t in (line.onset, line.release))
    if at[-1] - at[0] > min(LONGEST, LONGEST_A_NOTE * len(at)):
        return None
    speed = np.asarray(tempos.at(line.onset), dtype=np.float64) * TICKS / 60
    own = float(tempos.at(line.onset[0]))
    asked = replace(asked, own=own)
    readings = followed(at, until, asked)
    best = max(readings, key=lambda r: r.worth)
    same = _apart(best.tempo, own) < SAME_TEMPO
    if not is_free(found, best.worth, speed, SAME_NEEDS if same else 1.0):
        return None
    return _written(line, readings, asked)


def followed(onset: Floats, release: Floats, asked: Asked) -> list[Followed]:
    """Readings of notes by their beginnings and ends (seconds), the likeliest first."""
    ways = courses(onset)
    readings = _liked([_reading(onset, release, course) for course in ways], ways, asked)
    if asked.meter is not None:
        compound = asked.meter.pulse > TICKS
        readings = [r for r in readings if r.compound == compound] or readings
    return sorted(readings, key=lambda r: -r.liking)


def _liked(readings: list[Followed], ways: list[Course], asked: Asked) -> list[Followed]:
    """The readings, each with what speaks for it.

    A tempo that is asked for counts where it is near one of those with the usual kind of beat;
    elsewhere it only says how fast the piece is to be played.
    """
    freely = [_liking(*each, asked) for each in zip(readings, ways, strict=True)]
    told = asked.tempo
    if told is not None:
        usual = readings[int(np.argmax(freely))].compound
        same_kind = (each for each in readings if each.compound == usual)
        if any(_apart(each.tempo, told) < MEANT for each in same_kind):
            away = [OTHER_TEMPO * _apart(each.tempo, told) for each in readings]
            freely = [one - other for one, other in zip(freely, away, strict=True)]
    return [replace(r, liking=liking) for r, liking in zip(readings, freely, strict=True)]


def is_free(found: Quantized, worth: float, speed: Floats, caution: float = 1.0) -> bool:
    """Whether the notes say that the file's beats are not theirs.

    ``found``: as read by the file's beats; ``speed``: ticks a second at each note; ``worth``
    of the best reading by beats that were followed; ``caution``: how many times more it must
    gain than usual.
    """
    needed = FREEDOM + FREEDOM_A_NOTE * found.noise * min(len(speed), ENOUGH)
    return worth > worth_of(found, speed) + caution * needed


def worth_of(found: Quantized, speed: Floats) -> float:
    """The evidence of a reading in seconds, comparable whatever its tempo."""
    return found.evidence + float(np.log(speed[:ENOUGH]).sum())


def _written(line: SingleLine, readings: list[Followed], asked: Asked) -> FreeTake:
    """The likeliest reading with its bar lines."""
    best = readings[0]
    ways = _bar_lines(line, best, asked)
    meter, pickup = ways[0].meter, _asked_pickup(asked, ways[0])
    lead = meter.bar_length - pickup if pickup > meter.bar_length / 2 else 0
    lead = 0 if asked.pickup is not None else lead
    shift = lead - int(best.found.onset[0])
    found = best.found.later(shift)
    line = _retimed(line, best.onset + shift, best.release + shift)
    end = int(found.onset[-1] + found.length[-1])
    bars = bars_of_meters({0: meter}, end, 0 if lead else pickup)
    tempos = TempoMap((0,), (float(round(best.tempo)),))
    of_bars, pickup_too = _other_bars(ways, asked)
    of_beats = _other_kind(line, readings) if asked.meter is None else None
    others = Others(_other_tempo(readings, asked), of_bars or of_beats, pickup_too)
    said = tuple(_said(best, ways[0], others, asked))
    return FreeTake(line, bars, tempos, found, said, tuple(_doubts(best, ways[0], others)))


def _retimed(line: SingleLine, onset: Floats, release: Floats) -> SingleLine:
    """The line in other score time, and what is reported of it too."""
    told = {
        what: np.interp(places, line.onset, onset).tolist()
        for what, places in vars(line.tidied).items()
    }
    return replace(line, onset=onset, release=release, tidied=Tidied(**told))


def _asked_pickup(asked: Asked, way: BarLines) -> int:
    return way.pickup if asked.pickup is None else round(asked.pickup * TICKS)


def _bar_lines(line: SingleLine, best: Followed, asked: Asked) -> list[BarLines]:
    """The likeliest bar lines; they stand on beats."""
    found = best.found
    usual = COMPOUND_METERS if best.compound else SIMPLE_METERS
    meters = usual if asked.meter is None else (asked.meter,)
    return likeliest(sung(line, found), meters, -int(found.onset[0]) % meters[0].pulse)


def sung(line: SingleLine, found: Quantized) -> Sung:
    """The notes of a line as they are to be written, from the first one on."""
    kept = found.kept
    since = found.onset - int(found.onset[0])
    return Sung(since, found.length, line.pitch[kept], line.velocity[kept])


@dataclass(frozen=True)
class Others:
    """What a take could be as well: a ``tempo`` (quarter notes a minute), a ``meter``, a
    ``pickup`` (quarter notes); None where there is no doubt."""

    tempo: float | None
    meter: Meter | None
    pickup: float | None


def _other_tempo(readings: list[Followed], asked: Asked) -> float | None:
    best = readings[0]
    others = [r for r in readings[1:] if _apart(r.tempo, best.tempo) > OTHER]
    near = others and others[0].liking > best.liking - NEAR
    return float(round(others[0].tempo)) if near and asked.tempo is None else None


def _other_kind(line: SingleLine, readings: list[Followed]) -> Meter | None:
    """The meter of a reading at the same tempo with another kind of beat, if that is close."""
    best = readings[0]
    for other in readings[1:]:
        same_tempo = _apart(other.tempo, best.tempo) < OTHER
        if same_tempo and other.compound != best.compound and other.liking > best.liking - NEAR:
            return _bar_lines(line, other, Asked())[0].meter
    return None


def _other_bars(ways: list[BarLines], asked: Asked) -> tuple[Meter | None, float | None]:
    best = ways[0]
    meter = next((way.meter for way in ways if way.meter != best.meter), None)
    pickup = next((way.pickup for way in ways[1:] if way.meter == best.meter), None)
    return (
        meter if asked.meter is None else None,
        pickup / TICKS if asked.pickup is None and pickup is not None else None,
    )


def _said(best: Followed, way: BarLines, others: Others, asked: Asked) -> Iterator[str]:
    """What the teacher should know, and what else it could be."""
    yield (
        f"It was played without a click, at about {best.tempo:.0f} quarter notes a minute "
        f"({best.slow:.0f} to {best.fast:.0f}); its beats were followed."
    )
    if others.tempo is not None:
        tempo = others.tempo
        yield f"It might also be at about {tempo:.0f}: --tempo {tempo:.0f} reads it so."
    if asked.pickup is None and asked.meter is None:
        yield f"Its meter and bar lines were found from the notes: {_bars_in_words(way)}."
    if others.meter is not None:
        meter = others.meter
        yield f"{meter} would fit nearly as well: --meter {meter} reads it so."
    if others.pickup is not None:
        said = f"{others.pickup:g}"
        yield f"Bar 1 might also start {said} quarter notes in: --pickup {said} reads it so."


def _doubts(best: Followed, way: BarLines, others: Others) -> Iterator[Doubt]:
    """The same as questions, in the order in which one decides the next."""
    if others.tempo is not None:
        tempos = (float(round(best.tempo)), others.tempo)
        answers = (Answer(each, f"{each:g} quarter notes a minute") for each in tempos)
        yield Doubt("tempo", "How fast was it played?", tuple(answers))
    if others.meter is not None:
        meters = (str(way.meter), str(others.meter))
        yield Doubt("meter", "In which meter?", tuple(Answer(each, each) for each in meters))
    if others.pickup is not None:
        yield pickup_doubt(way.pickup / TICKS, others.pickup)


def _bars_in_words(way: BarLines) -> str:
    if not way.pickup:
        return f"{way.meter}, from the first note"
    return (
        f"{way.meter}, bar 1 starts {way.pickup / TICKS:g} quarter notes after the first note"
    )


def _reading(onset: Floats, release: Floats, course: Course) -> Followed:
    beats = smoothed(onset, course)
    compound = course.kind == COMPOUND
    meter = Meter(6, 8) if compound else Meter()
    ticks = [_score_time(at - onset[0], beats, meter.pulse) for at in (onset, release)]
    begin = np.maximum(ticks[0], 0.0)
    end = np.maximum(ticks[1], begin + 1)
    fast, usual, slow = np.quantile(np.diff(beats), (0.1, 0.5, 0.9)) * TICKS / meter.pulse
    bars = bars_of_meters({0: meter}, int(end[-1]) + meter.bar_length)
    found = quantize(begin, end, bars, TempoMap((0,), (60 / usual,)), RESOLUTION)
    speed = np.full(len(onset), TICKS / usual)
    worth = worth_of(found, speed)
    return Followed(60 / usual, 60 / slow, 60 / fast, compound, begin, end, found, worth)


def _score_time(at: Floats, beats: Floats, beat_length: int) -> Floats:
    """Ticks at these seconds; before the first and after the last beat as fast as there."""
    index = np.arange(len(beats), dtype=np.float64)
    inside = np.interp(at, beats, index)
    before = (at - beats[0]) / (beats[1] - beats[0])
    after = index[-1] + (at - beats[-1]) / (beats[-1] - beats[-2])
    place = np.where(at < beats[0], before, np.where(at > beats[-1], after, inside))
    return place * beat_length


def _liking(reading: Followed, course: Course, asked: Asked) -> float:
    """Nats that speak for the level at which a reading counts its beats: twice as fast fits
    the notes as well, but looks odd on paper."""
    evidence = _for_level(reading, course)
    liking = sum(LEVEL[name] * value for name, value in evidence.items())
    is_own = asked.own is not None and _apart(reading.tempo, asked.own) < VERY_SAME
    return liking + OWN_TEMPO * is_own


def _apart(one: float, other: float) -> float:
    """Octaves between two tempos."""
    return abs(float(np.log2(one / other)))


def _for_level(reading: Followed, course: Course) -> dict[str, float]:
    """What tells the level of a reading, by the names in ``LEVEL``: logs of chances (nats),
    shares of the notes, and octaves from a quarter note to the usual time between two."""
    onset = reading.found.onset
    room = np.maximum(np.diff(onset), 1) / TICKS
    return {
        "likely by its rhythms": reading.worth,
        "likely by its beats": -course.cost,
        "likely by its beats, for each note": -course.cost / len(onset),
        "a tempo outside": float(not SLOWEST <= reading.tempo <= FASTEST),
        "off the eighths": float((onset % EIGHTH != 0).mean()),
        "off the sixteenths": float((onset % SIXTEENTH != 0).mean()),
        "room for each note": float(np.log2(room).mean()),
        "dotted quarters": float(reading.compound),
    }
