"""How each note is touched on the synthesizer, so that it is heard as the performance asks.

A note is struck so much earlier that it is there when it is due. The level asked for is against
the plain note of the same pitch, as heard: closing the filter takes level away, and so may a
soundfont's softer layers; both were measured, and are made up for. The plain note is played as
the soundfont has it; a ghost has its filter closed, and a bright note sounds together with its
own edge. Plain notes come out equally loud whatever their pitch (soundfonts jump by up to 8 dB
from one key to the next, which would hide a mark), and so do the plain notes of all parts, so
that a part's gain means the same on any soundfont. A key that a soundfont leaves silent is
played by its neighbour, tuned.

A wind's note ends as the next one asks: slurred, it passes the sound on without a hole, and the
next one starts inside its sample; tongued, it makes room for the tongue.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from phrasing.performing.performance import Part
from phrasing.score.meters import Bools, Floats, Ints, TempoMap
from phrasing.sound.events import HOLDING, Touch, in_steps, note_ends
from phrasing.sound.probing import (
    AS_IT_IS,
    CUTOFFS,
    EDGE,
    EDGES,
    LATER,
    LAYERS,
    PLAIN,
    RISES,
    WHILE,
    Answer,
    Answers,
    ask,
    is_blown,
)
from phrasing.sound.soundfonts import Soundfont
from phrasing.sound.synthesizer import (
    ATTACK,
    ATTENUATION,
    COARSE_TUNE,
    CUTOFF,
    RELEASE,
    START,
)

TILT = 8.0
"""dB by which the power above 3 kHz is raised (a brightness of 1) or lowered (-1) against the
rest of the note."""
SAME = 0.5
"""dB by which the highs may miss what is wanted."""
MOST_LOSS = 12.0
"""dB that the filter may take away at most: more would bring up noise."""
NOMINAL = -25.0
"""dB (K-weighted) at which the plain notes of a part lie, before its gain: low enough that a
soundfont's notes are turned down to it, even if single ones are turned up."""
MOST_EVENED = 6.0
"""dB by which single notes are brought to the level of the part's others at most."""
SILENT = -80.0
"""dB below which a key is one that the soundfont leaves out."""
HIGHEST_KEY = 127
FALL, SLUR_FALL, FASTEST_FALL = 500.0, 1600.0, 1600.0
"""dB a second by which a note falls when it ends, when it passes on a slur, and at most."""
ENVELOPE = 96.0
"""dB that the synthesizer's release falls in its time."""
NO_EDGE = -50.0
"""dB of an edge that waits, in a sound that is bent to a bright note later."""
PASSING = 0.0015
"""Seconds after a slurred note is there at which the one before it is let go."""
BENT = 4
"""Semitones by which a sounding note is bent to a slurred one at most; beyond that the slurred
note is a new one."""
ROOM = 18.0
"""dB below the softer of two tongued notes that the first falls to, where the second comes up
through it."""
ONE_LINE = 0.100
"""Seconds of silence from which two notes have nothing to do with each other."""
OVER = np.array([0.0, 0.25, 0.5])
"""Where in a note's length its level is taken, over the time that ``LATER`` looks at."""
HEARD_WHOLE = 0.12
"""Seconds of a note over which it is to be as loud slurred as tongued."""
MOST_HELD = 6.0
"""dB by which a sound that sinks before a slur is held up at most."""
SHORTEST_RELEASE = -3600.0
"""Timecents by which a struck or plucked note's release is shortened at most."""
SOFTEST_DRUM = 25.0
"""dB below the loudest drum at which one counts as missing, and is not brought up to it."""


def touch_of(part: Part, tempos: TempoMap, soundfont: Soundfont) -> Touch:
    """How the notes of the part are to be played with this soundfont."""
    start, stop = tempos.seconds(part.onset), tempos.seconds(note_ends(part))
    nobody = np.zeros(0, bool)
    if not len(part.onset):
        return Touch(part.velocity, part.pitch, start, stop, {}, nobody, nobody)
    if part.is_drums:
        return _drum_touch(part, start, stop, soundfont)
    layers = LAYERS[np.abs(np.log(part.velocity[:, None] / LAYERS)).argmin(axis=1)]
    keys = _sounding_keys(part, soundfont)
    needed = set(zip(keys.tolist(), layers.tolist(), strict=True))
    answers = ask(soundfont, part, needed | {(key, PLAIN) for key, _ in needed})
    return _touch(part, start, stop, keys, layers, answers)


