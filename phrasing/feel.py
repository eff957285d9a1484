"""Every musical number that can be adjusted, in one place, each with its limits.

The defaults are design parameters of this project unless a source is named: for the dB and
the gates of wind players' marks no published measurement was found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any

from phrasing.score.marks import MARKS

TEMPOS = (1, 1000)
RATIOS = (1, 4)
"""Swing ratios: 4 lies a little above the 3.5 : 1 that Friberg & Sundstrom (2002, Music
Perception 19(3)) measured on a ride cymbal at slow tempos."""


def number(default: Any, least: float, most: float) -> Any:
    """A field whose value in a file lies from ``least`` to ``most``."""
    return field(default=default, metadata={"limits": (least, most)})


def pairs(default: Any, first: tuple[float, float], second: tuple[float, float]) -> Any:
    """A field of number pairs, each half of which lies between its own limits."""
    return field(default=default, metadata={"limits": first, "second": second})


def limits_of(kind: type, name: str) -> tuple[float, float]:
    """The least and the most that an entry of a feel may be.

    >>> limits_of(MarkSound, "gate")
    (0.05, 1.5)
    """
    known = next(each for each in fields(kind) if each.name == name)
    least, most = known.metadata["limits"]
    return least, most


@dataclass(frozen=True)
class MarkSound:
    """How a mark sounds.

    ``level``: dB against the plain note. ``gate``: the fraction of the swung written length
    that sounds. ``brightness``: from -1 (dark) over 0 (the plain note) to 1 (bright).
    ``longest`` and ``shortest``: seconds at most and at least, whatever the tempo (None: no
    limit); no note is held beyond its written length.
    """

    level: float = number(0.0, -40, 24)
    gate: float = number(0.90, 0.05, 1.5)
    brightness: float = number(0.0, -1, 1)
    longest: float | None = number(None, 0.02, 10)
    shortest: float | None = number(None, 0, 0.5)


@dataclass(frozen=True)
class Swing:
    """Long-short ratios by tempo.

    ``by_tempo``: (quarter notes a minute, ratio) for a melody heard alone, joined by straight
    lines and level beyond the ends. Empty: the default line, ``melody_most`` up to
    ``melody_slow`` quarter notes a minute, falling evenly to even eighths at ``even_at``.
    The ride's off-beat note lasts ``ride_short`` seconds at least, its ratio is ``ride_most``
    at most (a band around Friberg & Sundstrom 2002, Music Perception 19(3), who measured
    100 ms and up to 3.5 : 1).
    ``ride_by_tempo``: the ride's own table, in place of that. ``alone_by_tempo``: a table in
    place of the default line, for a melody heard alone whose author asks for no ratio.
    ``sixteenths``: swing beats with sixteenths too.
    """

    by_tempo: tuple[tuple[float, float], ...] = pairs((), TEMPOS, RATIOS)
    melody_most: float = number(2.0, 1, 4)
    melody_slow: float = number(100.0, 20, 400)
    even_at: float = number(300.0, 20, 1000)
    ride_most: float = number(2.5, 1, 4)
    ride_short: float = number(0.100, 0.02, 0.5)
    ride_by_tempo: tuple[tuple[float, float], ...] = pairs((), TEMPOS, RATIOS)
    alone_by_tempo: tuple[tuple[float, float], ...] = pairs((), TEMPOS, RATIOS)
    sixteenths: bool = False


@dataclass(frozen=True)
class LayBack:
    """How late a soloist's on-beats are against the rhythm section.

    ``by_tempo``: (quarter notes a minute, seconds), joined by straight lines and level beyond
    the ends. Counted from recorded solos (Weimar Jazz Database, ODbL; counted by us): 29 ms
    below 120, 24.5 from 120 to 160, 21 from 160 to 200, 12.5 from 200 to 240, 5 above that.
    """

    by_tempo: tuple[tuple[float, float], ...] = pairs(
        ((110, 0.030), (140, 0.025), (180, 0.021), (220, 0.012), (300, 0.0)), TEMPOS, (0, 0.2)
    )


@dataclass(frozen=True)
class Wander:
    """How a player's clock wanders, with memory; 0 is a clock that does not.

    Standard deviations of ``time`` (in beats, ``most`` seconds at most), of the swing
    ``ratio`` from beat to beat, and of the ``lag`` behind a rhythm section (both as shares of
    themselves). ``seed``: another number is another take. Without a source.
    """

    time: float = number(0.0, 0, 0.1)
    most: float = number(0.012, 0, 0.05)
    ratio: float = number(0.0, 0, 0.5)
    lag: float = number(0.0, 0, 1)
    seed: int = number(1, 1, 127)


@dataclass(frozen=True)
class Detached:
    """Which quarters on the beat are detached: all of them, or ``by_share`` some, by chance.

    The shares, counted from recorded solos (Weimar Jazz Database, ODbL, 327 wind solos;
    counted by us): of quarters on beats 1 and 3 (``strong``), on 2 and 4 (``weak``), on 1 and
    3 before a step, on 2 and 4 before the same note. The same ``seed`` chooses the same.
    """

    by_share: bool = False
    strong: float = number(0.40, 0, 1)
    weak: float = number(0.60, 0, 1)
    strong_step: float = number(0.29, 0, 1)
    weak_repeated: float = number(0.76, 0, 1)
    seed: int = number(0, 0, 1_000_000)


@dataclass(frozen=True)
class Chance:
    """What differs from note to note in the shaped version: standard deviations, 0 by default.

    ``level`` in dB, ``length`` as a share of what sounds. The same ``seed`` plays the same.
    """

    level: float = number(0.0, 0, 6)
    length: float = number(0.0, 0, 0.3)
    seed: int = number(0, 0, 1_000_000)


@dataclass(frozen=True)
class Line:
    """What happens along a line, besides the marks.

    ``off_beat``: dB added to the off-beats of an eighth-note line. ``joined``: seconds by
    which a slurred note overlaps the next. ``gaps``: (semitones, seconds) of silence between
    a tongued note and another pitch, joined by straight lines; ``repeated``: seconds of it
    before the same pitch (Weimar Jazz Database, ODbL, eighths; counted by us: 14 ms for a half
    step to 41 for an octave, 32 for a repeated note; the tongue is on a saxophone's reed for
    34.5 ms at any tempo: Hofmann et al., ICMPC 2012). ``shortest``: seconds that any note
    sounds at least, if it is written that long (5 in 100 recorded notes are shorter than
    49 ms). ``sustained``: the gate of an unmarked note with nothing right behind it.
    ``arch``: dB by which a phrase rises toward its peak. ``pickup``: dB of the first pickup
    note, which grow to 0. ``growth``: dB by which each of three or more repeated notes is
    above the one before, ``most_growth`` in all. ``higher``: dB by which every note is louder
    for each semitone above the middle of the melody, and softer below it (0.25 with effect:
    Friberg, Bresin & Sundberg 2006, Advances in Cognitive Psychology 2(2-3), rule "high loud",
    from memory). ``grace``: seconds a grace note takes, before its note, and ``grace_level``
    its dB.
    """

    off_beat: float = number(1.2, -12, 12)
    joined: float = number(0.025, 0, 0.1)
    gaps: tuple[tuple[float, float], ...] = pairs(
        ((1, 0.014), (2, 0.016), (5, 0.021), (7, 0.028), (12, 0.041)), (0, 127), (0, 0.2)
    )
    repeated: float = number(0.035, 0, 0.2)
    shortest: float = number(0.050, 0, 0.2)
    sustained: float = number(0.98, 0.05, 1)
    arch: float = number(0.8, 0, 12)
    pickup: float = number(-1.5, -24, 12)
    growth: float = number(0.7, 0, 6)
    most_growth: float = number(2.0, 0, 12)
    higher: float = number(0.0, 0, 1)
    grace: float = number(0.070, 0.02, 0.3)
    grace_level: float = number(-3.0, -40, 12)


@dataclass(frozen=True)
class Fall:
    """The decrescendo down a long fall.

    ``per_note``: dB a note; ``least`` and ``most``: dB in all. ``darken``: how much darker
    the last note is after a fall of ``most`` dB (brightness, see ``MarkSound``).
    """

    per_note: float = number(1.0, 0, 12)
    least: float = number(4.0, 0, 40)
    most: float = number(9.0, 0.1, 40)
    darken: float = number(0.4, 0, 1)


NO_BREATH = -80.0
"""dB at which no air is heard at an attack."""


@dataclass(frozen=True)
class Life:
    """What a note does while it sounds.

    A marcato has ``overshoot`` dB more in its first 60 ms than after. A long accent dips by
    ``swell`` dB and comes back over notes longer than ``swell_from`` seconds. A held note that
    goes on into another grows by ``grow`` dB over notes longer than ``grow_from`` seconds. Any
    other note longer than ``arch_from`` is strongest at ``peak`` of its length (0.445: counted
    from recorded solos) and falls by ``arch`` dB to its end, a long last one by ``ending``
    more. ``taper``: dB by which an unmarked note of less than a quarter fades where a rest
    follows.

    Vibrato begins ``vibrato_delay`` seconds into notes longer than ``vibrato_from``, at
    ``vibrato_rate`` a second and ``vibrato_depth`` semitones each way, growing over
    ``vibrato_grow`` seconds; a note of less than ``vibrato_full`` seconds has less of it.

    Where the score asks for it: a ``scoop`` or ``plop`` comes from so many semitones below or
    above in ``into`` seconds; a ``falloff`` or ``doit`` goes so many down or up in the last
    ``bent_share`` of the note and fades by ``bent_fade`` dB.

    ``breath``: dB against its note of the air that is heard at a wind's tongued attacks, in
    sound files alone; -80, the default, is none. Many soundfonts have it in their tones.
    """

    overshoot: float = number(1.5, 0, 12)
    swell: float = number(1.5, 0, 12)
    swell_from: float = number(0.45, 0, 10)
    grow: float = number(2.5, 0, 12)
    grow_from: float = number(0.70, 0, 10)
    arch: float = number(1.0, 0, 12)
    arch_from: float = number(0.20, 0, 10)
    peak: float = number(0.445, 0.05, 0.65)
    ending: float = number(2.0, 0, 24)
    taper: float = number(0.0, 0, 24)
    vibrato_from: float = number(0.50, 0.05, 10)
    vibrato_delay: float = number(0.28, 0, 10)
    vibrato_grow: float = number(0.30, 0.01, 10)
    vibrato_full: float = number(1.20, 0.05, 10)
    vibrato_rate: float = number(5.2, 0.5, 12)
    vibrato_depth: float = number(0.16, 0, 1)
    scoop: float = number(1.2, 0, 12)
    plop: float = number(2.0, 0, 12)
    into: float = number(0.11, 0.01, 2)
    falloff: float = number(5.0, 0, 24)
    doit: float = number(4.0, 0, 24)
    bent_share: float = number(0.5, 0.05, 1)
    bent_fade: float = number(14.0, 0, 60)
    step: float = number(0.015, 0.005, 0.1)
    breath: float = number(NO_BREATH, NO_BREATH, -15)


MOVES = (
    *((0, 1.1), (1, 0.0), (2, 0.0), (3, 0.15), (4, 0.25), (5, 0.45), (6, 1.2), (7, 0.6)),
    *((8, 1.5), (9, 1.6), (10, 2.0), (11, 3.0), (12, 1.5)),
)
"""What each interval (semitones) of a bass line costs (no source)."""


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

    low: int = number(28, 24, 55)
    high: int = number(55, 36, 67)
    home: int = number(38, 24, 67)
    root: float = number(0.80, 0, 1)
    above: float = number(0.26, 0, 1)
    below: float = number(0.24, 0, 1)
    whole_below: float = number(0.12, 0, 1)
    whole_above: float = number(0.11, 0, 1)
    fifth: float = number(0.12, 0, 1)
    plain: float = number(0.66, 0, 1)
    busy_until: float = number(210.0, 0, 1000)
    two_below: float = number(76.0, 0, 1000)
    two_pickup: float = number(0.35, 0, 1)
    level: float = number(0.0, -40, 12)
    arrival: float = number(0.6, -12, 12)
    back_beat: float = number(0.5, -12, 12)
    in_two: float = number(1.5, -12, 12)
    ghost: float = number(-9.0, -40, 12)
    gate: float = number(0.96, 0.05, 1)
    spread: float = number(0.6, 0, 6)
    timing: float = number(0.003, 0, 0.05)
    surprise: float = number(0.55, 0, 10)
    intervals: tuple[tuple[float, float], ...] = pairs(MOVES, (0, 24), (0, 100))
    back: float = number(0.7, 0, 100)
    turn: float = number(0.25, 0, 100)
    leaps: float = number(2.0, 0, 100)
    stray: float = number(1.5, 0, 100)
    outside: float = number(5.0, 0, 100)
    away: float = number(0.006, 0, 10)


@dataclass(frozen=True)
class Drums:
    """How the drums play.

    ``brushes_below``: quarter notes a minute under which brushes are taken. Levels in dB
    against the plain note: the ``ride`` on the beat, its ``back_beat`` and ``skip`` note added
    to it, the ``hat`` foot, the ``feather`` of the bass drum, comping on the ``snare``, the
    bass drum's ``kick`` with it, the cross-``stick``, ``fill``, ``crash``, the count-in's
    ``click``; ``swirl``, ``tap`` and ``slap`` of the brushes, and how much ``softer`` all else
    is with them.
    ``comping``: the share of bars in which the snare comments; ``sets_up``: of the melody's
    linked pairs that are set up, ``catches``: of its accents off the beat that are played
    along with, at ``caught`` dB. ``ride_timing`` and ``timing``
    (seconds) and ``spread`` (dB): standard deviations from stroke to stroke.
    ``quarters_from``: quarter notes a minute above which the ride plays mostly quarters.
    ``section``: bars in a section where the chart names none.
    """

    brushes_below: float = number(96.0, 0, 1000)
    ride: float = number(0.0, -40, 12)
    back_beat: float = number(1.2, -12, 12)
    skip: float = number(-3.0, -40, 12)
    hat: float = number(-5.0, -40, 12)
    feather: float = number(-14.0, -40, 12)
    stick: float = number(-6.0, -40, 12)
    snare: float = number(-9.0, -40, 12)
    kick: float = number(-8.0, -40, 12)
    fill: float = number(-5.0, -40, 12)
    crash: float = number(-2.0, -40, 12)
    click: float = number(2.0, -40, 12)
    swirl: float = number(-3.0, -40, 12)
    tap: float = number(-7.0, -40, 12)
    slap: float = number(-7.0, -40, 12)
    softer: float = number(-4.0, -40, 12)
    comping: float = number(0.55, 0, 1)
    sets_up: float = number(0.75, 0, 1)
    catches: float = number(0.6, 0, 1)
    caught: float = number(-3.0, -40, 12)
    ride_timing: float = number(0.0015, 0, 0.05)
    timing: float = number(0.003, 0, 0.05)
    spread: float = number(0.7, 0, 6)
    quarters_from: float = number(250.0, 0, 1000)
    section: int = number(8, 1, 64)


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
    colour left out for one less telling, ``rub``: a semitone between the two highest notes,
    ``still``: the same highest note again, ``clash``: a note that rubs with the melody,
    ``beside``: one in the melody's register. ``crowd`` and ``answer``: how much less likely a
    chord is for each note of the melody in its beat, and how much likelier where the melody
    leaves room (exponents); ``denser``: how much likelier each chord of a figure is in the
    last chorus than in the first.
    ``surprise``: how freely a voicing departs from the cheapest.
    """

    piano_low: int = number(51, 36, 73)
    piano_high: int = number(74, 59, 96)
    guitar_low: int = number(47, 36, 73)
    guitar_high: int = number(72, 59, 96)
    centre: float = number(61.0, 36, 96)
    level: float = number(-1.0, -40, 12)
    long: float = number(-1.0, -12, 12)
    early: float = number(1.0, -12, 12)
    strum: float = number(-5.0, -40, 12)
    chunk: float = number(0.6, 0, 1)
    short: float = number(0.42, 0.05, 4)
    ballad: float = number(1.2, 0.05, 16)
    roll: float = number(0.006, 0, 0.1)
    spread: float = number(0.8, 0, 6)
    timing: float = number(0.003, 0, 0.05)
    top: float = number(0.7, 0, 100)
    inner: float = number(1.0, 0, 100)
    away: float = number(0.12, 0, 100)
    plainer: float = number(0.5, 0, 100)
    rub: float = number(2.5, 0, 100)
    still: float = number(3.5, 0, 100)
    clash: float = number(6.0, 0, 100)
    beside: float = number(0.6, 0, 100)
    crowd: float = number(1.2, 0, 10)
    answer: float = number(0.8, 0, 10)
    denser: float = number(1.2, 0, 10)
    surprise: float = number(0.4, 0, 10)


