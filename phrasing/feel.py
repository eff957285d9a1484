"""Every musical number that can be adjusted, in one place, and its file format (TOML).

The defaults are design parameters of this project unless a source is named: for the dB and
the gates of wind players' marks no published measurement was found.
"""

from __future__ import annotations

import dataclasses
import math
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from phrasing.errors import PhrasingError

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class MarkSound:
    """How a mark sounds.

    ``level``: dB against the plain note. ``gate``: the fraction of the swung written length
    that sounds. ``brightness``: from -1 (dark) over 0 (the plain note) to 1 (bright).
    ``longest``: seconds at most, however slow the tempo (None: no limit).
    """

    level: float
    gate: float
    brightness: float = 0.0
    longest: float | None = None


@dataclass(frozen=True)
class Swing:
    """Long-short ratios by tempo.

    ``by_tempo``: (quarter notes a minute, ratio) for a melody heard alone, joined by straight
    lines and level beyond the ends. Empty: the default line, ``melody_most`` up to
    ``melody_slow`` quarter notes a minute, falling evenly to even eighths at ``even_at``.
    The ride's off-beat note lasts ``ride_short`` seconds at least, its ratio is ``ride_most``
    at most (a band around Friberg & Sundstrom 2002, Music Perception 19(3), who measured
    100 ms and up to 3.5 : 1).
    ``ride_by_tempo``: the ride's own table, in place of that.
    ``sixteenths``: swing beats with sixteenths too.
    """

    by_tempo: tuple[tuple[float, float], ...] = ()
    melody_most: float = 2.0
    melody_slow: float = 100.0
    even_at: float = 300.0
    ride_most: float = 2.5
    ride_short: float = 0.100
    ride_by_tempo: tuple[tuple[float, float], ...] = ()
    sixteenths: bool = False


@dataclass(frozen=True)
class LayBack:
    """How late a soloist's on-beats are against the rhythm section.

    ``beats`` of a beat (85 of 960 ticks, 35 ms at 150 quarter notes a minute: Nelias et al.
    2022, Communications Physics 5:237), and ``most`` seconds, however slow the tempo.
    """

    beats: float = 85 / 960
    most: float = 0.040


@dataclass(frozen=True)
class Line:
    """What happens along a line, besides the marks.

    ``off_beat``: dB added to the off-beats of an eighth-note line. ``joined``: seconds by
    which a slurred note overlaps the next. ``tongued``: the gate of an unmarked note that is
    tongued into the next one of its line. ``repeated``: the gate of a note before its own
    repetition (about 0.6: Bresin & Battel 2000, JNMR 29(3), piano), which is cut by
    ``repeated_most`` seconds at most. ``arch``: dB by which a
    phrase rises toward its peak. ``pickup``: dB of the first pickup note, which grow to 0.
    ``sustained``: the gate of an unmarked on-beat note of a dotted quarter or longer.
    ``speaks``: seconds of silence at least between a sustained note and its repetition.
    ``grace``: seconds a grace note takes, before its note, and ``grace_level`` its dB.
    """

    off_beat: float = 1.2
    joined: float = 0.025
    tongued: float = 0.90
    repeated: float = 0.60
    repeated_most: float = 0.120
    arch: float = 0.8
    pickup: float = -1.5
    sustained: float = 0.98
    speaks: float = 0.040
    grace: float = 0.070
    grace_level: float = -3.0


@dataclass(frozen=True)
class Fall:
    """The decrescendo down a long fall.

    ``per_note``: dB a note; ``least`` and ``most``: dB in all. ``darken``: how much darker
    the last note is after a fall of ``most`` dB (brightness, see ``MarkSound``).
    """

    per_note: float = 1.0
    least: float = 4.0
    most: float = 9.0
    darken: float = 0.4


@dataclass(frozen=True)
class Life:
    """What a held note does.

    A long accent dips by ``swell`` dB and comes back over notes longer than ``swell_from``
    seconds. Vibrato begins ``vibrato_delay`` seconds into notes longer than
    ``vibrato_from``, at ``vibrato_rate`` a second and ``vibrato_depth`` semitones each way,
    growing over ``vibrato_grow`` seconds.
    """

    swell: float = 1.5
    swell_from: float = 0.45
    vibrato_from: float = 0.50
    vibrato_delay: float = 0.28
    vibrato_grow: float = 0.30
    vibrato_rate: float = 5.2
    vibrato_depth: float = 0.14
    step: float = 0.015