def _sounding_keys(part: Part, soundfont: Soundfont) -> Ints:
    """The key that plays each note: its own, or the next where the soundfont lacks it."""
    pitches = part.pitch.tolist()
    answers = ask(soundfont, part, {(pitch, PLAIN) for pitch in pitches})
    silent = {pitch for pitch in pitches if is_silent(answers.notes[pitch, PLAIN])}
    instead = {pitch: _key_near(pitch, part, soundfont) for pitch in sorted(silent)}
    return np.array([instead.get(pitch, pitch) for pitch in pitches], dtype=np.int64)


def _key_near(pitch: int, part: Part, soundfont: Soundfont) -> int:
    """The nearest key that sounds; the pitch itself if there is none within an octave."""
    for distance in range(1, 13):
        for key in (pitch - distance, pitch + distance):
            if 0 <= key <= HIGHEST_KEY:
                answer = ask(soundfont, part, [(key, PLAIN)]).notes[key, PLAIN]
                if not is_silent(answer):
                    return key
    return pitch


def is_silent(answer: Answer) -> bool:
    """Whether the soundfont leaves a key out."""
    return max(answer.levels) < SILENT


def _drum_touch(part: Part, start: Floats, stop: Floats, soundfont: Soundfont) -> Touch:
    """Each drum's plain stroke as loud as any other's: soundfonts differ by 10 dB in that."""
    keys = part.pitch.tolist()
    answers = ask(soundfont, part, {(key, PLAIN) for key in keys})
    plain = np.array([answers.notes[key, PLAIN].levels[AS_IT_IS] for key in keys])
    plain = np.maximum(plain, plain.max() - SOFTEST_DRUM)
    early = np.array([answers.notes[key, PLAIN].rises[-1] for key in keys])
    generators = {ATTENUATION: _attenuation(NOMINAL + part.gain - plain)}
    alone = np.zeros(len(keys), bool)
    return Touch(part.velocity, part.pitch, start - early, stop, generators, alone, alone)


def _touch(
    part: Part, start: Floats, stop: Floats, keys: Ints, layers: Ints, answers: Answers
) -> Touch:
    joined = _joined(part)
    slurred = np.append(False, joined[:-1]) & is_blown(part)
    line = _Line(start, stop, keys, layers, slurred, answers)
    cutoff, edge, plain, own = line.colours(part.brightness)
    edged = line.whole_sounds(np.isfinite(edge))
    edge = np.where(np.isfinite(edge), edge, NO_EDGE)
    even = NOMINAL + part.gain + part.level + _left_uneven(plain)
    louder = own + line.gone_on()
    quieter = _attenuation(even - louder)
    strikes, rises = line.strikes, line.rises
    stop, lasting = _ends(part, start, stop, line, joined)
    generators = {
        START: strikes[:, 0],
        ATTACK: strikes[:, 1],
        CUTOFF: cutoff,
        ATTENUATION: quieter,
        RELEASE: lasting,
        COARSE_TUNE: (part.pitch - line.keys).astype(np.float64),
    }
    second = generators | {number: np.full(len(keys), value) for number, value in EDGE.items()}
    second[ATTENUATION] = np.round(quieter - 10 * edge)
    held = np.round(10 * np.where((joined | line.bent)[:, None], line.held(), 0.0))
    return Touch(
        velocity=line.layers,
        key=line.keys,
        start=start - np.where(line.bent, 0.0, rises[:, -1]),
        stop=stop,
        generators=generators,
        bent=line.bent,
        edged=edged,
        edge=second,
        bending=_bending(generators, held),
        edge_bending=_bending(second, held),
        held=held,
        level=louder - quieter / 10,
    )


def _bending(generators: dict[int, Floats], held: Floats) -> dict[int, Floats]:
    """What each generator passes through, from what it became in the note before."""
    begins, ends = (
        generators | {ATTENUATION: generators[ATTENUATION] - held[:, at]} for at in (0, -1)
    )
    return {
        number: in_steps(begins[number], ends[number])
        for number in (COARSE_TUNE, ATTENUATION, CUTOFF, RELEASE)
    }


