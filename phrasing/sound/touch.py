"""How each note is touched on the synthesizer, so that it is heard as the performance asks.

The level asked for is against the plain note of the same pitch, as heard. Closing the filter
takes level away, and so may a soundfont's softer layers: both were measured, and are made up
for. The plain note itself is played with the filter a little closed, so that a bright one can
open it. Plain notes come out equally loud whatever their pitch (soundfonts jump by up to 8 dB
from one key to the next, which would hide a mark), and so do the plain notes of all parts, so
that a part's gain means the same on any soundfont. A key that a soundfont leaves silent is
played by its neighbour, tuned.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phrasing.errors import PhrasingError
from phrasing.files import write_whole
from phrasing.performing.performance import Part
from phrasing.score.melody import Bools, Floats, Ints
from phrasing.sound.events import Touch
from phrasing.sound.loudness import k_response
from phrasing.sound.soundfonts import Soundfont
from phrasing.sound.synthesizer import (
    ATTENUATION,
    COARSE_TUNE,
    CUTOFF,
    RELEASE,
    STEP,
    Synthesizer,
    library_version,
)

RATE = 44100
SIZE = 8192
"""Samples in an FFT."""
HEARD = 0.18
"""Seconds at a note's start over which its level and brightness are taken."""
CUTOFFS = np.concatenate([np.arange(-7400.0, -999.0, 400.0), [-500.0, 0.0, 500.0, 3000.0]])
"""Filter cutoffs tried: cents from where the soundfont has it."""
LAYERS = np.array([28, 38, 48, 58, 69, 80, 92, 104, 116, 127])
"""Velocities tried, about 3 dB apart: soundfonts have fewer layers than that."""
FALLEN = 30.0
"""dB by which a note has fallen when it counts as ended."""
RISEN = -6.0
"""dB against its steady level at which a note counts as there."""
WATCHED = 0.6
"""Seconds after the key is let go for which the fall is watched."""
VERSION = 2
"""Of the measurements: another number makes what was remembered useless."""


@dataclass(frozen=True)
class Answer:
    """A key at one velocity: ``levels`` (dB) and ``centroids`` (Hz), one for each cutoff."""

    levels: tuple[float, ...]
    centroids: tuple[float, ...]


@dataclass
class Answers:
    """What is known about a program: ``notes`` by (pitch, velocity).

    ``falls`` by pitch: seconds from letting the key go until the note has fallen ``FALLEN`` dB;
    ``rises`` by pitch: seconds from pressing it until the note has risen to ``RISEN`` dB.
    """

    notes: dict[tuple[int, int], Answer] = field(default_factory=dict)
    falls: dict[int, float] = field(default_factory=dict)
    rises: dict[int, float] = field(default_factory=dict)


_known: dict[Path, Answers] = {}
_lock = Lock()


def ask(soundfont: Soundfont, part: Part, keys: Iterable[tuple[int, int]]) -> Answers:
    """What the part's program answers to these keys: (pitch, velocity in ``LAYERS``)."""
    path = _cache_folder() / "probes" / f"{_name(soundfont, part)}.json"
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
        _rise_and_fall(synthesizer, keys[0][0])  # the first note of all starts differently
        for pitch, velocity in keys:
            answers.notes[pitch, velocity] = _answer(synthesizer, pitch, velocity)
        for pitch in sorted({pitch for pitch, _ in keys} - set(answers.falls)):
            answers.rises[pitch], answers.falls[pitch] = _rise_and_fall(synthesizer, pitch)


