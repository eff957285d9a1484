"""A human clock: time that wanders and remembers, off unless a feel asks for it.

People do not miss the beat anew at every note: where they are early or late changes slowly,
and over many beats more than over few (fluctuations with long memory in rhythms tapped and
drummed: Hennig et al. 2011, PLoS ONE 6(10):e26457, from memory). So each deviation here is a
sum of deviations that are forgotten after one, two, four, eight and sixteen beats. The same
feel gives the same deviations to every version of a melody.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from phrasing.feel import Wander
from phrasing.performing.swing import SwingMap
from phrasing.score.meters import TICKS, Floats, TempoMap

MEMORIES = (1.0, 2.0, 4.0, 8.0, 16.0)
"""Beats after which a deviation has faded to a third."""
TIME, RATIO, LAG = range(3)
"""What wanders, each on its own."""
WIDEST = 2.5
"""Standard deviations that nothing goes beyond."""


def wandering(count: int, rng: np.random.Generator) -> Floats:
    """Deviations, one a beat, each remembering those before: about 1 in standard deviation.

    >>> values = wandering(4000, np.random.default_rng(1))
    >>> bool(0.8 < values.std() < 1.2)
    True
    """
    total = np.zeros(count)
    for memory in MEMORIES:
        kept = float(np.exp(-1.0 / memory))
        fresh = rng.standard_normal(count) * np.sqrt(1.0 - kept**2)
        value = float(rng.standard_normal())
        for beat, new in enumerate(fresh.tolist()):
            value = kept * value + new
            total[beat] += value
    return np.clip(total / np.sqrt(len(MEMORIES)), -WIDEST, WIDEST)


def _deviations(beats: SwingMap, wander: Wander, what: int) -> Floats:
    """One deviation a beat of the piece."""
    rng = np.random.default_rng([wander.seed, what])
    return wandering(len(beats.off), rng)


def uneven(beats: SwingMap, wander: Wander) -> SwingMap:
    """The swing of a piece with its ratio changing from beat to beat; even beats stay even."""
    if not wander.ratio or not len(beats.off):
        return beats
    ratio = beats.off / (1.0 - beats.off)
    varied = np.maximum(1.0, ratio * np.exp(wander.ratio * _deviations(beats, wander, RATIO)))
    off = np.where(ratio > 1.0, varied / (1.0 + varied), beats.off)
    return replace(beats, off=off)


def drift(ticks: ArrayLike, beats: SwingMap, tempos: TempoMap, wander: Wander) -> Floats:
    """Ticks by which the player's clock is ahead or behind at these ticks; 0 at the start."""
    at = np.asarray(ticks, dtype=np.float64)
    if not wander.time or not len(beats.off):
        return np.zeros_like(at)
    off = _deviations(beats, wander, TIME)
    share = np.interp(at, beats.starts[:-1], off - off[0])
    beat = np.minimum(wander.time * 60.0 / tempos.at(at), wander.most)
    return np.asarray(share * beat * tempos.at(at) / 60.0 * TICKS)


def leaning(ticks: Floats, beats: SwingMap, wander: Wander) -> Floats:
    """By how much the soloist's lateness is larger (1: as it is), changing as phrases go."""
    if not wander.lag or not len(beats.off):
        return np.ones_like(ticks)
    share = np.interp(ticks, beats.starts[:-1], _deviations(beats, wander, LAG))
    return np.maximum(0.0, 1.0 + wander.lag * share)