class _Line:
    """The notes of a part on their keys: columns, one entry a note.

    ``pressed``: the key of each note's own pitch; ``origin``: the note whose sound it is, whose
    ``keys`` and ``layers`` (velocities) it has; ``bent``: where that is another note's.
    """

    def __init__(
        self,
        start: Floats,
        stop: Floats,
        pressed: Ints,
        layers: Ints,
        slurred: Bools,
        answers: Answers,
    ) -> None:
        self.start, self.stop, self.pressed, self.slurred = start, stop, pressed, slurred
        self.origin = _origins(pressed, slurred)
        self.keys, self.layers = pressed[self.origin], layers[self.origin]
        self.bent = self.origin < np.arange(len(pressed))
        self._answers = answers
        self._known = [answers.keys[key] for key in self.keys.tolist()]

    def colours(self, brightness: Floats) -> Iterator[Floats]:
        """Cutoff, edge, the plain note's level and the note's own, as of ``_colour``."""
        columns = (self.keys, self.layers, brightness)
        notes = list(zip(*(column.tolist() for column in columns), strict=True))
        colours = {note: _colour(self._answers, *note) for note in set(notes)}
        yield from np.array([colours[note] for note in notes]).T

    def whole_sounds(self, some: Bools) -> Bools:
        """Which notes belong to a sound of which some note is meant."""
        return np.asarray(np.isin(self.origin, self.origin[some]))

    @property
    def strikes(self) -> Floats:
        """Where in its sample each note starts, and its attack: shape (notes, 2)."""
        ways = zip(self._known, self.slurred.tolist(), strict=True)
        return np.array([key.slurred if slur else key.tongued for key, slur in ways])

    @property
    def rises(self) -> Floats:
        """Seconds in which each note comes through ``RISES``: shape (notes, 5)."""
        columns = (self.keys.tolist(), self.layers.tolist(), self.slurred.tolist())
        notes = zip(self._known, *columns, strict=True)
        return np.array(
            [
                known.slur_rises if slur else self._answers.notes[key, layer].rises
                for known, key, layer, slur in notes
            ]
        )

    @property
    def release(self) -> Floats:
        """The soundfont's own release of each note (timecents)."""
        return np.array([key.release for key in self._known])

    def gone_on(self) -> Floats:
        """dB by which slurred notes are louder, over their lengths, than tongued ones."""
        louder = np.zeros(len(self.start))
        for note in np.flatnonzero(self.slurred).tolist():
            own = self._answers.keys[int(self.pressed[note])]
            span = OVER * min(float(self.stop[note] - self.start[note]), HEARD_WHOLE)
            tongued = np.interp(span, LATER, own.later).mean()
            louder[note] = self._course(note, span).mean() - tongued
        return louder

    def held(self) -> Floats:
        """dB by which each note is to be held up, from its start every ``HOLDING`` seconds, to
        stay as loud as it is at first; after its end what it was then.

        A note that is bent to is evened out: its sound may be anywhere on its way.
        """
        times = HOLDING * np.arange(1 + round(LATER[-1] / HOLDING))
        held = np.zeros((len(self.start), len(times)))
        for note in range(len(self.start)):
            length = float(self.stop[note] - self.start[note])
            begun = self._course(note, OVER * min(length, HEARD_WHOLE)).mean()
            sunk = begun - self._course(note, np.minimum(times, length) - WHILE / 2)
            held[note] = np.clip(sunk, -MOST_HELD if self.bent[note] else 0.0, MOST_HELD)
        held[~self.bent, 0] = 0.0
        return held

    def _course(self, note: int, after: Floats) -> Floats:
        """dB of the sound of a note so many seconds after it is due, against the level that
        its key has tongued."""
        first = int(self.origin[note])
        known = self._known[note]
        course = known.slur_later if self.slurred[first] else known.later
        since = float(self.start[note] - self.start[first])
        return np.asarray(np.interp(since + after, LATER, course))


def _origins(keys: Ints, slurred: Bools) -> Ints:
    """For each note the one whose sound it is: its own, or the one that is bent to it."""
    origin = list(range(len(keys)))
    for note in np.flatnonzero(slurred).tolist():
        first = origin[note - 1]
        if abs(keys[note] - keys[note - 1]) > 0 and abs(keys[note] - keys[first]) <= BENT:
            origin[note] = first
    return np.array(origin, dtype=np.int64)


def _ends(
    part: Part, start: Floats, stop: Floats, line: _Line, joined: Bools
) -> tuple[Floats, Floats]:
    """When notes are let go, and what is added to their release (timecents)."""
    if is_blown(part):
        stop, fall = _blown_ends(part, start, stop, line.rises, joined)
        return stop, np.rint(1200 * np.log2(ENVELOPE / fall) - line.release)
    stop, fall = _struck_ends(start, stop, joined)
    lasting = 1200 * np.log2(ENVELOPE / fall) - line.release
    return stop, np.rint(np.clip(lasting, SHORTEST_RELEASE, 0))


def _struck_ends(start: Floats, stop: Floats, joined: Bools) -> tuple[Floats, Floats]:
    """When struck or plucked notes are let go, and how fast they fall then (dB a second)."""
    following = np.append(start[1:], np.inf)
    stop = np.where(joined, np.minimum(stop, following), stop)
    return stop, np.where(joined, SLUR_FALL, FALL)


