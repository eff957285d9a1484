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

import numpy as np

from phrasing.performance import Part
from phrasing.rendering.events import Touch
from phrasing.rendering.probing import CUTOFFS, LAYERS, Answer, Answers, ask
from phrasing.rendering.soundfonts import Soundfont
from phrasing.rendering.synthesizer import ATTENUATION, COARSE_TUNE, CUTOFF, RELEASE
from phrasing.tempo import Bools, Floats, Ints

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
