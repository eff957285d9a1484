"""How a soundfont's program really answers: measured once, note by note, and remembered.

A soundfont's own layers and its filter change how loud and how bright a key sounds, and its
recorded attacks how late it speaks. The probe plays the keys that a part needs at a few
velocities and filter cutoffs, and measures what comes out; answers are kept in the user's
cache folder, by the soundfont's content, the program and the version of the synthesizer.

Levels are in dB of K-weighted power (ITU-R BS.1770), the ear's weighting. A note is there once
it is within 6 dB of its level; its level and brightness are those of the ``HEARD`` seconds from
there, about an eighth note.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phrasing.errors import PhrasingError
from phrasing.files import cache_folder, write_whole
from phrasing.performing.performance import Part
from phrasing.score.meters import Floats
from phrasing.sound.loudness import k_response
from phrasing.sound.soundfonts import Soundfont
from phrasing.sound.synthesizer import (
    ATTACK,
    CUTOFF,
    HIGH_PASS,
    HIGH_PASS_Q,
    RELEASE,
    START,
    STEP,
    Synthesizer,
    library_version,
)

RATE = 44100
K_LASTS = 2048
"""Samples for which the K-weighting filter answers."""
HEARD = 0.150
"""Seconds from when a note is there over which its level and brightness are taken."""
WATCHED, FOLLOWED = 0.30, 0.80
"""Seconds of a note that are looked at to find its rise, and to find what its level does."""
LATER = np.array([0.0, 0.04, 0.08, 0.12, 0.16, 0.20, 0.25, 0.30, 0.35, 0.40, 0.50, 0.60])
"""Seconds after a note is there at which its level is taken again, over ``WHILE`` seconds."""
WHILE = 0.040
CUTOFFS = np.array(
    [*np.arange(-7200.0, 0.0, 400.0), 0.0, 400.0, 800.0, 1200.0, 1800.0, 2400.0, 3600.0, 6000.0]
)
"""Filter cutoffs tried: cents from where the soundfont has it; at the last it is open."""
AS_IT_IS = int(np.flatnonzero(CUTOFFS == 0.0)[0])
"""The place in ``CUTOFFS`` where the soundfont has it."""
LAYERS = np.array([28, 38, 48, 58, 69, 80, 92, 104, 116, 127])
"""Velocities tried, about 3 dB apart: soundfonts have fewer layers than that."""
PLAIN = 80
"""The velocity in ``LAYERS`` that stands for the plain note."""
HIGHS = 3000.0
"""Hz above which the power is taken that makes a note bright."""
EDGES = (-9.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0, 12.0)
"""dB at which the edge of a bright note is tried: the same key with its filter open and its
lows cut, sounding along with the note."""
EDGE = {CUTOFF: 6000.0, HIGH_PASS: 9000.0, HIGH_PASS_Q: 0.3}
"""What makes the edge: the filter wide open, and a high-pass at 2 kHz without a bump."""
RISES = np.array([-30.0, -24.0, -18.0, -12.0, -6.0])
"""dB against its level through which a note's rise is followed."""
QUICK, WEAK = 0.030, 0.7
"""Seconds in which a wind's tongued note is to be there, and dB by which it may be softer over
its first ``BEGUN`` seconds than after; one that is slower or weaker starts in its sample."""
BEGUN = 0.060
TONGUE, SLUR = 0.006, 0.010
"""Seconds of the attack of a note that starts within its sample, tongued and slurred."""
STARTS = (500.0, 1000.0, 1500.0, 2000.0, 3000.0, 4000.0, 6000.0, 8000.0)
"""Frames into a sample at which a note may start."""
EVEN = 1.5
"""dB by which a slurred note may depart from its level just after it begins."""
SMOOTHING = np.hanning(9)[1:-1] / np.hanning(9).sum()
"""Of the power of steps of 1.5 ms: 10 ms."""
VERSION = 22
"""Of the measurements: another number makes what was remembered useless."""

Strike = tuple[float, float]
"""Where in its sample a note starts (frames), and what is added to its attack (timecents)."""


@dataclass(frozen=True)
class Answer:
    """A key at one velocity, tongued.

    ``levels`` and ``highs`` (power above 3 kHz) in dB for each cutoff; ``edged`` and
    ``edged_highs`` the same with each of ``EDGES``; ``rises``: seconds from pressing it until
    it comes through each of ``RISES``.
    """

    levels: tuple[float, ...]
    highs: tuple[float, ...]
    edged: tuple[float, ...]
    edged_highs: tuple[float, ...]
    rises: tuple[float, ...]


