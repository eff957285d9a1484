"""From ticks to written values: each bar as notes and rests with ties, dots and tuplets.

The way engravers divide a bar (common practice, no source): a value may hide one beat when it
starts and ends no finer than half of it; the middle of 4/4 is shown unless whole beats lie
around it; rests never hide a beat; compound beats are never hidden by parts of beats.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bar, Meter, bars_of_meters

FINEST = TICKS // 16
"""The 64th, the shortest value outside tuplets."""


def beat_of(meter: Meter) -> int:
    """Ticks in the beat as it is written: the meter's unit, dotted where compound."""
    unit = 4 * TICKS // meter.unit
    return unit * 3 if is_compound(meter) else unit


def is_compound(meter: Meter) -> bool:
    """Whether its beats are written dotted: 6/8, 9/8, 12/8, 6/4 and their like."""
    return meter.beats % 3 == 0 and (meter.beats > 3 or meter.unit >= 8)


def beat_starts(meter: Meter) -> tuple[int, ...]:
    """Where the beats of a bar are seen to start, in ticks; halves in 2/2, dotted in 6/4."""
    if meter.has_no_off_beats:
        return meter.beat_starts
    return tuple(range(0, meter.bar_length, beat_of(meter)))


def depth(tick: int, meter: Meter) -> int:
    """How deep in the bar a tick lies: 0 its start, 1 its middle, 2 a beat, 3 half a beat..."""
    tick %= meter.bar_length
    if tick == 0:
        return 0
    if tick in _middles(meter):
        return 1
    if tick in beat_starts(meter):
        return 2
    finer = 4 * TICKS // meter.unit if meter.unit >= 8 else beat_of(meter) // 2
    if is_compound(meter):
        finer = beat_of(meter) // 3
    level = 3
    while tick % finer and finer > 1:
        finer, level = finer // 2, level + 1
    return level