def _blown_ends(
    part: Part, start: Floats, stop: Floats, rises: Floats, joined: Bools
) -> tuple[Floats, Floats]:
    """When a wind's notes are let go, and how fast they fall then (dB a second)."""
    following = np.append(start[1:], np.inf)
    drop = np.append(np.maximum(part.level[:-1] - part.level[1:], 0.0), 0.0)
    passed = following + PASSING - drop / SLUR_FALL
    tongue, depth = _tongued(part, following, rises)
    latest = np.minimum(stop, tongue - depth / FASTEST_FALL)
    in_line = (np.append(np.diff(part.onset), 1) > 0) & (following - stop < ONE_LINE)
    in_line &= np.append(part.release[:-1] <= part.release[1:], False)
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.clip(depth / (tongue - latest), FALL, FASTEST_FALL)
    stop = np.where(joined, np.minimum(stop, passed), np.where(in_line, latest, stop))
    return stop, np.where(joined, SLUR_FALL, np.where(in_line, rate, FALL))


def _tongued(part: Part, following: Floats, rises: Floats) -> tuple[Floats, Floats]:
    """When the next note comes up through the room that is left for the tongue (seconds), and
    how far down (dB) that is for the note before it."""
    louder = np.append(np.diff(part.level), 0.0)
    depth = ROOM + np.maximum(-louder, 0.0)
    rising = np.append(rises[1:], rises[-1:], axis=0)
    below = -ROOM - np.maximum(louder, 0.0)
    through = np.array([np.interp(b, RISES, r) for b, r in zip(below, rising, strict=True)])
    return following - rising[:, -1] + through, depth


def _left_uneven(plain: Floats) -> Floats:
    """What is left of the unevenness of plain notes (dB) after the soundfont is evened out."""
    uneven = plain - np.median(plain)
    return uneven - np.clip(uneven, -MOST_EVENED, MOST_EVENED)


def _joined(part: Part) -> Bools:
    """Which notes of a line run into the next one; not those of a chord, or held under it."""
    on, off = part.onset, part.release
    joined = (on[:-1] < on[1:]) & (on[1:] < off[:-1]) & (off[:-1] <= off[1:])
    return np.append(joined, False)


def _attenuation(louder: Floats) -> Floats:
    """Centibels to take away from notes that are to be ``louder`` (dB, below 0) than they are.

    Where a soundfont is too soft for that, the whole part comes out softer.
    """
    return np.round(-10 * (louder - max(0.0, float(louder.max()))))


def _colour(
    answers: Answers, key: int, layer: int, brightness: float
) -> tuple[float, float, float, float]:
    """The cutoff (cents), the edge (dB, minus infinity for none), the plain note's level, and
    the level that the note would have (dB)."""
    plain, own = answers.notes[key, PLAIN], answers.notes[key, layer]
    level = plain.levels[AS_IT_IS]
    tilt = plain.highs[AS_IT_IS] - level + TILT * brightness
    if brightness == 0:
        return 0.0, -np.inf, level, own.levels[AS_IT_IS]
    cutoff = _cutoff(own, tilt, darker=brightness < 0)
    edge = _edge(own, tilt) if brightness > 0 else -np.inf
    if edge == -np.inf:
        return cutoff, edge, level, float(np.interp(cutoff, CUTOFFS, own.levels))
    return float(CUTOFFS[-1]), edge, level, float(np.interp(edge, EDGES, own.edged))


def _cutoff(own: Answer, wanted: float, *, darker: bool) -> float:
    """The cutoff (cents) at which a note's highs lie so much against its level.

    A darker note is never opened, and a brighter one never closed, for it.
    """
    levels = np.array(own.levels)
    usable = levels > levels.max() - MOST_LOSS
    usable &= CUTOFFS <= 0 if darker else CUTOFFS >= 0
    tilt = np.maximum.accumulate((np.array(own.highs) - levels)[usable])
    return round(float(np.interp(wanted, tilt, CUTOFFS[usable])), 1)


def _edge(own: Answer, wanted: float) -> float:
    """The edge (dB) with which a note's highs lie so much against its level; minus infinity
    where an open filter is enough."""
    if own.highs[-1] - own.levels[-1] >= wanted - SAME:
        return -np.inf
    tilt = np.maximum.accumulate(np.array(own.edged_highs) - np.array(own.edged))
    return round(float(np.interp(wanted, tilt, EDGES)), 1)
