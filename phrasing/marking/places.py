"""Where notes stand in their bars: as written, or as a shuffle is heard.

In a shuffle the long and the short note of a triplet beat are its two eighths, so that 12/8
reads as the 4/4 that it is heard in: a dotted quarter is a quarter, a quarter and an eighth
are two eighths. Beats with three notes stay triplets.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bools, Ints, Meter

QUARTER = TICKS
DOTTED = TICKS + TICKS // 2
MOST_BEATS = 64
"""More beats than a bar has, whatever lasts beyond its end."""


@dataclass(frozen=True, eq=False)
class Places:
    """Columns in ticks, with one entry a note: 960 to the quarter, or to a shuffle's beat.

    ``bar_onset`` has one entry a bar, and the end of the last; ``bar_length`` and
    ``bar_beats``, the ticks and beats in a full bar of its meter, have one a bar.
    """

    onset: Ints
    length: Ints
    in_bar: Ints
    into_beat: Ints
    beat_length: Ints
    has_no_off_beats: Bools
    bar_onset: Ints
    bar_length: Ints
    bar_beats: Ints


def written(melody: Melody) -> Places:
    """The places as the melody is written."""
    return Places(
        onset=melody.onset,
        length=melody.length,
        in_bar=melody.in_bar,
        into_beat=melody.into_beat,
        beat_length=melody.beat_length,
        has_no_off_beats=melody.has_no_off_beats,
        bar_onset=np.append([bar.onset for bar in melody.bars], melody.end).astype(np.int64),
        bar_length=_full(melody),
        bar_beats=_beats(melody),
    )


def in_eighths(melody: Melody) -> Places:
    """The places as a shuffle is heard: its triplet beats as two eighths.

    Bars whose beats are neither quarters nor dotted quarters are read as written.
    """
    onset = np.array([bar.onset for bar in melody.bars], dtype=np.int64)
    offset = np.array([bar.offset for bar in melody.bars], dtype=np.int64)
    length = np.array([bar.length for bar in melody.bars], dtype=np.int64)
    pulse = _of_meters(melody, lambda meter: meter.pulse)
    beat = np.where(pulse == DOTTED, QUARTER, pulse)
    ends = np.cumsum(length * beat // pulse)
    first = ends - length * beat // pulse - offset * beat // pulse
    divided = _divided_otherwise(melody)

    def heard(ticks: Ints) -> tuple[Ints, Ints]:
        """Ticks of the piece so read, and the start of their bar's meter."""
        bar = melody.bar_index_at(ticks)
        count, into = np.divmod(ticks - onset[bar] + offset[bar], pulse[bar])
        short = (3 * into == 2 * pulse[bar]) & ~np.isin(_key(bar, count), divided)
        inside = np.where(short, beat[bar] // 2, into * beat[bar] // pulse[bar])
        return first[bar] + count * beat[bar] + inside, first[bar]

    begins, start = heard(melody.onset)
    until, _ = heard(melody.onset + melody.length)
    even = np.isin(pulse[melody.bar_index], (QUARTER, DOTTED))
    return Places(
        onset=begins,
        length=until - begins,
        in_bar=begins - start,
        into_beat=np.where(even, (begins - start) % QUARTER, melody.into_beat),
        beat_length=np.where(even, QUARTER, melody.beat_length),
        has_no_off_beats=~even,
        bar_onset=np.append(first + offset * beat // pulse, ends[-1:]),
        bar_length=_full(melody) * beat // pulse,
        bar_beats=_beats(melody),
    )


def _full(melody: Melody) -> Ints:
    """For each bar, the ticks in a full bar of its meter."""
    return _of_meters(melody, lambda meter: meter.bar_length)


def _beats(melody: Melody) -> Ints:
    """For each bar, the beats in a full bar of its meter."""
    return _of_meters(melody, lambda meter: len(meter.beat_lengths))


def _of_meters(melody: Melody, number: Callable[[Meter], int]) -> Ints:
    """For each bar, a number of its meter."""
    meters, kind = melody.meters
    return np.array([number(meter) for meter in meters], dtype=np.int64)[kind]


def _key(bar: Ints, beat: Ints) -> Ints:
    """One number for a beat of a bar."""
    return bar * MOST_BEATS + beat


def _divided_otherwise(melody: Melody) -> Ints:
    """The beats (their keys) in which a note starts elsewhere than at 0 or two thirds."""
    into = melody.into_beat
    other = (into > 0) & (3 * into != 2 * melody.beat_length)
    return np.unique(_key(melody.bar_index, melody.beat_number)[other])