@dataclass(frozen=True)
class Band:
    """The rhythm section.

    ``*_place``: LU against the melody at which each part lies as it is heard, whatever the
    soundfont; ``*_gain``: dB by which it is set in a MIDI file, which knows no soundfont
    (measured on two General MIDI soundfonts). ``*_seat``: from -1 (left) to 1 (right).
    ``ring``: seconds for which the last chord may sound, at least; ``ritard``: what the tempo
    comes down to before it where it slows down. ``growth``: dB by which
    each chorus is stronger than the one before, up to ``most_growth``.
    """

    bass: Bass = field(default_factory=Bass)
    drums: Drums = field(default_factory=Drums)
    comping: Comping = field(default_factory=Comping)
    bass_gain: float = number(-1.5, -40, 12)
    drums_gain: float = number(-1.5, -40, 12)
    piano_gain: float = number(-1.5, -40, 12)
    guitar_gain: float = number(-1.5, -40, 12)
    bass_place: float = number(-3.0, -40, 12)
    drums_place: float = number(-4.0, -40, 12)
    piano_place: float = number(-4.0, -40, 12)
    guitar_place: float = number(-5.0, -40, 12)
    bass_seat: float = number(-0.1, -1, 1)
    drums_seat: float = number(0.3, -1, 1)
    piano_seat: float = number(-0.4, -1, 1)
    guitar_seat: float = number(-0.4, -1, 1)
    ring: float = number(2.0, 0, 20)
    ritard: float = number(0.7, 0.3, 1)
    growth: float = number(1.5, 0, 6)
    most_growth: float = number(5.0, 0, 12)

    def grown(self, chorus: int) -> float:
        """dB by which everybody is stronger in a chorus (from 0) than in the first.

        >>> [Band().grown(chorus) for chorus in (0, 1, 9)]
        [0.0, 1.5, 5.0]
        """
        return min(self.growth * chorus, self.most_growth)


