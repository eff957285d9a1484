"""Peaks of a whole band held down for the few milliseconds that they last.

Bass, piano and drums strike together, and a slow, soft piece may have peaks that stand so far
out of it that no gain brings it to the loudness asked for. They are turned down by a gain that
moves smoothly within ``NEAR`` seconds on either side (common practice; the seconds and the dB
are design parameters, no source). A melody without a band is never touched: its
accents are meant.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np

from phrasing.score.meters import Floats
from phrasing.sound.loudness import TruePeak
from phrasing.sound.streams import Samples

NEAR = 0.010
"""Seconds before and after a peak in which the gain comes down and goes up again."""
MOST = 4.0
"""dB by which peaks are held down at most."""
ROUNDS, CLOSER = 4, 0.999
"""Times that the level is tried, and how much below what seems enough."""


def limited(blocks: Iterable[Samples], most: float, rate: int) -> Iterator[Samples]:
    """The blocks, shape (2, n) and longer than 4 × ``NEAR``, with no sample above ``most``.

    >>> quiet, loud = np.full((2, 4000), 0.25, np.float32), np.ones((2, 4000), np.float32)
    >>> [float(block.max()) for block in limited([quiet, loud], 0.5, 44100)]
    [0.25, 0.5]
    """
    reach = round(NEAR * rate)
    before = now = None
    for after in (*_copies(blocks), None):
        if now is not None:
            yield _held_down(before, now, after, most, reach)
        before, now = now, after


def _copies(blocks: Iterable[Samples]) -> Iterator[Samples]:
    yield from (block.copy() for block in blocks)


def _held_down(
    before: Samples | None, now: Samples, after: Samples | None, most: float, reach: int
) -> Samples:
    nothing = np.zeros((2, 2 * reach), np.float32)
    earlier = nothing if before is None else before[:, -2 * reach :]
    later = nothing if after is None else after[:, : 2 * reach]
    size = np.abs(np.concatenate([earlier, now, later], axis=1)).max(axis=0)
    if size.max() <= most:
        return now
    gain = _smooth(np.minimum(1.0, most / np.maximum(size, most)), reach)
    return np.asarray(now * gain[2 * reach : -2 * reach].astype(np.float32))


def _smooth(gain: Floats, reach: int) -> Floats:
    """The least gain within reach, averaged over as much: never above what is needed."""
    from scipy.ndimage import minimum_filter1d, uniform_filter1d

    least = minimum_filter1d(gain, 2 * reach + 1)
    size = reach | 1
    return np.asarray(uniform_filter1d(uniform_filter1d(least, size), size))


def ceiling_for(
    blocks: Callable[[], Iterable[Samples]], peak: float, rate: int
) -> tuple[float, float]:
    """The level to hold samples to for a true peak of at most ``peak``, and that true peak.

    ``blocks`` gives the sound from its start, each time it is called.
    """
    most = found = peak
    for _ in range(ROUNDS):
        meter = TruePeak()
        for block in limited(blocks(), most, rate):
            meter.add(block)
        found = meter.value()
        if found <= peak:
            break
        most *= peak / found * CLOSER
    return most, found
