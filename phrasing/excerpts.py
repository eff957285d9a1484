"""Some bars of a piece, with the marks they have in the whole of it."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TypeVar

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.marking.marking import Marking
from phrasing.melody import Bar, ChordSymbol, Grace, Key, Melody
from phrasing.tempo import Ints, TempoMap

Standing = TypeVar("Standing", Key, ChordSymbol)


def bars_from_text(text: str, melody: Melody) -> tuple[int, int]:
    """Indices in ``melody.bars`` of the first and last bar of ``"1-4"`` or ``"3"``.

    Numbers are the printed ones, at their first passing; 0 is the pickup. Raises
    ``PhrasingError`` for what is not a range of bars of this piece.
    """
    match = re.fullmatch(r"\s*(\d+)\s*(?:[-–]\s*(\d+)\s*)?", text)
    if not match:
        raise PhrasingError(f"Bars “{text}”: write one bar such as 3, or a range such as 1-4.")
    first, last = int(match[1]), int(match[2] or match[1])
    index: dict[int, int] = {}
    for i, bar in enumerate(melody.bars):
        index.setdefault(bar.number, i)
    for number in (first, last):
        if number not in index:
            raise PhrasingError(
                f"Bars “{text}”: there is no bar {number}; the piece has bars "
                f"{min(index)} to {max(index)}."
            )
    if index[last] < index[first]:
        raise PhrasingError(f"Bars “{text}”: the first bar comes after the last.")
    return index[first], index[last]


def excerpt(melody: Melody, marking: Marking, first: int, last: int) -> tuple[Melody, Marking]:
    """Bars ``first`` to ``last`` (indices in ``melody.bars``) with their marks.

    The excerpt begins at tick 0 and keeps its printed bar numbers. A note held past the last
    bar is cut at its end. Raises ``PhrasingError`` where no note of a melody starts in them.
    """
    start = melody.bars[first].onset
    end = melody.bars[last].onset + melody.bars[last].length
    kept = np.flatnonzero((melody.onset >= start) & (melody.onset < end))
    if len(kept) == 0 and len(melody):
        names = f"{melody.bars[first].number} to {melody.bars[last].number}"
        raise PhrasingError(f"Bars {names}: no note starts there; choose other bars.")
    return _melody(melody, kept, start, end), _marking(marking, kept)


def _melody(melody: Melody, kept: Ints, start: int, end: int) -> Melody:
    low, high = _ends(kept)
    lengths = np.minimum(melody.length[kept], end - melody.onset[kept])
    inside = [bar for bar in melody.bars if start <= bar.onset < end]
    return replace(
        melody,
        onset=melody.onset[kept] - start,
        length=lengths,
        pitch=melody.pitch[kept],
        bars=tuple(_moved(bar, start) for bar in inside),
        tempos=_tempos(melody.tempos, start, end),
        keys=_standing(melody.keys, start, end),
        chords=_standing(melody.chords, start, end),
        sections=tuple(
            replace(s, onset=s.onset - start) for s in melody.sections if start <= s.onset < end
        ),
        slurs=tuple((a - low, b - low) for a, b in melody.slurs if low <= a and b <= high),
        phrase_ends=tuple(i - low for i in melody.phrase_ends if low <= i <= high),
        graces=tuple(
            Grace(g.note - low, g.pitches) for g in melody.graces if low <= g.note <= high
        ),
        marks={i - low: mark for i, mark in melody.marks.items() if low <= i <= high},
        ids=melody.ids[low : high + 1],
    )


def _ends(kept: Ints) -> tuple[int, int]:
    """The first and the last note kept; in a chart, which has none, an empty range."""
    return (int(kept[0]), int(kept[-1])) if len(kept) else (0, -1)


def _moved(bar: Bar, start: int) -> Bar:
    return replace(bar, onset=bar.onset - start)


def _standing(items: tuple[Standing, ...], start: int, end: int) -> tuple[Standing, ...]:
    """Those that hold in the excerpt: the one in force at its start comes first."""
    before = [item for item in items if item.onset <= start][-1:]
    inside = [item for item in items if start < item.onset < end]
    return tuple(replace(item, onset=max(0, item.onset - start)) for item in before + inside)


def _tempos(tempos: TempoMap, start: int, end: int) -> TempoMap:
    later = [
        (onset - start, tempo)
        for onset, tempo in zip(tempos.onsets, tempos.tempos, strict=True)
        if start < onset < end
    ]
    pairs = [(0, float(tempos.at(start))), *later]
    return TempoMap(tuple(onset for onset, _ in pairs), tuple(tempo for _, tempo in pairs))


def _marking(marking: Marking, kept: Ints) -> Marking:
    low, high = _ends(kept)
    swells, links, phrases = marking.swell_rows, marking.link_rows, marking.phrase_rows
    swells = swells[(swells[:, 0] < high) & (swells[:, 1] > low)]
    links = links[(links[:, 0] >= low) & (links[:, 1] <= high)]
    phrases = phrases[(phrases[:, 0] <= high) & (phrases[:, 1] >= low)]
    return replace(
        marking,
        mark=marking.mark[kept],
        rule=marking.rule[kept],
        by_rules=marking.by_rules[kept],
        applied=marking.applied[kept],
        joined=marking.joined[kept],
        flow=marking.flow[kept],
        repeated=marking.repeated[kept],
        swell_rows=np.clip(swells, low, high) - low,
        link_rows=links - low,
        phrase_rows=_phrases(phrases, low, high),
    )


def _phrases(rows: Ints, low: int, high: int) -> Ints:
    first, last, peak, pickup = rows.T
    return np.stack(
        [
            np.clip(first, low, high) - low,
            np.clip(last, low, high) - low,
            np.where((peak >= low) & (peak <= high), peak - low, -1),
            np.where(first >= low, pickup, 0),
        ],
        axis=1,
    )
