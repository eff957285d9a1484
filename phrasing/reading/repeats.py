"""Repeats played out: from the bars as printed to the bars in the order they are played.

Conventions (common practice, no source): a repeat without a sign to go back to goes back to
where the last one ended. After D.C. or D.S. repeats are not taken and the last ending is
played; Fine and To Coda count from then on, and in the coda repeats are taken again. A sign
takes effect at the end of the bar it stands in. A repeat inside another one is played each time
the outer one comes by. A pickup comes again only where the bar before
leaves room for it, or a forward repeat sign stands before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from phrasing.limits import BARS


@dataclass(frozen=True)
class BarSigns:
    """What one printed bar says about the order of playing.

    ``forward``/``backward``: a repeat sign at its left/right; ``times``: how often the section
    is played in all, where the score says so. ``ending``: the numbers of the ending (volta
    bracket) it lies in; ``opens_ending``: the bracket begins here. ``segno`` and ``coda``
    are places to go to, ``dal_segno`` and ``to_coda`` say where to: their names, None where
    there is none. ``after_jump``: repeats are taken after D.C. or D.S. all the same.
    ``pickup``: its first beats are missing; ``full``: it lasts to the end of its meter's bar.
    """

    forward: bool = False
    backward: bool = False
    times: int | None = None
    ending: tuple[int, ...] = ()
    opens_ending: bool = False
    segno: str | None = None
    coda: str | None = None
    da_capo: bool = False
    dal_segno: str | None = None
    to_coda: str | None = None
    fine: bool = False
    after_jump: bool = False
    pickup: bool = False
    full: bool = False

    @property
    def jumps(self) -> bool:
        """Whether it sends the player back."""
        return self.da_capo or self.dal_segno is not None


class TooLongError(Exception):
    """The repeats ask for more than ``BARS`` bars."""


@dataclass(frozen=True)
class _Ending:
    """One ending: its bars, its numbers, and whether the player goes back at its end."""

    first: int
    last: int
    numbers: tuple[int, ...]
    back: bool


class _Group:
    """Endings that follow each other, and how often the section before them is played."""

    def __init__(self, endings: list[_Ending], times: int | None) -> None:
        self.endings = endings
        self.repeats = any(ending.back for ending in endings)
        most = max(number for ending in endings for number in ending.numbers)
        alone = len(endings) == 1 and self.repeats
        self.total = max(most + alone, times or 0)
        self.stretched = self.total > most and not endings[-1].back

    @property
    def last(self) -> int:
        return self.endings[-1].last

    def chosen(self, time: int) -> _Ending | None:
        """The ending to play on this time through (None: go on behind the brackets)."""
        last = self.endings[-1]
        if time >= self.total and time not in last.numbers:
            return None if last.back else last
        # Where the sign asks for more times than the brackets number, the last bracket waits.
        open_now = self.endings[: -1 if self.stretched and time < self.total else None]
        numbered = [ending for ending in open_now if time in ending.numbers]
        backward = [ending for ending in open_now if ending.back]
        return next(iter(numbered or backward[-1:]), None)


def played_order(signs: Sequence[BarSigns]) -> list[int]:
    """The indices of the bars in the order they are played.

    Where the endings leave nothing to play (a second one alone), the bars stand as printed.
    Raises ``TooLongError`` where that would be more than ``BARS`` bars.
    """
    return _Player(signs).play() or list(range(len(signs)))


def sections(signs: Sequence[BarSigns]) -> dict[int, int]:
    """The repeated sections that have both their signs: first bar to last bar (indices)."""
    ends = {group.last for group in _groups(signs) if group.repeats}
    inside = {i for group in _groups(signs) for i in range(group.endings[0].first, group.last)}
    opened: list[int] = []
    found: dict[int, int] = {}
    for index, bar in enumerate(signs):
        opened += [index] if bar.forward else []
        closes = index in ends or (bar.backward and index not in inside)
        if closes and opened:
            found[opened.pop()] = index
    return found


def inner_sections(signs: Sequence[BarSigns]) -> dict[int, int]:
    """The repeated sections that lie inside another one: first bar to the other's first bar."""
    whole = sections(signs)
    found: dict[int, int] = {}
    for first, last in whole.items():
        around = [f for f, end in whole.items() if f < first and end > last]
        if around:
            found[first] = max(around)
    return found


