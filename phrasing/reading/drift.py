"""A player who wanders around the click: late for a while, then early for a while."""

from __future__ import annotations

import numpy as np

from phrasing.tempo import Floats

WINDOW = 1.5
"""Seconds over which a player's lateness is alike."""
SURELY = 3.0
"""Standard errors by which neighbours must agree before it counts as wandering."""
FEW = 16
"""Notes that are too few to tell."""


def wandering(late: Floats, at: Floats) -> Floats:
    """How late (seconds) the playing is around each note, 0 throughout if it is steady.

    ``late``: seconds by which each note lies behind its place; ``at``: seconds into the
    piece. A note's own lateness has no part in its answer: the others tell.
    """
    spread = 1.483 * float(np.median(np.abs(late - np.median(late))))
    calm = np.clip(late, -3 * spread, 3 * spread)
    around = _of_neighbours(calm, at)
    if len(late) < FEW or np.ptp(calm) == 0 or np.ptp(around) == 0:
        return np.zeros_like(late)
    alike = float(np.corrcoef(calm, around)[0, 1]) * np.sqrt(len(late))
    slope = float(np.dot(calm, around) / np.dot(around, around))
    return around * min(slope, 1.0) if alike > SURELY else np.zeros_like(late)


def _of_neighbours(late: Floats, at: Floats) -> Floats:
    """The mean of the notes around each, weighted by nearness in time, without itself."""
    before = _fading(late, at)
    after = [column[::-1] for column in _fading(late[::-1], -at[::-1])]
    total, weight = before[0] + after[0], before[1] + after[1]
    mean: Floats = total / np.maximum(weight, 1e-9)
    return mean


def _fading(late: Floats, at: Floats) -> list[Floats]:
    """Sums of all earlier values and of their weights, fading with time."""
    fade = np.exp(-np.diff(at, prepend=at[0]) / WINDOW)
    total, weight = 0.0, 0.0
    totals, weights = np.zeros_like(late), np.zeros_like(late)
    for i in range(1, len(late)):
        total = (total + late[i - 1]) * fade[i]
        weight = (weight + 1.0) * fade[i]
        totals[i], weights[i] = total, weight
    return [totals, weights]