@dataclass(frozen=True)
class Key:
    """How a key is struck ``tongued`` and ``slurred``.

    ``late``: seconds from pressing it to when it is there, as the soundfont has it;
    ``slur_rises`` as ``Answer.rises``; ``later``: dB by which a tongued one is louder at each
    of ``LATER`` than over ``HEARD``; ``slur_later``: dB by which a slurred one is louder then
    than a tongued one over ``HEARD``; ``release``: the soundfont's own, in timecents.
    """

    tongued: Strike
    slurred: Strike
    late: float
    slur_rises: tuple[float, ...]
    later: tuple[float, ...]
    slur_later: tuple[float, ...]
    release: float


@dataclass
class Answers:
    """What is known about a program: ``notes`` by (pitch, velocity), ``keys`` by pitch."""

    notes: dict[tuple[int, int], Answer] = field(default_factory=dict)
    keys: dict[int, Key] = field(default_factory=dict)


_known: dict[Path, Answers] = {}
_lock = Lock()


def is_blown(part: Part) -> bool:
    """Whether breath plays the part: voices, brass, reeds and pipes of General MIDI."""
    return 53 <= part.program <= 54 or 57 <= part.program <= 80


def ask(soundfont: Soundfont, part: Part, keys: Iterable[tuple[int, int]]) -> Answers:
    """What the part's program answers to these keys: (pitch, velocity in ``LAYERS``)."""
    path = _memory_of(soundfont, part)
    with _lock:
        if path not in _known:
            _known[path] = _remembered(path)
        answers = _known[path]
        missing = sorted(set(keys) - set(answers.notes))
        if missing:
            _listen(soundfont, part, missing, answers)
            _remember(path, answers)
        return answers


def _listen(
    soundfont: Soundfont, part: Part, keys: list[tuple[int, int]], answers: Answers
) -> None:
    """Play the keys and take down the answers."""
    with Synthesizer(soundfont, RATE) as synthesizer:
        synthesizer.program(0, part.kit if part.is_drums else part.program, drums=part.is_drums)
        probe = _Probe(synthesizer, is_blown(part))
        probe.struck(keys[0][0], PLAIN)  # the first note of all starts differently
        for pitch in sorted({pitch for pitch, _ in keys} - set(answers.keys)):
            answers.keys[pitch] = probe.key(pitch)
        for pitch, velocity in keys:
            answers.notes[pitch, velocity] = probe.note(pitch, velocity, answers.keys[pitch])


