"""The line as it is played, bar after bar: ticks, ties, grace notes, and the author's marks."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING

from phrasing.reading.musicxml.bars import NEAR, PlayedBar, to_ticks
from phrasing.reading.musicxml.line import Struck
from phrasing.score.marks import MARKS
from phrasing.score.melody import Grace
from phrasing.score.meters import Bar

if TYPE_CHECKING:
    from lxml import etree


PHRASE_NOTES = 3
"""A slur over fewer notes joins them; it is no phrase mark."""

OTHER_SIGNS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("strong-accent", "tenuto"), "accent"),
    (("staccato", "tenuto"), "tenuto"),
    (("detached-legato",), "tenuto"),
    (("staccatissimo",), "staccato"),
    (("spiccato",), "staccato"),
    (("stress",), "stress"),
    (("soft-accent",), "stress"),
)
"""Articulations besides the marks' own signs: a strong accent with a line is long, and so an
accent; a dot with a line keeps the line's weight (common practice, no source)."""
ARTICULATIONS: tuple[tuple[frozenset[str], str], ...] = tuple(
    sorted(
        [
            *((frozenset(m.musicxml), m.name) for m in MARKS if m.musicxml),
            *((frozenset(signs), name) for signs, name in OTHER_SIGNS),
        ],
        key=lambda pair: -len(pair[0]),
    )
)
"""Which articulations together make which mark; the first that is all there counts."""
GHOST_HEADS = ("x", "cross")
INFLECTIONS = ("scoop", "plop", "doit", "falloff")
BREATHS = ("breath-mark", "caesura")


@dataclass
class PlayedNote:
    """A note as played, ticks from the start, with its elements: the first of a tie chain.

    ``elements`` are those of its whole chord, ``graces`` the pitches before it.
    """

    onset: int
    end: int
    pitch: int
    element: etree._Element
    elements: tuple[etree._Element, ...]
    graces: tuple[int, ...] = ()


@dataclass
class PlayedLine:
    """The notes, and what the author wrote about them, by note index.

    ``cut``: indices of printed bars in which a note was cut short by the next.
    ``inflections``: how notes are bent into or out of, at either end of a tie.
    """

    notes: list[PlayedNote] = field(default_factory=list)
    slurs: list[tuple[int, int]] = field(default_factory=list)
    breaths: list[int] = field(default_factory=list)
    cut: list[int] = field(default_factory=list)
    inflections: dict[int, str] = field(default_factory=dict)

    @property
    def graces(self) -> tuple[Grace, ...]:
        """The grace notes of all notes."""
        return tuple(Grace(i, note.graces) for i, note in enumerate(self.notes) if note.graces)

    @property
    def marks(self) -> Mapping[int, str]:
        """The author's marks."""
        found = ((i, mark_of(note)) for i, note in enumerate(self.notes))
        return {i: mark for i, mark in found if mark is not None}


def mark_of(note: PlayedNote) -> str | None:
    """The mark that a note's articulations and notehead make, if any."""
    head = note.element.find("notehead")
    if head is not None and (
        head.get("parentheses") == "yes" or (head.text or "").strip() in GHOST_HEADS
    ):
        return "ghost"
    signs = set(_signs(note.elements))
    return next((name for needed, name in ARTICULATIONS if needed <= signs), None)


def _signs(elements: Iterable[etree._Element]) -> Iterable[str]:
    """The names of all articulations on a chord."""
    for element in elements:
        for sign in element.iterfind("notations/articulations/*"):
            if isinstance(sign.tag, str):
                yield sign.tag


def play(lines: Sequence[Sequence[Struck]], bars: Sequence[PlayedBar]) -> PlayedLine:
    """The lines of the printed bars, played in the order of ``bars``."""
    player = _Player()
    for place in bars:
        for struck in lines[place.index]:
            player.strike(struck, place)
    return player.line