def _answer(synthesizer: Synthesizer, pitch: int, velocity: int) -> Answer:
    from scipy import fft

    count = round(HEARD * RATE / STEP) * STEP
    heard = np.zeros((len(CUTOFFS), 2, SIZE), np.float32)
    for cutoff, samples in zip(CUTOFFS.tolist(), heard, strict=True):
        synthesizer.generator(0, CUTOFF, cutoff)
        synthesizer.note_on(0, pitch, velocity)
        synthesizer.pull(samples, 0, count)
        _silence(synthesizer)
    power = (np.abs(fft.rfft(heard)).astype(np.float64) ** 2).sum(axis=1) / (SIZE / 2 * count)
    weighted = power @ np.abs(k_response(RATE, SIZE)).astype(np.float64) ** 2 + 1e-20
    frequencies = np.arange(SIZE // 2 + 1) * RATE / SIZE
    centroids = power @ frequencies / (power.sum(axis=1) + 1e-20)
    return Answer(_rounded(10 * np.log10(weighted)), _rounded(centroids))


def _rounded(values: Floats) -> tuple[float, ...]:
    """As they are remembered, so that measured and remembered answers sound the same."""
    return tuple(round(value, 2) for value in values.tolist())


def _rise_and_fall(synthesizer: Synthesizer, pitch: int) -> tuple[float, float]:
    """Seconds that the note takes to be there, and to be gone (``WATCHED`` at most)."""
    step = 2 * STEP
    held = np.zeros((2, round(HEARD * RATE / step) * step), np.float32)
    dying = np.zeros((2, round(WATCHED * RATE / step) * step), np.float32)
    synthesizer.generator(0, CUTOFF, 0.0)
    synthesizer.note_on(0, pitch, 80)
    synthesizer.pull(held, 0, held.shape[1])
    synthesizer.note_off(0, pitch)
    synthesizer.pull(dying, 0, dying.shape[1])
    _silence(synthesizer)
    rising, falling = _power(held, step), _power(dying, step)
    there = np.flatnonzero(rising >= rising.mean() * 10 ** (RISEN / 10))
    loud = np.flatnonzero(falling > rising[-4:].mean() * 10 ** (-FALLEN / 10))
    rise, fall = (int(there[0]) if len(there) else 0), (int(loud[-1]) if len(loud) else 0)
    return round(rise * step / RATE, 4), round((fall + 1) * step / RATE, 4)


def _silence(synthesizer: Synthesizer) -> None:
    """Cut the note off, and let a step go by: one struck at once would start in its middle."""
    synthesizer.silence(0)
    synthesizer.pull(np.zeros((2, STEP), np.float32), 0, STEP)


def _power(samples: NDArray[np.float32], step: int) -> Floats:
    pieces = samples.astype(np.float64).reshape(2, -1, step)
    return np.asarray((pieces**2).mean(axis=(0, 2)))


def _name(soundfont: Soundfont, part: Part) -> str:
    program = f"drums{part.kit}" if part.is_drums else str(part.program)
    return f"{soundfont.fingerprint}-{program}-{library_version()}-v{VERSION}"


def _cache_folder() -> Path:
    """Where the system keeps what programs can work out again."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData/Local")
    elif sys.platform == "darwin":
        base = home / "Library/Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")
    return base / "phrasing"


def _remembered(path: Path) -> Answers:
    """The answers in the file; none where there is no file or it makes no sense."""
    try:
        return _answers(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return Answers()


def _answers(table: Any) -> Answers:
    answers = Answers()
    for pitch, layers in table["notes"].items():
        for velocity, answer in layers.items():
            levels, centroids = (tuple(map(float, answer[n])) for n in ("levels", "centroids"))
            if len(levels) != len(CUTOFFS) or len(centroids) != len(CUTOFFS):
                raise ValueError(pitch)
            answers.notes[int(pitch), int(velocity)] = Answer(levels, centroids)
    answers.falls = {int(pitch): float(fall) for pitch, fall in table["falls"].items()}
    answers.rises = {int(pitch): float(rise) for pitch, rise in table["rises"].items()}
    if {pitch for pitch, _ in answers.notes} - (set(answers.falls) & set(answers.rises)):
        raise ValueError("falls")
    return answers


def _remember(path: Path, answers: Answers) -> None:
    """Keep the answers; where the cache cannot be written they are measured again next time."""
    notes: dict[str, dict[str, dict[str, tuple[float, ...]]]] = {}
    for (pitch, velocity), answer in sorted(answers.notes.items()):
        entry = {"levels": answer.levels, "centroids": answer.centroids}
        notes.setdefault(str(pitch), {})[str(velocity)] = entry
    table = {
        "notes": notes,
        "falls": {str(pitch): fall for pitch, fall in sorted(answers.falls.items())},
        "rises": {str(pitch): rise for pitch, rise in sorted(answers.rises.items())},
    }
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, json.dumps(table) + "\n")
    except (OSError, PhrasingError):
        return


PLAIN = 80
"""The velocity in ``LAYERS`` that stands for the plain note."""
BRIGHTNESS = (-1.0, 0.0, 1.0)
OPENNESS = (0.30, 0.75, 1.0)
"""By brightness: where the spectral centroid lies between the note's own frequency (0) and
its place with the filter open (1)."""
LEAST_SPAN = 0.8
"""The centroid is never brought below this share of its open place for a lack of harmonics."""
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
FALL, JOINED_FALL = 0.060, 0.025
"""Seconds in which a note falls by 30 dB when it ends, if the soundfont takes longer; and when
it runs into the next one, which a wind player's cannot sound beside."""
SHORTEST_RELEASE = -3600.0
"""Timecents by which a release is shortened at most: an eighth of its length."""
SOFTEST_DRUM = 25.0
"""dB below the loudest drum at which one counts as missing, and is not brought up to it."""


def touch_of(part: Part, soundfont: Soundfont) -> Touch:
    """How the notes of the part are to be played with this soundfont."""
    if not len(part.onset):
        return Touch(part.velocity, {}, np.zeros(0), part.pitch)
    if part.is_drums:
        return _drum_touch(part, soundfont)
    layers = LAYERS[np.abs(np.log(part.velocity[:, None] / LAYERS)).argmin(axis=1)]
    keys = _sounding_keys(part, soundfont)
    needed = set(zip(keys.tolist(), layers.tolist(), strict=True))
    answers = ask(soundfont, part, needed | {(key, PLAIN) for key, _ in needed})
    return _touch(part, keys, layers, answers)


def _sounding_keys(part: Part, soundfont: Soundfont) -> Ints:
    """The key that plays each note: its own, or the next where the soundfont lacks it."""
    pitches = part.pitch.tolist()
    answers = ask(soundfont, part, {(pitch, PLAIN) for pitch in pitches})
    silent = {pitch for pitch in pitches if _is_silent(answers.notes[pitch, PLAIN])}
    instead = {pitch: _key_near(pitch, part, soundfont) for pitch in sorted(silent)}
    return np.array([instead.get(pitch, pitch) for pitch in pitches], dtype=np.int64)


def _key_near(pitch: int, part: Part, soundfont: Soundfont) -> int:
    """The nearest key that sounds; the pitch itself if there is none within an octave."""
    for distance in range(1, 13):
        for key in (pitch - distance, pitch + distance):
            if 0 <= key <= HIGHEST_KEY:
                answer = ask(soundfont, part, [(key, PLAIN)]).notes[key, PLAIN]
                if not _is_silent(answer):
                    return key
    return pitch


def _is_silent(answer: Answer) -> bool:
    return max(answer.levels) < SILENT


def _drum_touch(part: Part, soundfont: Soundfont) -> Touch:
    """Each drum's plain stroke as loud as any other's: soundfonts differ by 10 dB in that."""
    keys = part.pitch.tolist()
    answers = ask(soundfont, part, {(key, PLAIN) for key in keys})
    plain = np.array([answers.notes[key, PLAIN].levels[-1] for key in keys])
    plain = np.maximum(plain, plain.max() - SOFTEST_DRUM)
    quieter = _attenuation(NOMINAL + part.gain - plain)
    return Touch(part.velocity, {ATTENUATION: quieter}, np.full(len(keys), np.inf), part.pitch)


def _touch(part: Part, keys: Ints, layers: Ints, answers: Answers) -> Touch:
    notes = list(zip(keys.tolist(), layers.tolist(), part.brightness.tolist(), strict=True))
    settings = {note: _setting(answers, *note) for note in set(notes)}
    cutoff, plain, own = np.array([settings[note] for note in notes]).T
    wanted = NOMINAL + part.gain + part.level + _left_uneven(plain)
    joined = _joined(part)
    own_fall = np.array([answers.falls[key] for key in keys.tolist()])
    fall = np.where(joined, JOINED_FALL, FALL)
    generators = {
        CUTOFF: cutoff,
        ATTENUATION: _attenuation(wanted - own),
        RELEASE: np.clip(np.rint(1200 * np.log2(fall / own_fall)), SHORTEST_RELEASE, 0),
        COARSE_TUNE: (part.pitch - keys).astype(np.float64),
    }
    rise = np.array([answers.rises[key] for key in np.append(keys[1:], keys[-1]).tolist()])
    return Touch(layers, generators, np.where(joined, rise, np.inf), keys)


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


def _setting(
    answers: Answers, pitch: int, layer: int, brightness: float
) -> tuple[float, float, float]:
    """The cutoff (cents), the plain note's level, and the level that note would have (dB)."""
    reference = answers.notes[pitch, PLAIN]
    plain = _level_at(reference, _cutoff(reference, reference, pitch, 0.0))
    own = answers.notes[pitch, layer]
    cutoff = _cutoff(reference, own, pitch, brightness)
    return cutoff, plain, _level_at(own, cutoff)


def _cutoff(reference: Answer, own: Answer, pitch: int, brightness: float) -> float:
    """The cutoff at which a note is as bright as asked, judged by the plain note's layer."""
    top = max(reference.centroids)
    bottom = min(440 * 2 ** ((pitch - 69) / 12), LEAST_SPAN * top)
    share = float(np.interp(brightness, BRIGHTNESS, OPENNESS))
    levels = np.array(own.levels)
    usable = levels > levels.max() - MOST_LOSS
    rising = np.maximum.accumulate(np.array(own.centroids)[usable])
    return round(float(np.interp(bottom + share * (top - bottom), rising, CUTOFFS[usable])), 1)


def _level_at(answer: Answer, cutoff: float) -> float:
    return float(np.interp(cutoff, CUTOFFS, answer.levels))