class _Probe:
    """One program at a synthesizer, struck note by note."""

    def __init__(self, synthesizer: Synthesizer, blown: bool) -> None:
        self._synthesizer, self._blown = synthesizer, blown
        self._attack = self._release = 0.0

    def struck(
        self,
        pitch: int,
        velocity: int,
        setting: dict[int, float] | None = None,
        seconds: float = WATCHED,
    ) -> NDArray[np.float32]:
        """The first ``seconds`` of a note."""
        samples = np.zeros((2, round(seconds * RATE / STEP) * STEP), np.float32)
        synthesizer, setting = self._synthesizer, setting or {}
        for generator, value in setting.items():
            synthesizer.generator(0, generator, value)
        synthesizer.note_on(0, pitch, velocity)
        synthesizer.pull(samples, 0, STEP)
        self._attack, self._release = synthesizer.own(ATTACK), synthesizer.own(RELEASE)
        synthesizer.pull(samples, STEP, samples.shape[1])
        # Cut off, and a step gone by: one struck at once would start in its middle.
        synthesizer.silence(0)
        synthesizer.pull(np.zeros((2, STEP), np.float32), 0, STEP)
        for generator in setting:
            synthesizer.generator(0, generator, 0.0)
        return samples

    def key(self, pitch: int) -> Key:
        plain = self.struck(pitch, PLAIN)
        attack, release = self._attack, self._release
        tongued: Strike = (0.0, 0.0)
        rises, level = _rise(plain)
        late = rises[-1]
        if not self._blown or level < -100:
            steady = tuple(0.0 * LATER)
            return Key(tongued, tongued, late, rises, steady, steady, release)
        if late > QUICK or _weak(plain, late) > WEAK:
            tongued = self._quick(pitch, _attack(TONGUE, attack), level)
        _, later, level = self._followed(pitch, tongued, None)
        slurred = self._smooth(pitch, _attack(SLUR, attack))
        slur_rises, slur_later, _ = self._followed(pitch, slurred, level)
        return Key(tongued, slurred, late, slur_rises, later, slur_later, release)

    def _followed(
        self, pitch: int, strike: Strike, level: float | None
    ) -> tuple[tuple[float, ...], tuple[float, ...], float]:
        """The rises of a note, how much louder than ``level`` (None: than itself over
        ``HEARD``) it is at each of ``LATER``, and its own level (dB)."""
        samples = self.struck(pitch, PLAIN, _strike(strike), FOLLOWED)
        rises, own = _rise(samples)
        louder = 0.0 if level is None else own - level
        later = (round(louder + each, 2) for each in _later(samples, rises[-1]))
        return rises, tuple(later), own

    def _quick(self, pitch: int, attack: float, level: float) -> Strike:
        """The least far into its sample that a tongued note is there in time, and at once."""
        tried: list[tuple[float, Strike]] = []
        for start in STARTS:
            samples = self.struck(pitch, PLAIN, _strike((start, attack)))
            rises, now = _rise(samples)
            if now < level - 6:
                break
            weak = _weak(samples, rises[-1])
            if rises[-1] <= QUICK and weak <= WEAK:
                return start, attack
            tried.append((max(rises[-1] / QUICK, weak / WEAK), (start, attack)))
        return min(tried)[1] if tried else (0.0, 0.0)

    def _smooth(self, pitch: int, attack: float) -> Strike:
        """Where in its sample a slurred note begins: past the attack, its level even."""
        tried: list[tuple[float, Strike]] = []
        for start in (0.0, *STARTS):
            uneven = _uneven(self.struck(pitch, PLAIN, _strike((start, attack))))
            if uneven <= EVEN:
                return start, attack
            tried.append((uneven, (start, attack)))
        return min(tried)[1]

    def note(self, pitch: int, velocity: int, key: Key) -> Answer:
        strike = _strike(key.tongued)
        heard = [
            self.struck(pitch, velocity, strike | {CUTOFF: cutoff})
            for cutoff in CUTOFFS.tolist()
        ]
        edge = self.struck(pitch, velocity, strike | EDGE)
        rises, _ = _rise(heard[AS_IT_IS])
        heard += [heard[-1] + np.float32(10 ** (gain / 20)) * edge for gain in EDGES]
        levels, highs = _measured(np.stack(heard), rises[-1])
        count = len(CUTOFFS)
        return Answer(levels[:count], highs[:count], levels[count:], highs[count:], rises)


def _attack(seconds: float, own: float) -> float:
    """What makes an attack last so long, in timecents added to the soundfont's own."""
    return round(1200 * math.log2(seconds) - own, 1)


def _strike(strike: Strike) -> dict[int, float]:
    return {START: strike[0], ATTACK: strike[1]}