SOUNDS: Mapping[str, MarkSound] = MappingProxyType(
    {
        mark.name: MarkSound(
            mark.level, mark.gate, mark.brightness, mark.longest, mark.shortest
        )
        for mark in MARKS
    }
)


@dataclass(frozen=True)
class Feel:
    """Everything a teacher may adjust.

    ``strength``: 0 (plain) to 1: scales every level and every departure from the plain gate.
    ``plain_velocity``: the MIDI velocity of a plain note; ``plain_gate``: the fraction of
    its swung written length that sounds.
    """

    strength: float = number(1.0, 0, 1)
    plain_velocity: int = number(80, 1, 127)
    plain_gate: float = number(0.90, 0.05, 1)
    swing: Swing = field(default_factory=Swing)
    lay_back: LayBack = field(default_factory=LayBack)
    wander: Wander = field(default_factory=Wander)
    detached: Detached = field(default_factory=Detached)
    chance: Chance = field(default_factory=Chance)
    line: Line = field(default_factory=Line)
    fall: Fall = field(default_factory=Fall)
    life: Life = field(default_factory=Life)
    band: Band = field(default_factory=Band)
    sounds: Mapping[str, MarkSound] = field(default_factory=lambda: SOUNDS)


FEELS: Mapping[str, Mapping[str, Any]] = MappingProxyType(
    {
        "taught": {},
        "played": {
            "swing": {
                "alone_by_tempo": [
                    *(
                        [80, 1.42],
                        [120, 1.68],
                        [160, 1.74],
                        [200, 1.63],
                        [240, 1.39],
                        [300, 1.20],
                    )
                ]
            },
            "detached": {"by_share": True},
            "line": {"higher": 0.25},
            "chance": {"level": 1.5, "length": 0.05},
            "wander": {"time": 0.016, "ratio": 0.08, "lag": 0.3},
        },
    }
)
"""The feels that have a name, laid out as in a feel's file: as it is taught, which is the
default, and as recorded soloists were counted to play (off-beat against the beat, by tempo;
Weimar Jazz Database, ODbL, counted by us). What differs by chance is set so that levels are
spread as within a recorded solo; a clock that wanders by 8 ms at 120 quarter notes a minute and
less as the tempo rises is a design parameter."""
