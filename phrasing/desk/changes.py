"""What a teacher decided about a melody, as a list of steps that can each be taken back.

A decision has a key, such as ``mark:12`` (the mark of note 12, from 0), ``level:12`` (the dB of
that note alone), ``ask:tempo``, ``feel:sounds.ghost.level`` or ``line:slur:3:7`` (a slur from
note 3 to note 7). A step sets one key or several, and says so in a sentence. What holds is what
the steps that stand have set, the later over the earlier; so a step can be taken back, and put
back, wherever it is in the list.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, TypeAlias

from phrasing.errors import PhrasingError
from phrasing.lesson.request import Request
from phrasing.limits import DIGITS, is_number
from phrasing.marking.ownlines import WORDS
from phrasing.marking.ownsounds import LIMITS, OwnSound, checked_sound
from phrasing.marking.precedence import RULE_NAMES
from phrasing.score.marks import MARK_NAMES
from phrasing.score.melody import OwnLine

Decisions: TypeAlias = Mapping[str, Any]
"""Values by key. A key that is missing is left to the rules, the file or the defaults."""

MARK, ASK, FEEL, RULE, LINE = "mark:", "ask:", "feel:", "rule:", "line:"
LEVEL, GATE = "level:", "gate:"
KINDS = (MARK, ASK, FEEL, RULE, LINE, LEVEL, GATE)
OF_NOTES = (MARK, LINE, LEVEL, GATE)
"""Kinds of keys that name notes."""
NO_MARK = "none"
"""The value of a mark where the teacher wants none at all."""
BAND = ASK + "band"
"""Whether a band plays under it; a switch of the command line's, not of a request."""
ASKED = ("tempo", "style", "instrument", "transpose", "octave", "track", "meter", "pickup")
"""The parts of a request that can be decided on the desk; swing and strength are the feel's."""
MOST_AT_ONCE = 5000
"""Keys that one step may set."""


@dataclass(frozen=True)
class Step:
    """One thing done: the keys it sets (None gives one back), and what it is called.

    ``stands``: whether it holds; one that was taken back stays in the list.
    """

    number: int
    sets: Decisions
    said: str
    stands: bool = True


def decided(steps: Iterable[Step]) -> dict[str, Any]:
    """What holds after these steps.

    >>> first = Step(1, {"mark:3": "ghost"}, "bar 1: stress became ghost")
    >>> second = Step(2, {"ask:tempo": 160.0}, "the tempo became 160")
    >>> decided([first, second])
    {'mark:3': 'ghost', 'ask:tempo': 160.0}
    >>> decided([replace(first, stands=False), second])
    {'ask:tempo': 160.0}
    """
    held: dict[str, Any] = {}
    for step in steps:
        if step.stands:
            held |= step.sets
    return {key: value for key, value in held.items() if value is not None}


def turned(steps: tuple[Step, ...], number: int, stands: bool) -> tuple[Step, ...]:
    """The steps with one of them taken back, or put back.

    Raises ``PhrasingError`` where there is no step of that number.

    >>> turned((Step(1, {}, "nothing"),), 1, False)[0].stands
    False
    """
    if not any(step.number == number for step in steps):
        raise PhrasingError(f"There is no step {number} to take back; the page is out of date.")
    return tuple(
        replace(step, stands=stands) if step.number == number else step for step in steps
    )


def checked(sets: Any, notes: int) -> dict[str, Any]:
    """Decisions from outside, if they are of a kind that is known, for a melody of ``notes``.

    Raises ``PhrasingError`` for anything else. Whether a number of the feel is possible is
    seen when the lesson is made.

    >>> checked({"mark:0": "ghost", "rule:dip": False}, notes=4)
    {'mark:0': 'ghost', 'rule:dip': False}
    """
    if not isinstance(sets, dict) or not 0 < len(sets) <= MOST_AT_ONCE:
        raise PhrasingError("A change names what it changes; the page is out of date.")
    for key, value in sets.items():
        if not _is_known(str(key), value, notes):
            raise PhrasingError(f"“{str(key)[:40]}” cannot be changed to that.")
    return {str(key): value for key, value in sets.items()}


def _is_known(key: str, value: Any, notes: int) -> bool:
    kind, _, name = key.partition(":")
    if value is None:
        return kind + ":" in KINDS
    if kind + ":" == MARK:
        return _is_note(name, notes) and value in (*MARK_NAMES, NO_MARK)
    if key == BAND:
        return value is True
    if kind + ":" == ASK:
        return name in ASKED and _fits_request(name, value)
    if kind + ":" == RULE:
        return name in RULE_NAMES and value is False
    if kind + ":" == LINE:
        return value is True and _is_line(name, notes)
    if kind + ":" in (LEVEL, GATE):
        return _is_note(name, notes) and _is_sound(kind, value)
    return kind + ":" == FEEL and _is_feel(value)