def _k_weighted(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    from scipy import fft

    size = 1 << (samples.shape[-1] + K_LASTS).bit_length()
    weighted = fft.irfft(fft.rfft(samples, size) * k_response(RATE, size), size)
    return np.asarray(weighted[..., : samples.shape[-1]])


def _steps(samples: NDArray[np.float32]) -> Floats:
    """K-weighted power, smoothed, in steps of ``STEP`` samples."""
    pieces = _k_weighted(samples).astype(np.float64).reshape(2, -1, STEP)
    return np.convolve((pieces**2).mean(axis=(0, 2)), SMOOTHING, "same") + 1e-20


def _rise(samples: NDArray[np.float32]) -> tuple[tuple[float, ...], float]:
    """When the note comes through each of ``RISES`` (seconds), and its level (dB)."""
    power, span, there = 10 * np.log10(_steps(samples)), round(HEARD * RATE / STEP), 15
    for _ in range(4):
        level = float(10 * np.log10((10 ** (power[there : there + span] / 10)).mean()))
        there = _first(power, level + RISES[-1])
    rises = [_crossing(power[: there + 1], level + rise) for rise in RISES.tolist()]
    return tuple(round(rise, 4) for rise in rises), level


def _weak(samples: NDArray[np.float32], there: float) -> float:
    """dB by which a note is softer over its first ``BEGUN`` seconds than over as many after."""
    power, span = _steps(samples), round(BEGUN * RATE / STEP)
    first = round(there * RATE / STEP)
    begun, after = (
        power[first : first + span].mean(),
        power[first + span : first + 2 * span].mean(),
    )
    return float(10 * np.log10(after / begun))


def _later(samples: NDArray[np.float32], there: float) -> tuple[float, ...]:
    """dB by which a note is louder at each of ``LATER`` than over ``HEARD``."""
    power, first = _steps(samples), round(there * RATE / STEP)
    level = power[first : first + round(HEARD * RATE / STEP)].mean()
    starts = first + np.rint(LATER * RATE / STEP).astype(int)
    span = round(WHILE * RATE / STEP)
    levels = [float(power[start : start + span].mean()) for start in starts.tolist()]
    return tuple(round(10 * math.log10(later / level), 2) for later in levels)


def _first(power: Floats, level: float) -> int:
    return int(np.argmax(power >= level))


def _crossing(power: Floats, level: float) -> float:
    """Seconds at which the power comes through the level for the last time."""
    below = np.flatnonzero(power < level)
    if not len(below) or below[-1] + 1 >= len(power):
        return 0.0
    at = int(below[-1])
    share = (level - power[at]) / (power[at + 1] - power[at])
    return float((at + share + 0.5) * STEP / RATE)


def _uneven(samples: NDArray[np.float32]) -> float:
    """dB by which a note and its overtones depart from later ones just after it begins."""
    overtones = np.diff(samples, axis=1, prepend=np.float32(0))
    return max(_departure(_steps(samples)), _departure(_steps(overtones)))


def _departure(power: Floats) -> float:
    levels = [
        float(power[round(start * RATE / STEP) : round(stop * RATE / STEP)].mean())
        for start, stop in ((SLUR, 0.045), (0.045, 0.080), (0.080, 0.150))
    ]
    if min(levels) < 1e-12:
        return math.inf
    return max(abs(10 * math.log10(level / levels[-1])) for level in levels[:-1])


def _measured(
    heard: NDArray[np.float32], start: float
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Level and highs (dB) of notes, shape (notes, 2, n), from ``start`` seconds on."""
    from scipy import fft

    first, count = round(start * RATE), round(HEARD * RATE)
    levels = (_k_weighted(heard)[..., first : first + count].astype(np.float64) ** 2).mean(-1)
    window = np.hanning(count).astype(np.float32)
    power = np.abs(fft.rfft(heard[..., first : first + count] * window)).astype(float) ** 2
    highs = power[..., round(HIGHS * count / RATE) :].sum(-1) / (window**2).sum() / count * 2
    return _decibels(levels.sum(-1)), _decibels(highs.sum(-1))


def _decibels(power: Floats) -> tuple[float, ...]:
    """As they are remembered, so that measured and remembered answers sound the same."""
    return tuple(round(value, 2) for value in (10 * np.log10(power + 1e-20)).tolist())


def _memory_of(soundfont: Soundfont, part: Part) -> Path:
    """The file with what the part's program answers; one that is never there without a home."""
    program = f"drums{part.kit}" if part.is_drums else str(part.program)
    name = f"{soundfont.fingerprint}-{program}-{library_version()}-v{VERSION}.json"
    try:
        return cache_folder() / "probes" / name
    except RuntimeError:
        return Path(os.devnull) / name


def _remembered(path: Path) -> Answers:
    """The answers in the file; none where there is no file, or it is not as it was written."""
    try:
        checksum, _, content = path.read_text(encoding="utf-8").partition("\n")
        return _answers(json.loads(content)) if checksum == _checksum(content) else Answers()
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return Answers()


def _checksum(content: str) -> str:
    return hashlib.sha256(content.encode()).hexdigest()


def _answers(table: Any) -> Answers:
    keys = {int(pitch): Key(**_plain(entry)) for pitch, entry in table["keys"].items()}
    notes = {}
    for name, entry in table["notes"].items():
        pitch, velocity = map(int, name.split("/"))
        notes[pitch, velocity] = answer = Answer(**_plain(entry))
        lengths = (answer.levels, answer.highs, answer.edged, answer.edged_highs, answer.rises)
        wanted = 2 * [len(CUTOFFS)] + 2 * [len(EDGES)] + [len(RISES)]
        if list(map(len, lengths)) != wanted or pitch not in keys:
            raise ValueError(name)
    return Answers(notes, keys)


def _plain(entry: Any) -> dict[str, Any]:
    """Numbers, and lists of them as tuples."""
    return {
        name: tuple(map(_number, value)) if isinstance(value, list) else _number(value)
        for name, value in entry.items()
    }


def _number(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(value)
    return number


def _remember(path: Path, answers: Answers) -> None:
    """Keep the answers; where the cache cannot be written they are measured again next time."""
    table = {
        "notes": {
            f"{p}/{v}": asdict(answer) for (p, v), answer in sorted(answers.notes.items())
        },
        "keys": {str(pitch): asdict(key) for pitch, key in sorted(answers.keys.items())},
    }
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        content = json.dumps(table) + "\n"
        write_whole(path, f"{_checksum(content)}\n{content}")
    except (OSError, PhrasingError):
        return
