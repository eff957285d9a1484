"""How a soundfont's program really answers: measured once, note by note, and remembered.

A soundfont's own layers and its filter change how loud and how bright a key sounds. The probe
plays the keys that a part needs at a few velocities and filter cutoffs, and measures what
comes out; answers are kept in the user's cache folder, by the soundfont's content, the
program and the version of the synthesizer.

Levels are in dB of K-weighted power (ITU-R BS.1770) over a note's first ``HEARD`` seconds,
the ear's weighting, and about the length of an eighth note. Brightness is the
spectral centroid (Hz) of the same stretch.
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
from phrasing.performance import Part
from phrasing.rendering.loudness import k_response
from phrasing.rendering.soundfonts import Soundfont
from phrasing.rendering.synthesizer import CUTOFF, STEP, Synthesizer, library_version
from phrasing.tempo import Floats

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
