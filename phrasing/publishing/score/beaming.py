"""Which short notes share a beam, and where each of its lines begins, goes on and ends.

Beams show the beats: eighths alone in 4/4 go by half bars, anything finer by beats, tuplets by
themselves; rests and longer values break them (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from phrasing.melody import Bar
from phrasing.publishing.score.barring import beat_starts
from phrasing.publishing.score.values import Piece
from phrasing.tempo import TICKS

LINES = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}
"""How many beams, or flags, a type has."""


def beams(pieces: Sequence[Piece], bar: Bar) -> list[tuple[str, ...]]:
    """For each piece the MusicXML beam words, level 1 first; none where it stands alone."""
    words: list[tuple[str, ...]] = [()] * len(pieces)
    for group in _groups(pieces, bar):
        lines = [LINES[pieces[index].type] for index in group]
        for place, index in enumerate(group):
            words[index] = tuple(
                _word(lines, place, level) for level in range(1, lines[place] + 1)
            )
    return words


def _groups(pieces: Sequence[Piece], bar: Bar) -> list[list[int]]:
    """Indices of pieces under one beam, two of them at least."""
    keys = _beats(pieces, bar)
    found = []
    for key, run in groupby(range(len(pieces)), key=lambda index: keys[index]):
        group = list(run)
        if key is not None and len(group) > 1:
            found.append(group)
    return found


def _beats(pieces: Sequence[Piece], bar: Bar) -> list[tuple[int, int] | None]:
    """For each piece what it may share a beam with; None for what has none.

    A rest or a longer value between two notes makes them differ by its None.
    """
    starts = beat_starts(bar.meter)
    zero = bar.onset - bar.offset
    halves = _halves(pieces, bar)
    keys: list[tuple[int, int] | None] = []
    for piece in pieces:
        place = (piece.onset - zero) % bar.meter.bar_length
        if piece.is_rest or piece.type not in LINES:
            keys.append(None)
        elif piece.tuplet:
            unit = piece.tuplet.span * 2 // piece.tuplet.actual
            by_units = (piece.onset - zero - piece.tuplet.onset) // unit
            long = piece.tuplet.span > TICKS * 3 // 2
            keys.append((piece.tuplet.onset + zero, by_units if long else -1))
        elif place // (2 * TICKS) in halves:
            keys.append((0, -2 - place // (2 * TICKS)))
        else:
            keys.append((0, max(start for start in starts if start <= place)))
    return keys


def _halves(pieces: Sequence[Piece], bar: Bar) -> set[int]:
    """The halves of a 4/4 bar (or of 2/4, 2/2) that hold nothing finer than eighths."""
    meter = bar.meter
    if meter.bar_length % (2 * TICKS) or meter.unit > 4:
        return set()
    zero = bar.onset - bar.offset
    halves = set(range(meter.bar_length // (2 * TICKS)))
    fine = {
        (piece.onset - zero) % meter.bar_length // (2 * TICKS)
        for piece in pieces
        if piece.tuplet
        or LINES.get(piece.type, 0) > 1
        or (piece.type, piece.dots) == ("eighth", 1)
    }
    return halves - fine


def _word(lines: Sequence[int], place: int, level: int) -> str:
    before = place > 0 and lines[place - 1] >= level
    after = place + 1 < len(lines) and lines[place + 1] >= level
    if before and after:
        return "continue"
    if before or after:
        return "end" if before else "begin"
    return "forward hook" if place == 0 else "backward hook"