@dataclass(frozen=True)
class Bass:
    """How the bass walks.

    ``low``/``high``: MIDI numbers (from memory: walking lines lie between about 28 and 55);
    ``home``: the pitch it returns to. ``root``: the share of chord changes at which the root
    is meant to come, and of the notes before them ``above`` and ``below`` lie a semitone from
    the arrival, ``whole_below`` a whole tone under it (Riley & Dixon 2023, arXiv 2311.02023,
    in 48 transcribed lines: root 68 %, approaches 26.8, 21.0 and 11.9 %), ``whole_above`` a
    whole tone above, ``fifth`` a fifth above or a fourth below (no source). ``plain``: the
    share of bars in plain quarters (63 % there). ``busy_until``: quarter notes a minute above
    which triplets are left out. ``two_below``: slower than this it plays in two.
    ``two_pickup``: how often a bar in two has a note on its last beat.

    Levels in dB against the plain note: ``level``, and added to it ``arrival``, ``back_beat``
    and ``in_two``; ``ghost`` is against the note before. ``gate``: the fraction of a note's
    length that sounds. ``spread`` (dB) and ``timing`` (seconds): standard deviations from
    note to note. ``surprise``: how freely it departs from the line of least cost; 0 always
    plays the same. The costs have no unit:
    ``intervals``: (semitones, cost) of a move, ``back``: return to the note before last,
    ``turn``: a change of direction, ``leaps``: two leaps the same way, ``stray``: a note of
    the scale where a chord note is due, ``outside``: a note outside the scale that does not
    lead on by a semitone, ``away``: for each semitone from ``home``, squared.
    """

    low: int = 28
    high: int = 55
    home: int = 38
    root: float = 0.80
    above: float = 0.26
    below: float = 0.24
    whole_below: float = 0.12
    whole_above: float = 0.11
    fifth: float = 0.12
    plain: float = 0.66
    busy_until: float = 210.0
    two_below: float = 76.0
    two_pickup: float = 0.35
    level: float = 0.0
    arrival: float = 0.6
    back_beat: float = 0.5
    in_two: float = 1.5
    ghost: float = -9.0
    gate: float = 0.96
    spread: float = 0.6
    timing: float = 0.003
    surprise: float = 0.55
    intervals: tuple[tuple[float, float], ...] = (
        *((0, 1.1), (1, 0.0), (2, 0.0), (3, 0.15), (4, 0.25), (5, 0.45), (6, 1.2), (7, 0.6)),
        *((8, 1.5), (9, 1.6), (10, 2.0), (11, 3.0), (12, 1.5)),
    )
    back: float = 0.7
    turn: float = 0.25
    leaps: float = 2.0
    stray: float = 1.5
    outside: float = 5.0
    away: float = 0.006


@dataclass(frozen=True)
class Drums:
    """How the drums play.

    ``brushes_below``: quarter notes a minute under which brushes are taken. Levels in dB
    against the plain note: the ``ride`` on the beat, its ``back_beat`` and ``skip`` note added
    to it, the ``hat`` foot, the ``feather`` of the bass drum, comping on the ``snare``, the
    bass drum's ``kick`` with it, ``fill``, ``crash``, the count-in's ``click``; ``swirl``,
    ``tap`` and ``slap`` of the brushes, and how much ``softer`` all else is with them.
    ``comping``: the share of bars in which the snare comments. ``ride_timing`` and ``timing``
    (seconds) and ``spread`` (dB): standard deviations from stroke to stroke.
    ``quarters_from``: quarter notes a minute above which the ride plays mostly quarters.
    ``section``: bars in a section where the chart names none.
    """

    brushes_below: float = 96.0
    ride: float = 0.0
    back_beat: float = 1.2
    skip: float = -3.0
    hat: float = -5.0
    feather: float = -14.0
    snare: float = -9.0
    kick: float = -8.0
    fill: float = -5.0
    crash: float = -2.0
    click: float = 2.0
    swirl: float = -3.0
    tap: float = -7.0
    slap: float = -7.0
    softer: float = -4.0
    comping: float = 0.55
    ride_timing: float = 0.0015
    timing: float = 0.003
    spread: float = 0.7
    quarters_from: float = 250.0
    section: int = 8