def _middles(meter: Meter) -> tuple[int, ...]:
    beats = meter.bar_length // beat_of(meter)
    if meter.beats == 5 and meter.unit < 8:
        return (3 * beat_of(meter),)
    return (meter.bar_length // 2,) if beats == 4 else ()


# Where a bar needs tuplets: the ones that let it be written with the fewest signs.

TUPLETS = ((3, 2), (5, 4))
"""So many notes in the time of so many."""
SPANS = (TICKS // 4, TICKS // 2, TICKS, 2 * TICKS, 4 * TICKS)
"""How long a tuplet may last in all."""


@dataclass(frozen=True)
class Stretch:
    """A stretch of a bar: a tuplet of ``actual`` in the time of ``normal``, or none (0)."""

    start: int
    end: int
    actual: int = 0
    normal: int = 0


def tuplet_spans(points: Sequence[int], start: int, end: int) -> list[Stretch] | None:
    """The tuplets that let every point be written with the fewest signs; None if none do.

    ``points``: where something starts or ends, ascending from ``start`` to ``end``, in ticks
    of the meter's bar.
    """
    if all(point % FINEST == 0 for point in points[1:-1]) and _is_plain(start, end):
        return []
    step = SPANS[0]
    first = start // TICKS * TICKS
    best: dict[int, tuple[float, list[Stretch]]] = {first: (0.0, [])}
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
) -> Iterable[tuple[int, float, list[Stretch]]]:
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
                yield at + span, cost, [Stretch(at, at + span, actual, normal)]


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


REST = -1
TYPES: tuple[tuple[int, str], ...] = (
    (8 * TICKS, "breve"),
    (4 * TICKS, "whole"),
    (2 * TICKS, "half"),
    (TICKS, "quarter"),
    (TICKS // 2, "eighth"),
    (TICKS // 4, "16th"),
    (TICKS // 8, "32nd"),
    (TICKS // 16, "64th"),
    (TICKS // 32, "128th"),
)
VALUES: dict[int, tuple[str, int]] = {
    **{length: (name, 0) for length, name in TYPES},
    **{length * 3 // 2: (name, 1) for length, name in TYPES[1:-1]},
}

LENGTHS = {named: length for length, named in VALUES.items()}


@dataclass(frozen=True)
class Tuplet:
    """``actual`` notes in the time of ``normal`` ones of type ``unit``, from ``onset`` on."""

    actual: int
    normal: int
    unit: str
    onset: int
    span: int


@dataclass(frozen=True)
class Piece:
    """One written note or rest.

    ``onset`` and ``length`` in ticks from the start of the piece; ``note`` is the melody's
    index or ``REST``; ``tied_from``/``tied_on``: joined to the piece before or after.
    """

    onset: int
    length: int
    note: int
    type: str
    dots: int = 0
    tied_from: bool = False
    tied_on: bool = False
    tuplet: Tuplet | None = None
    whole_bar: bool = False

    @property
    def is_rest(self) -> bool:
        """Whether nothing sounds."""
        return self.note == REST


@dataclass(frozen=True)
class BarShare:
    """A note's or a rest's share of a bar, in ticks of the meter's bar."""

    start: int
    end: int
    note: int


def all_bars(melody: Melody) -> tuple[Bar, ...]:
    """The melody's bars, and as many more as the last note needs."""
    bars = melody.bars or bars_of_meters({}, melody.end)
    while bars[-1].onset + bars[-1].length < melody.end:
        last = bars[-1]
        at = last.onset + last.length
        bars += (Bar(at, last.meter.bar_length, last.number + 1, last.meter),)
    return bars


def written(melody: Melody) -> list[tuple[Bar, list[Piece]]]:
    """Every bar with its written notes and rests, in order."""
    events = _events(melody)
    pages = []
    first = 0
    for bar in all_bars(melody):
        end = bar.onset + bar.length
        while events[first].end <= bar.onset:
            first += 1
        last = first
        while last < len(events) and events[last].start < end:
            last += 1
        pages.append((bar, bar_pieces(bar, events[first:last])))
    return pages


def _events(melody: Melody) -> list[BarShare]:
    """Notes and the rests between them, without gaps, to the end of the last bar."""
    bars = all_bars(melody)
    end = bars[-1].onset + bars[-1].length
    starts = [*melody.onset.tolist(), end]
    events: list[BarShare] = []
    at = 0
    for index, note in enumerate(melody.notes):
        if note.onset > at:
            events.append(BarShare(at, note.onset, REST))
        at = min(note.onset + note.length, starts[index + 1])
        events.append(BarShare(note.onset, at, index))
    if at < end:
        events.append(BarShare(at, end, REST))
    return events


def bar_pieces(bar: Bar, events: Sequence[BarShare]) -> list[Piece]:
    """One bar's events (ticks from the start of the piece) as written values."""
    zero = bar.onset - bar.offset
    until = bar.offset + bar.length
    inside = [
        BarShare(max(e.start - zero, bar.offset), min(e.end - zero, until), e.note)
        for e in events
    ]
    is_whole = bar.length == bar.meter.bar_length
    if is_whole and len(inside) == 1 and inside[0].note == REST:
        return [Piece(bar.onset, bar.length, REST, "whole", whole_bar=True)]
    points = [event.start for event in inside]
    spans = tuplet_spans([*points, until], bar.offset, until)
    if spans is None:
        drafts = _rough(inside)
    else:
        drafts = [draft for part in _divided(inside, spans) for draft in _values(bar, part)]
    return [_piece(draft, events, zero) for draft in drafts]


@dataclass(frozen=True)
class _Draft:
    """A value in ticks of the meter's bar, before ties are known."""

    event: BarShare
    value: int
    tuplet: Tuplet | None = None


def _piece(draft: _Draft, events: Sequence[BarShare], zero: int) -> Piece:
    event = draft.event
    whole = next(e for e in events if e.start <= event.start + zero < e.end)
    kind, dots = VALUES.get(draft.value) or _nearest_value(draft.value)
    tuplet = draft.tuplet
    if tuplet:
        tuplet = Tuplet(
            tuplet.actual, tuplet.normal, tuplet.unit, tuplet.onset + zero, tuplet.span
        )
    return Piece(
        event.start + zero,
        event.end - event.start,
        event.note,
        kind,
        dots,
        event.note != REST and event.start + zero > whole.start,
        event.note != REST and event.end + zero < whole.end,
        tuplet,
    )


def _nearest_value(length: int) -> tuple[str, int]:
    return VALUES[min(VALUES, key=lambda value: abs(value - length))]


def _rough(events: Iterable[BarShare]) -> list[_Draft]:
    """Values for what no notation can say exactly: the nearest ones, durations kept."""
    return [_Draft(event, event.end - event.start) for event in events]


def _divided(
    events: Sequence[BarShare], tuplets: Sequence[Stretch]
) -> list[tuple[Stretch, list[BarShare]]]:
    """The events cut at the tuplets' edges: each stretch with what lies in it."""
    start, end = events[0].start, events[-1].end
    edges = [start, *(edge for t in tuplets for edge in (t.start, t.end)), end]
    edges = sorted({min(max(edge, start), end) for edge in edges})
    parts = []
    for left, right in pairwise(edges):
        tuplet = next((t for t in tuplets if t.start <= left < t.end), Stretch(left, right))
        inside = [e for e in events if e.start < right and e.end > left]
        cut = [BarShare(max(e.start, left), min(e.end, right), e.note) for e in inside]
        parts.append((tuplet, cut))
    return parts


def _values(bar: Bar, part: tuple[Stretch, list[BarShare]]) -> Iterable[_Draft]:
    span, events = part
    if span.actual:
        return _tuplet_values(span, events)
    return [
        _Draft(e, e.end - e.start) for event in events for e in divided_event(event, bar.meter)
    ]


# Inside a tuplet


def _tuplet_values(span: Stretch, events: Sequence[BarShare]) -> list[_Draft]:
    unit = (span.end - span.start) // span.actual
    cut = [piece for event in events for piece in _in_units(event, span, unit)]
    nominal = unit * span.actual // span.normal
    actual, normal = span.actual, span.normal
    finest = min(e.end - e.start for e in cut)
    if actual == 3 and len(cut) > 4 and finest == unit // 2:
        actual, normal, nominal = 6, 4, nominal // 2
    name = dict(TYPES)[nominal]
    tuplet = Tuplet(actual, normal, name, span.start, span.end - span.start)
    return [_Draft(e, (e.end - e.start) * span.actual // span.normal, tuplet) for e in cut]


def _in_units(event: BarShare, span: Stretch, unit: int) -> list[BarShare]:
    """The event, cut at a unit of the tuplet where no single value is as long."""
    length = event.end - event.start
    if length * span.actual // span.normal in VALUES:
        return [event]
    into = (event.start - span.start) % unit
    cut = event.start + unit - into if into else event.end - (length % unit or unit)
    if not event.start < cut < event.end:
        return [event]
    left, right = BarShare(event.start, cut, event.note), BarShare(cut, event.end, event.note)
    return [*_in_units(left, span, unit), *_in_units(right, span, unit)]


# Outside tuplets


def divided_event(event: BarShare, meter: Meter) -> list[BarShare]:
    """The event as single values: cut where a beat has to be seen."""
    inside = _points(event, meter)
    if not inside:
        return [event]
    strongest = min(inside.values())
    crossed = [tick for tick, level in inside.items() if level == strongest]
    ends = (depth(event.start, meter), depth(event.end, meter))
    may_hide = _rest_may_hide if event.note == REST else _note_may_hide
    if event.end - event.start in VALUES and may_hide(strongest, ends, len(crossed), meter):
        return [event]
    cut = crossed[-1] if ends[0] <= strongest else crossed[0]
    left, right = BarShare(event.start, cut, event.note), BarShare(cut, event.end, event.note)
    return [*divided_event(left, meter), *divided_event(right, meter)]


def _points(event: BarShare, meter: Meter) -> dict[int, int]:
    grid = FINEST
    first = event.start // grid * grid + grid
    return {tick: depth(tick, meter) for tick in range(first, event.end, grid)}


def _note_may_hide(strongest: int, ends: tuple[int, int], crossed: int, meter: Meter) -> bool:
    if max(ends) <= strongest:
        return True
    if strongest == 2 and (is_compound(meter) or meter.unit >= 8):
        return False
    return crossed == 1 and max(ends) <= strongest + 1


def _rest_may_hide(strongest: int, ends: tuple[int, int], crossed: int, meter: Meter) -> bool:
    return max(ends) < strongest