class _Player:
    """Reads through the bars as a player does, with a finger on where to go back to."""

    def __init__(self, signs: Sequence[BarSigns]) -> None:
        self.signs = signs
        self.groups = {
            index: group
            for group in _groups(signs)
            for index in range(group.endings[0].first, group.last + 1)
        }
        self.inner = inner_sections(signs)
        self.outer: list[tuple[int, int]] = []
        self.start, self.time = 0, 1
        self.jumped = self.take_repeats_again = False
        self.used: set[int] = set()

    @property
    def repeating(self) -> bool:
        return not self.jumped or self.take_repeats_again

    def play(self) -> list[int]:
        order: list[int] = []
        at: int | None = 0
        while at is not None and at < len(self.signs):
            if self.signs[at].forward and at != self.start:
                self._enter(at)
            skipped_to = self._past_ending(at)
            if skipped_to is not None:
                at = skipped_to
                continue
            order.append(at)
            if len(order) > BARS:
                raise TooLongError
            at = self._next(at)
        return order

    def _enter(self, at: int) -> None:
        """Begin a repeated section; one inside another remembers the other."""
        if self.inner.get(at) == self.start:
            self.outer.append((self.start, self.time))
        else:
            self.outer.clear()
        self.start, self.time = at, 1

    def _end(self, after: int) -> None:
        """A repeated section is over: back into the one around it, or on to what follows."""
        if self.start in self.inner and self.outer:
            self.start, self.time = self.outer.pop()
        else:
            self.start, self.time = after, 1

    def _past_ending(self, at: int) -> int | None:
        """The bar to go to instead where an ending opens that is not for this time."""
        group = self.groups.get(at)
        if group is None or not self.signs[at].opens_ending:
            return None
        chosen = group.chosen(self.time) if self.repeating else self._last_ending(group)
        if chosen is None:
            self._leave(group)
            return group.last + 1
        return chosen.first if chosen.first > at else None

    def _last_ending(self, group: _Group) -> _Ending | None:
        """The ending to play after a jump: the one that leads to Fine or coda, or the last."""
        for ending in group.endings:
            bars = self.signs[ending.first : ending.last + 1]
            if any(bar.fine or bar.to_coda is not None for bar in bars):
                return ending
        return group.chosen(group.total)

    def _leave(self, group: _Group) -> None:
        if group.repeats:
            self._end(group.last + 1)

    def _next(self, at: int) -> int | None:
        """The bar to play after this one; None where the piece is over."""
        bar, group = self.signs[at], self.groups.get(at)
        if self._goes_back(at, group):
            self.time += 1
            return self._resume(at)
        if self.jumped and bar.fine:
            return None
        coda = self._coda(at) if self.jumped else None
        if coda is not None:
            return coda
        if bar.jumps and at not in self.used:
            return self._jump(at)
        if group is not None and self._ends_ending(at, group):
            self._leave(group)
            return group.last + 1
        if bar.backward and group is None:
            self._end(at + 1)
        return at + 1

    def _goes_back(self, at: int, group: _Group | None) -> bool:
        bar = self.signs[at]
        if not (self.repeating or bar.after_jump):
            return False
        if group is None:
            return bar.backward and self.time < (bar.times or 2)
        return any(e.last == at and e.back for e in group.endings) and self.time < group.total

    def _ends_ending(self, at: int, group: _Group) -> bool:
        return any(ending.last == at for ending in group.endings)

    def _jump(self, at: int) -> int:
        """Back to the beginning or the sign, once."""
        self.used.add(at)
        self.outer.clear()
        self.jumped, self.take_repeats_again = True, self.signs[at].after_jump
        named = self.signs[at].dal_segno
        target = 0 if named is None else _place([s.segno for s in self.signs], named, at)
        self.start, self.time = target or 0, 1
        return self._resume(at)

    def _resume(self, at: int) -> int:
        """Where to go on after ``at``: at the start of the section, or behind its pickup."""
        first = self.signs[self.start]
        passed_over = first.pickup and not first.forward and self.signs[at].full
        return self.start + passed_over

    def _coda(self, at: int) -> int | None:
        """Where the coda begins, if this bar leads to it and it was not yet taken."""
        named = self.signs[at].to_coda
        if named is None or at in self.used:
            return None
        codas = [s.coda for s in self.signs]
        target = _place(codas, named, len(codas), after=at)
        if target is None:
            return None
        self.used.add(at)
        self.take_repeats_again = True
        self.start, self.time = target, 1
        return target


def _place(
    names: Sequence[str | None], wanted: str, before: int, after: int = -1
) -> int | None:
    """The last bar so named between ``after`` and ``before``; any other sign failing that."""
    places = [i for i, name in enumerate(names) if name is not None and i > after]
    same = [i for i in places if names[i] == wanted]
    nearest = [i for i in same or places if i <= before]
    return max(nearest) if nearest else next(iter(same or places), None)


def _groups(signs: Sequence[BarSigns]) -> list[_Group]:
    """All endings, in groups of such as follow each other."""
    groups: list[list[range]] = []
    for bars in _endings(signs):
        if groups and groups[-1][-1].stop == bars.start:
            groups[-1].append(bars)
        else:
            groups.append([bars])
    return [_group(signs, group) for group in groups]


def _endings(signs: Sequence[BarSigns]) -> list[range]:
    """The bars of each ending."""
    firsts = [i for i, bar in enumerate(signs) if bar.ending and bar.opens_ending]
    endings = []
    for first in firsts:
        last = first
        while (
            last + 1 < len(signs)
            and signs[last + 1].ending
            and not signs[last + 1].opens_ending
        ):
            last += 1
        endings.append(range(first, last + 1))
    return endings


def _group(signs: Sequence[BarSigns], group: list[range]) -> _Group:
    missing = not any(signs[bars[-1]].backward for bars in group)
    implied = not (missing and _repeats_later(signs, group[-1].stop))
    endings = []
    for bars in group:
        last = signs[bars[-1]]
        # A first ending that lacks its repeat sign is meant to go back all the same.
        back = last.backward or (implied and bars is not group[-1] and not last.jumps)
        endings.append(_Ending(bars[0], bars[-1], signs[bars[0]].ending, back))
    times = max((signs[bars[-1]].times or 0 for bars in group), default=0)
    return _Group(endings, times)


def _repeats_later(signs: Sequence[BarSigns], start: int) -> bool:
    """Whether a repeat sign ends the section after these endings: they lie in its middle."""
    for bar in signs[start:]:
        if bar.forward:
            return False
        if bar.backward:
            return True
    return False
