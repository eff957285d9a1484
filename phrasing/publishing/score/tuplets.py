"""Where a bar needs tuplets: the ones that let it be written with the fewest signs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from phrasing.publishing.score.barring import FINEST
from phrasing.tempo import TICKS

TUPLETS = ((3, 2), (5, 4))
"""So many notes in the time of so many."""
SPANS = (TICKS // 4, TICKS // 2, TICKS, 2 * TICKS, 4 * TICKS)
"""How long a tuplet may last in all."""


@dataclass(frozen=True)
class Span:
    """A stretch of a bar: a tuplet of ``actual`` in the time of ``normal``, or none (0)."""

    start: int
    end: int
    actual: int = 0
    normal: int = 0


def tuplet_spans(points: Sequence[int], start: int, end: int) -> list[Span] | None:
    """The tuplets that let every point be written with the fewest signs; None if none do.

    ``points``: where something starts or ends, ascending from ``start`` to ``end``, in ticks
    of the meter's bar.
    """
    if all(point % FINEST == 0 for point in points[1:-1]) and _is_plain(start, end):
        return []
    step = SPANS[0]
    first = start // TICKS * TICKS
    best: dict[int, tuple[float, list[Span]]] = {first: (0.0, [])}
    for at in range(first, end, step):
        if at not in best:
            continue
        cost, spans = best[at]
        for until, more, span in _ways_on(points, at, start, end):
            total = cost + more
            if until not in best or total < best[until][0]:
                best[until] = (total, [*spans, *span])
    ends = [best[at] for at in best if at >= end]
    return min(ends, key=lambda way: way[0])[1] if ends else None


def _is_plain(start: int, end: int) -> bool:
    return start % FINEST == 0 and end % FINEST == 0


def _ways_on(
    points: Sequence[int], at: int, start: int, end: int
) -> Iterable[tuple[int, float, list[Span]]]:
    """Ways to write on from ``at``: (where to, at what cost in signs, the tuplet or none)."""
    step = SPANS[0]
    if all(point % FINEST == 0 for point in points if at < point < at + step):
        yield at + step, sum(at <= point < at + step for point in points), []
    for span in SPANS:
        if at % min(span, TICKS) or (span > 2 * TICKS and at % (2 * TICKS)):
            continue
        within = [point for point in points if at < point < at + span]
        if at + span > end or not any(point % FINEST for point in within):
            continue
        for actual, normal in TUPLETS:
            if _fits(within, at, span, actual):
                inside = [edge for edge in (at, at + span) if start < edge < end]
                ties = sum(1.0 + (edge % TICKS > 0) for edge in inside if edge not in points)
                cost = len(within) + 1.5 + ties + span / TICKS / 100 + actual / 1000
                yield at + span, cost, [Span(at, at + span, actual, normal)]


def _fits(points: Sequence[int], at: int, span: int, actual: int) -> bool:
    """Whether the points lie on the tuplet's notes, or on halves (in a beat quarters) of them.

    A tuplet of several beats is none where something starts on a beat inside it.
    """
    if span > TICKS and any(point % TICKS == 0 for point in points):
        return False
    for finer in (1, 2, 4) if span <= TICKS else (1, 2):
        grid, left = divmod(span, actual * finer)
        if left == 0 and all((point - at) % grid == 0 for point in points):
            return True
    return False
