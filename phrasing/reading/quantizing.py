"""From played time to written time: what a reader would write for what was played.

``quantize`` is pure: arrays in, arrays out, positions in ticks of score time (960 to the
quarter). It estimates how loosely the melody was played, whether all of it lies late or
early, and whether its eighths are swung, then finds the likeliest grid for every beat, over
the whole melody at once, and the lengths a reader would write.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from phrasing.melody import Bar
from phrasing.reading import rhythm
from phrasing.reading.grids import PAIRS, RAGGED_SLOT, SIMPLE, WHOLE, Beats, beats_of
from phrasing.reading.lengths import written_lengths
from phrasing.reading.ornaments import grace_notes
from phrasing.reading.steadying import steady_take
from phrasing.reading.takes import EVEN, Played, Take
from phrasing.tempo import TICKS, Bools, Floats, Ints, TempoMap


@dataclass(frozen=True, eq=False)
class Quantized:
    """What to write.

    ``kept`` (one entry a played note): False for notes that have no place of their own and
    are graces to the next one. All other columns have one entry a note kept: ``onset`` and
    ``length`` (ticks, whole), and ``off``, how far each was played behind its place (ticks;
    in swung pairs, behind the swung place). ``noise``: the timing noise found, ``late``: how
    late the whole take was (both in seconds). ``swing``: the long-short ratio found, None for
    even eighths. ``evidence``: how well the beats account for the playing (log of its
    chance), to compare readings of the same notes over other bars.
    """

    kept: Bools
    onset: Ints
    length: Ints
    off: Floats
    noise: float
    late: float
    swing: float | None
    evidence: float


def quantize(
    onset: Floats,
    release: Floats,
    bars: Sequence[Bar],
    tempos: TempoMap,
    resolution: float = 1.0,
) -> Quantized:
    """The written onsets and lengths of a line of notes.

    ``onset`` (ascending) and ``release``: ticks, fractional. ``bars`` reach past the last
    onset. ``resolution``: ticks between two positions the file can tell apart.

    Two eighths and a quarter, a little late:

    >>> from phrasing.melody import bars_of_meters
    >>> found = quantize(
    ...     np.array([9.0, 492.0, 968.0]), np.array([470.0, 930.0, 1830.0]),
    ...     bars_of_meters({}, 3840), TempoMap(),
    ... )
    >>> found.onset.tolist(), found.length.tolist()
    ([0, 480, 960], [480, 480, 960])
    """
    speed = np.asarray(tempos.at(onset), dtype=np.float64) * TICKS / 60
    played = Played(onset, beats_of(bars), speed, resolution)
    played, take = steady_take(played, np.asarray(tempos.seconds(onset)))
    kept = ~grace_notes(played, take)
    written, off, straight = _written(played.only(kept), (release - onset)[kept], take)
    off += (onset - played.onset + take.late * speed)[kept]
    placed = written < _earliest_after(written)
    kept[kept] = placed
    length = written_lengths(written[placed], straight[placed], take.noise == 0, resolution)
    ratio = None if take.swing == EVEN else float(take.swing / (1 - take.swing))
    return Quantized(
        kept, written[placed], length, off[placed], take.noise, take.late, ratio, take.evidence
    )


def _written(played: Played, sounding: Floats, take: Take) -> tuple[Ints, Floats, Floats]:
    """The written onset of each note, how far it was played from its place, and how long it
    was held, in straightened time. What is exact and fits no grid stays where it is."""
    placed = played.placed(take)
    learnt = rhythm.learnt(placed, played.noise(take.noise))
    chosen = rhythm.best_path(placed, learnt)
    point, off = placed.chosen(chosen)
    begin = played.onset - take.late * played.speed
    if take.noise == 0:
        point = np.where(chosen[placed.beat] == RAGGED_SLOT, begin, point)
    onset = np.maximum(np.rint(point).astype(np.int64), 0)
    if take.swing != EVEN:
        swung = _swung_beats(played.beats, placed, chosen)
        span = np.stack([begin, begin + sounding])
        ends = _straightened(span, played.beats, swung, take.swing)
        sounding = np.maximum(ends[1] - ends[0], _share_of_room(begin, sounding, onset))
    return onset, off, sounding


def _share_of_room(begin: Floats, sounding: Floats, onset: Ints) -> Floats:
    """How long each note would be held if it filled its written room as the played one."""
    share = sounding / np.maximum(np.diff(begin, append=np.inf), 1.0)
    return share * np.diff(onset, append=onset[-1])


def _earliest_after(onset: Ints) -> Floats:
    """For each note the earliest onset among all that follow."""
    after = np.append(onset[1:], np.inf)
    earliest: Floats = np.minimum.accumulate(after[::-1])[::-1]
    return earliest


def _swung_beats(beats: Beats, placed: rhythm.Placed, chosen: Ints) -> Bools:
    """Which of all beats are swung: quarters that are not divided otherwise."""
    swung: Bools = beats.kind == SIMPLE
    otherwise = ~np.isin(chosen, (WHOLE, PAIRS))
    swung[np.searchsorted(beats.start, placed.beats.start[otherwise])] = False
    return swung


def _straightened(at: Floats, beats: Beats, swung: Bools, swing: float) -> Floats:
    """Positions with the late second eighths of swung beats moved to the middle."""
    beat = np.maximum(np.searchsorted(beats.start, at, "right") - 1, 0)
    phase = (at - beats.start[beat]) / beats.full[beat]
    first, second = phase * EVEN / swing, 1 - (1 - phase) * EVEN / (1 - swing)
    straight = beats.start[beat] + beats.full[beat] * np.where(phase < swing, first, second)
    return np.where(swung[beat] & (phase < 1), straight, at)