@dataclass(frozen=True)
class Comping:
    """How the chords are played.

    The lowest and highest note (MIDI numbers) of the piano's and the guitar's voicings, and
    ``centre``, around which they lie. Levels in dB against the plain note: ``level``, and
    ``long`` and ``early`` (an anticipated chord) added to it; ``strum``: the guitar's quarter
    notes. ``chunk``: the share of bars in which the guitar plays these. ``short``: the
    fraction of a beat that a short chord lasts. ``ballad``: beats that a chord lasts at least
    where the drums use brushes. ``roll``: seconds from the lowest to the highest note of a
    chord. ``spread`` (dB) and ``timing`` (seconds): standard deviations from chord to chord.

    The costs have no unit: ``top``: a semitone of movement in the highest voice, ``inner``:
    a semitone in the others on average, ``away``: a semitone from the centre, ``plainer``: a
    colour left out for one less telling, ``rub``: a semitone between the two highest notes.
    ``surprise``: how freely a voicing departs from the cheapest.
    """

    piano_low: int = 51
    piano_high: int = 74
    guitar_low: int = 47
    guitar_high: int = 72
    centre: float = 61.0
    level: float = -1.0
    long: float = -1.0
    early: float = 1.0
    strum: float = -5.0
    chunk: float = 0.6
    short: float = 0.42
    ballad: float = 1.2
    roll: float = 0.006
    spread: float = 0.8
    timing: float = 0.003
    top: float = 0.7
    inner: float = 1.0
    away: float = 0.12
    plainer: float = 0.5
    rub: float = 2.5
    surprise: float = 0.4


@dataclass(frozen=True)
class Band:
    """The rhythm section.

    ``*_gain``: dB by which each part is set in a mix, so that a plain melody stands within
    3 LU of the whole band (measured on two General MIDI soundfonts). ``ring``: seconds for
    which the last chord may sound, at least. ``growth``: dB by which each chorus is stronger
    than the one before, up to ``most_growth``.
    """

    bass: Bass = field(default_factory=Bass)
    drums: Drums = field(default_factory=Drums)
    comping: Comping = field(default_factory=Comping)
    bass_gain: float = -1.5
    drums_gain: float = -1.5
    piano_gain: float = -1.5
    guitar_gain: float = -1.5
    ring: float = 2.0
    growth: float = 0.5
    most_growth: float = 1.5


SOUNDS: Mapping[str, MarkSound] = MappingProxyType(
    {
        "marcato": MarkSound(4.5, 0.55, 0.5, longest=0.300),
        "accent": MarkSound(5.0, 0.98, 0.5),
        "clipped": MarkSound(3.5, 0.45, 0.5, longest=0.250),
        "staccato": MarkSound(0.0, 0.45, 0.0, longest=0.250),
        "tenuto": MarkSound(2.5, 1.0, 0.25),
        "stress": MarkSound(3.5, 0.95, 0.25),
        "ghost": MarkSound(-9.0, 0.85, -1.0),
    }
)


@dataclass(frozen=True)
class Feel:
    """Everything a teacher may adjust.

    ``strength``: 0 (plain) to 1: scales every level and every departure from the plain gate.
    ``plain_velocity``: the MIDI velocity of a plain note; ``plain_gate``: the fraction of
    its swung written length that sounds.
    """

    strength: float = 1.0
    plain_velocity: int = 80
    plain_gate: float = 0.90
    swing: Swing = field(default_factory=Swing)
    lay_back: LayBack = field(default_factory=LayBack)
    line: Line = field(default_factory=Line)
    fall: Fall = field(default_factory=Fall)
    life: Life = field(default_factory=Life)
    band: Band = field(default_factory=Band)
    sounds: Mapping[str, MarkSound] = field(default_factory=lambda: SOUNDS)


def adjusted(feel: Feel, table: Mapping[str, Any], source: str = "The feel") -> Feel:
    """The feel with the entries of ``table`` put in, laid out as in a feel's file.

    Raises ``PhrasingError`` naming the ``source`` and the entry that cannot be used.

    >>> adjusted(Feel(), {"line": {"arch": 2.0}}).line.arch
    2.0
    """
    changed: Feel = _filled(feel, table, source, "")
    _check(changed, source)
    return changed


def load_feel(path: Path, base: Feel | None = None) -> Feel:
    """The feel in a TOML file; what it leaves out is as in ``base``, or the default.

    Raises ``PhrasingError`` naming the file and the entry that cannot be used.

    Example file::

        strength = 0.8
        [swing]
        by_tempo = [[120, 2.0], [200, 1.5]]
        [sounds.ghost]
        level = -7.0
    """
    import tomllib

    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise PhrasingError(f"{path}: cannot be read ({error.strerror}).") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise PhrasingError(f"{path}: is not a TOML file: {error}.") from error
    return adjusted(base or Feel(), table, str(path))


