"""How each note is touched on the synthesizer, so that it is heard as the performance asks.

The level asked for is against the plain note of the same pitch, as heard. Closing the filter
takes level away, and so may a soundfont's softer layers: both were measured, and are made up
for. The plain note itself is played with the filter a little closed, so that a bright one can
open it. Every part's plain notes come out equally loud on average, so that a part's gain
means the same on any soundfont.
"""

from __future__ import annotations

import numpy as np

from phrasing.performance import Part
from phrasing.rendering.events import Touch
from phrasing.rendering.probing import CUTOFFS, LAYERS, Answer, Answers, ask
from phrasing.rendering.soundfonts import Soundfont
from phrasing.rendering.synthesizer import ATTENUATION, CUTOFF, RELEASE
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
"""dB (K-weighted) at which the plain notes of a part lie on average, before its gain: low
enough that a soundfont's notes are turned down to it, even if single ones are turned up."""
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
        return Touch(part.velocity, {}, np.zeros(0))
    if part.is_drums:
        return _drum_touch(part, soundfont)
    layers = LAYERS[np.abs(np.log(part.velocity[:, None] / LAYERS)).argmin(axis=1)]
    keys = set(zip(part.pitch.tolist(), layers.tolist(), strict=True))
    answers = ask(soundfont, part, keys | {(pitch, PLAIN) for pitch, _ in keys})
    return _touch(part, layers, answers)


def _drum_touch(part: Part, soundfont: Soundfont) -> Touch:
    """Each drum's plain stroke as loud as any other's: soundfonts differ by 10 dB in that."""
    keys = part.pitch.tolist()
    answers = ask(soundfont, part, {(key, PLAIN) for key in keys})
    plain = np.array([answers.notes[key, PLAIN].levels[-1] for key in keys])
    plain = np.maximum(plain, plain.max() - SOFTEST_DRUM)
    quieter = _attenuation(NOMINAL + part.gain - plain)
    return Touch(part.velocity, {ATTENUATION: quieter}, np.full(len(keys), np.inf))


def _touch(part: Part, layers: Ints, answers: Answers) -> Touch:
    columns = (part.pitch.tolist(), layers.tolist(), part.brightness.tolist())
    notes = list(zip(*columns, strict=True))
    settings = {note: _setting(answers, *note) for note in set(notes)}
    cutoff, plain, own = np.array([settings[note] for note in notes]).T
    wanted = plain + part.level + (NOMINAL + part.gain - plain.mean())
    joined = _joined(part)
    pitches = part.pitch.tolist()
    own_fall = np.array([answers.falls[pitch] for pitch in pitches])
    fall = np.where(joined, JOINED_FALL, FALL)
    release = np.clip(np.rint(1200 * np.log2(fall / own_fall)), SHORTEST_RELEASE, 0)
    next_rise = np.array([answers.rises[pitch] for pitch in [*pitches[1:], pitches[-1]]])
    generators = {CUTOFF: cutoff, ATTENUATION: _attenuation(wanted - own), RELEASE: release}
    return Touch(layers, generators, np.where(joined, next_rise, np.inf))


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