class _Player:
    """Takes what is struck, one after the other, and merges what is tied."""

    def __init__(self) -> None:
        self.line = PlayedLine()
        self.tied, self.bar = False, 0
        self.graces: list[Struck] = []
        self.open_slurs: dict[str, int] = {}

    def strike(self, struck: Struck, place: PlayedBar) -> None:
        """One more note, rest or grace note."""
        if struck.is_grace:
            self.graces += [struck] if struck.pitch is not None else []
            return
        onset = place.bar.onset + to_ticks(struck.at)
        end = place.bar.onset + to_ticks(struck.at + struck.length)
        if struck.pitch is None:
            self.graces = []
        elif end > onset:
            self._note(struck, struck.pitch, onset, end, place.index)

    def _note(self, struck: Struck, pitch: int, onset: int, end: int, bar: int) -> None:
        last = self.line.notes[-1] if self.line.notes else None
        if last is not None and self._continues(last, struck, pitch, onset, bar):
            last.end = max(last.end, end)
        elif last is not None and onset <= last.onset:
            return
        else:
            if last is not None and last.end > onset:
                self.line.cut += [bar] if last.end - onset > to_ticks(NEAR) else []
                last.end = onset
            graces = tuple(g.pitch for g in self.graces if g.pitch is not None)
            self.line.notes.append(
                PlayedNote(onset, end, pitch, struck.element, struck.elements, graces)
            )
        before = [element for grace in self.graces for element in grace.elements]
        self._annotate([*before, *struck.elements])
        signs = set(_signs(struck.elements))
        for sign in (name for name in INFLECTIONS if name in signs):
            self.line.inflections[len(self.line.notes) - 1] = sign
        self.tied, self.bar = is_tied(struck.element, "start"), bar
        self.graces = []

    def _continues(
        self, last: PlayedNote, struck: Struck, pitch: int, onset: int, bar: int
    ) -> bool:
        """Whether a note is the tied continuation of the last one, without a gap.

        A tie that begins goes to the next printed note of the same pitch, though its end be
        missing.
        """
        joined = self.tied and last.pitch == pitch and abs(last.end - onset) <= to_ticks(NEAR)
        goes_on = bar in (self.bar, self.bar + 1)
        return joined and (goes_on or is_tied(struck.element, "stop"))

    def _annotate(self, elements: Sequence[etree._Element]) -> None:
        index = len(self.line.notes) - 1
        signs = [s for e in elements for s in e.iterfind("notations/slur")]
        for slur in signs:
            if slur.get("type") == "stop":
                first = self.open_slurs.pop(slur.get("number", "1"), index)
                self.line.slurs += [(first, index)] if first < index else []
        for slur in signs:
            if slur.get("type") == "start":
                self.open_slurs[slur.get("number", "1")] = index
        if any(sign in BREATHS for sign in _signs(elements)):
            self.line.breaths.append(index)


def is_tied(note: etree._Element, side: str) -> bool:
    """Whether a tie begins ("start") or ends ("stop") at a note, by its sound if it says so."""
    ties = [tie.get("type") for tie in note.iterchildren("tie")]
    if ties:
        return side in ties
    return any(
        tied.get("type") in (side, "continue") for tied in note.iterfind("notations/tied")
    )


def phrasing_of(
    line: PlayedLine, bars: Sequence[Bar]
) -> tuple[tuple[tuple[int, int], ...], tuple[int, ...]]:
    """The slurs that join notes, and the notes after which the author ends a phrase.

    A phrase ends at a breath mark or
    caesura, and where a phrase mark ends: a slur over other slurs, or over three notes or
    more that last a full bar. No phrase ends inside another slur.
    """
    slurs = sorted(set(line.slurs), key=lambda s: (s[0], -s[1]))
    over = {
        slur
        for index, slur in enumerate(slurs)
        if _holds_one(slur, islice(slurs, index + 1, None))
    }
    inside = {index for first, last in slurs for index in range(first, last)}
    ends = set(line.breaths)
    starts = [bar.onset for bar in bars]
    for first, last in slurs:
        lasts = line.notes[last].end - line.notes[first].onset
        bar = bars[bisect_right(starts, line.notes[first].onset) - 1]
        long = last - first + 1 >= PHRASE_NOTES and lasts >= bar.meter.bar_length
        if ((first, last) in over or long) and last not in inside:
            ends.add(last)
    return tuple(s for s in slurs if s not in over), tuple(sorted(ends))


def _holds_one(outer: tuple[int, int], later: Iterable[tuple[int, int]]) -> bool:
    """Whether one of the slurs that begin later, in order, lies within the outer one."""
    for first, last in later:
        if first >= outer[1]:
            return False
        if last <= outer[1]:
            return True
    return False