def _check(feel: Feel, path: str) -> None:
    """Refuse what cannot be played."""
    ratios = [r for _, r in (*feel.swing.by_tempo, *feel.swing.ride_by_tempo)]
    limits: list[tuple[str, float, float, float]] = [
        ("strength", feel.strength, 0.0, 1.0),
        ("plain_gate", feel.plain_gate, 0.05, 1.0),
        ("life.step", feel.life.step, 0.005, 0.1),
        ("swing.melody_slow", feel.swing.melody_slow, 20.0, feel.swing.even_at),
        ("swing.ride_short", feel.swing.ride_short, 0.02, 0.5),
        *(("swing.by_tempo", ratio, 1.0, 4.0) for ratio in ratios),
        *_band_limits(feel.band),
    ]
    for name, sound in feel.sounds.items():
        limits.append((f"sounds.{name}.level", sound.level, -40.0, 24.0))
        limits.append((f"sounds.{name}.gate", sound.gate, 0.05, 1.5))
        limits.append((f"sounds.{name}.brightness", sound.brightness, -1.0, 1.0))
    for place, value, low, high in limits:
        if not low <= value <= high:
            raise PhrasingError(f"{path}: {place} is {value:g}; choose {low:g} to {high:g}.")


def _band_limits(band: Band) -> Iterator[tuple[str, float, float, float]]:
    """What a band's numbers have to lie between, each with its name."""
    bass, drums, comping = band.bass, band.drums, band.comping
    yield "band.bass.low", bass.low, 24, bass.high - 12
    yield "band.bass.high", bass.high, bass.low + 12, 67
    yield "band.bass.intervals: their number", len(bass.intervals), 1, 48
    yield "band.bass.gate", bass.gate, 0.05, 1.0
    for name in ("piano", "guitar"):
        low, high = (getattr(comping, f"{name}_{end}") for end in ("low", "high"))
        yield f"band.comping.{name}_low", low, 36, high - 23
        yield f"band.comping.{name}_high", high, low + 23, 96
    yield "band.comping.short", comping.short, 0.05, 4.0
    yield "band.ring", band.ring, 0.0, 20.0
    approaches = (bass.above, bass.below, bass.whole_below, bass.whole_above, bass.fifth)
    yield "band.bass: the least share of an approach", min(approaches), 0.0, 1.0
    yield "band.bass: the shares of all approaches", sum(approaches), 0.0, 1.0
    for place, share in (
        *(("bass.root", bass.root), ("bass.plain", bass.plain)),
        *(("bass.two_pickup", bass.two_pickup), ("drums.comping", drums.comping)),
        ("comping.chunk", comping.chunk),
    ):
        yield f"band.{place}", share, 0.0, 1.0
    for player in ("bass", "drums", "comping"):
        yield f"band.{player}.timing", getattr(band, player).timing, 0.0, 0.05
        yield f"band.{player}.spread", getattr(band, player).spread, 0.0, 6.0


def _filled(base: Any, table: Mapping[str, Any], file: str, where: str) -> Any:
    """``base`` (a dataclass) with the entries of ``table`` put in, checked for kind."""
    kinds = typing.get_type_hints(type(base))
    changes: dict[str, Any] = {}
    for name, value in table.items():
        place = f"{where}{name}"
        if name not in kinds:
            known = ", ".join(kinds)
            raise PhrasingError(f"{file}: there is no entry “{place}”; known are {known}.")
        changes[name] = _entry(getattr(base, name), kinds[name], value, file, place)
    return dataclasses.replace(base, **changes)


def _entry(old: Any, kind: Any, value: Any, file: str, place: str) -> Any:
    if dataclasses.is_dataclass(old) and isinstance(value, dict):
        return _filled(old, value, file, place + ".")
    if isinstance(old, Mapping) and isinstance(value, dict):
        unknown = [name for name in value if name not in old]
        if unknown:
            raise PhrasingError(
                f"{file}: there is no mark “{unknown[0]}”; the marks are {', '.join(old)}."
            )
        sounds = {n: _entry(old[n], None, v, file, f"{place}.{n}") for n, v in value.items()}
        return MappingProxyType({**old, **sounds})
    if isinstance(old, tuple) and isinstance(value, list):
        return _pairs(value, file, place)
    if isinstance(old, bool) and isinstance(value, bool):
        return value
    if not isinstance(old, bool | tuple | Mapping) and _is_number(value):
        if isinstance(old, int) and kind is int:
            if not 1 <= value <= 127 or value != int(value):
                raise PhrasingError(f"{file}: {place} is a whole number from 1 to 127.")
            return int(value)
        return float(value)
    raise PhrasingError(f"{file}: {place} cannot be {value!r}.")


def _pairs(value: list[Any], file: str, place: str) -> tuple[tuple[float, float], ...]:
    for pair in value:
        if not (isinstance(pair, list) and len(pair) == 2 and all(map(_is_number, pair))):
            raise PhrasingError(f"{file}: {place} is a list of [tempo, ratio] pairs.")
    return tuple(sorted((float(tempo), float(ratio)) for tempo, ratio in value))


def _is_number(value: Any) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and math.isfinite(value)