def _is_line(name: str, notes: int) -> bool:
    kind, *ends = name.split(":")
    if kind not in WORDS or len(ends) != 2 or not all(_is_note(end, notes) for end in ends):
        return False
    first, last = map(int, ends)
    return first <= last and (first == last) == (kind == "end")


def _is_note(name: str, notes: int) -> bool:
    """Whether a note of a melody of so many is called so."""
    return name.isdecimal() and len(name) <= DIGITS and int(name) < notes


def _is_sound(what: str, value: Any) -> bool:
    least, most = LIMITS[what]
    return is_number(value) and least <= value <= most


def _fits_request(name: str, value: Any) -> bool:
    if name in ("tempo", "pickup"):
        return is_number(value)
    if name == "octave":
        return isinstance(value, int) and not isinstance(value, bool) and abs(value) <= 4
    return isinstance(value, str) and 0 < len(value) <= 60


def _is_feel(value: Any) -> bool:
    """A number, or a short list of pairs of them; the feel's own room says whether it fits."""
    if isinstance(value, list):
        return len(value) <= 40 and all(isinstance(pair, list) for pair in value)
    return isinstance(value, bool) or is_number(value)


def marks_of(held: Decisions) -> dict[int, str | None]:
    """The teacher's marks by note, None where they want none.

    >>> marks_of({"mark:3": "ghost", "mark:4": "none", "ask:tempo": 90})
    {3: 'ghost', 4: None}
    """
    return {
        int(key.removeprefix(MARK)): None if value == NO_MARK else str(value)
        for key, value in held.items()
        if key.startswith(MARK)
    }


def own_of(held: Decisions) -> dict[int, OwnSound]:
    """What the teacher wants of the sound of single notes.

    >>> own_of({"level:3": 2.0, "gate:3": 0.5, "mark:4": "none"})
    {3: OwnSound(level=2.0, gate=0.5)}
    """
    found: dict[int, OwnSound] = {}
    for key, value in held.items():
        what, _, name = key.partition(":")
        if what in LIMITS:
            before = found.get(int(name), OwnSound())
            found[int(name)] = replace(before, **{what: checked_sound(what, value)})
    return found


def notes_in(key: str) -> list[int]:
    """The notes that a key names.

    >>> notes_in("line:slur:3:7"), notes_in("mark:4"), notes_in("ask:tempo")
    ([3, 7], [4], [])
    """
    kind, *names = key.split(":")
    return [int(name) for name in names if name.isdecimal()] if f"{kind}:" in OF_NOTES else []


def lines_of(held: Decisions) -> tuple[OwnLine, ...]:
    """The lines that the teacher drew.

    >>> lines_of({"line:slur:3:7": True})
    (OwnLine(kind='slur', first=3, last=7),)
    """
    parts = (key.removeprefix(LINE).split(":") for key in held if key.startswith(LINE))
    return tuple(sorted(OwnLine(kind, int(first), int(last)) for kind, first, last in parts))


def feel_of(held: Decisions) -> dict[str, Any]:
    """The feel's entries in groups, as its file has them.

    >>> feel_of({"feel:strength": 0.5, "feel:sounds.ghost.level": -7})
    {'strength': 0.5, 'sounds': {'ghost': {'level': -7}}}
    """
    groups: dict[str, Any] = {}
    for key, value in held.items():
        if key.startswith(FEEL):
            *path, name = key.removeprefix(FEEL).split(".")
            group = groups
            for part in path:
                group = group.setdefault(part, {})
                if not isinstance(group, dict):
                    raise PhrasingError(f"The feel has no entry “{key.removeprefix(FEEL)}”.")
            group[name] = value
    return groups


def request_of(held: Decisions, asked: Request) -> Request:
    """The request with what was decided put in.

    >>> request_of({"ask:tempo": 160.0, "rule:dip": False}, Request()).leave_out
    ('dip',)
    """
    known = {each.name for each in fields(Request)}
    changes = {
        key.removeprefix(ASK): value
        for key, value in held.items()
        if key.startswith(ASK) and key.removeprefix(ASK) in known
    }
    left_out = [key.removeprefix(RULE) for key in held if key.startswith(RULE)]
    names = dict.fromkeys((*asked.leave_out, *left_out))
    return replace(asked, **changes, leave_out=tuple(names))
