"""What one new score needs to know while it is written, and the hand that adds elements."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from math import gcd
from typing import TYPE_CHECKING

from phrasing.instruments import Instrument
from phrasing.keys import fifths_at, keys_of
from phrasing.marking.marking import Marking
from phrasing.marks import CODE, UNMARKED
from phrasing.melody import Bar, Key, Melody
from phrasing.pitchnames import moved_signature
from phrasing.publishing.score.beaming import beams
from phrasing.publishing.score.values import Piece, written
from phrasing.publishing.sheet.fonts import printable
from phrasing.spelling import spelled_line
from phrasing.tempo import TICKS

if TYPE_CHECKING:
    from lxml import etree


SHOWN_CHANGE = 0.05
"""Tempo changes smaller than this (a twentieth) are played but not printed."""


@dataclass(frozen=True)
class TempoChange:
    """A tempo (quarter notes a minute) from ``onset`` on, and whether it is printed."""

    onset: int
    tempo: float
    printed: bool


@dataclass(frozen=True, eq=False)
class Draft:
    """A melody made ready to be written down.

    ``swing``: the ratio to print, None where no meter has off-beats to swing;
    ``marks``: each note's mark code or -1; ``keys``: written signatures, the first at tick 0;
    ``move``: fifths from sounding to written names; ``places``: each note's written name on
    the line of fifths; ``bars``: the bars with their written values; ``names``: the id of each
    sounding piece by its onset; ``beams``: the beam words of each piece by its onset;
    ``divisions``: MusicXML divisions to the quarter.
    """

    melody: Melody
    marking: Marking | None
    instrument: Instrument | None
    swing: tuple[int, int] | None
    marks: Sequence[int]
    keys: Sequence[Key]
    move: int
    places: Sequence[int]
    bars: Sequence[tuple[Bar, list[Piece]]]
    names: Mapping[int, str]
    beams: Mapping[int, tuple[str, ...]]
    divisions: int

    @property
    def shift(self) -> int:
        """Semitones from sounding to written pitch."""
        return -self.instrument.transposition if self.instrument else 0

    @cached_property
    def graces(self) -> Mapping[int, tuple[int, ...]]:
        """Pitches of the grace notes before each note that has some, as sounding."""
        return {grace.note: grace.pitches for grace in self.melody.graces}

    @cached_property
    def tempos(self) -> Sequence[TempoChange]:
        """The tempos in order; small changes since the last printed one are not printed."""
        changes: list[TempoChange] = []
        shown = 0.0
        for onset, tempo in zip(
            self.melody.tempos.onsets, self.melody.tempos.tempos, strict=True
        ):
            printed = not shown or abs(tempo / shown - 1) >= SHOWN_CHANGE
            shown = tempo if printed else shown
            changes.append(TempoChange(onset, tempo, printed))
        return changes

    @cached_property
    def beamed_tuplets(self) -> frozenset[int]:
        """Onsets of the tuplets that one unbroken beam holds together."""
        words: dict[int, list[str]] = {}
        for piece in (piece for _, pieces in self.bars for piece in pieces):
            if piece.tuplet:
                own = self.beams[piece.onset]
                words.setdefault(piece.tuplet.onset, []).append(own[0] if own else "")
        return frozenset(onset for onset, own in words.items() if _is_one_beam(own))

    def count(self, ticks: int) -> int:
        """Ticks in divisions."""
        return ticks * self.divisions // TICKS


def _is_one_beam(words: Sequence[str]) -> bool:
    unbroken = set(words[1:-1]) <= {"continue"}
    return len(words) > 1 and words[0] == "begin" and words[-1] == "end" and unbroken


def drafted(
    melody: Melody,
    marking: Marking | None,
    instrument: Instrument | None,
    swing: tuple[int, int] | None,
) -> Draft:
    """The melody made ready: key, names and values decided."""
    sounding = keys_of(melody)
    fifths = instrument.fifths if instrument else 0
    keys = [Key(k.onset, moved_signature(k.fifths, fifths), k.minor) for k in sounding]
    shift = -instrument.transposition if instrument else 0
    signatures = fifths_at(keys, melody.onset).tolist()
    places = spelled_line((melody.pitch + shift).tolist(), signatures, keys[0].minor)
    bars = written(melody)
    return Draft(
        melody=melody,
        marking=marking,
        instrument=instrument,
        swing=None if all(bar.meter.is_even for bar, _ in bars) else swing,
        marks=_marks(melody, marking),
        keys=keys,
        move=keys[0].fifths - sounding[0].fifths,
        places=places,
        bars=bars,
        names=_names(note_ids(melody), bars),
        beams={
            piece.onset: words
            for bar, pieces in bars
            for piece, words in zip(pieces, beams(pieces, bar), strict=True)
        },
        divisions=_divisions(melody, bars),
    )


def _marks(melody: Melody, marking: Marking | None) -> list[int]:
    if marking is not None:
        return [int(code) for code in marking.mark]
    return [CODE.get(melody.marks.get(index, ""), UNMARKED) for index in range(len(melody))]


def _divisions(melody: Melody, bars: Sequence[tuple[Bar, list[Piece]]]) -> int:
    """The fewest divisions of a quarter in which all that is written can be counted."""
    ticks = [tick for _, pieces in bars for p in pieces for tick in (p.onset, p.length)]
    ticks += [chord.onset for chord in melody.chords]
    return TICKS // reduce(gcd, [*ticks, *melody.tempos.onsets], TICKS)


def _names(ids: Sequence[str], bars: Sequence[tuple[Bar, list[Piece]]]) -> dict[int, str]:
    """A note's id for its first piece, with -2, -3, ... behind it for those tied on."""
    names: dict[int, str] = {}
    link = 1
    for piece in (piece for _, pieces in bars for piece in pieces if not piece.is_rest):
        link = link + 1 if piece.tied_from else 1
        names[piece.onset] = ids[piece.note] + (f"-{link}" if link > 1 else "")
    return names


def note_ids(melody: Melody) -> tuple[str, ...]:
    """The ``id`` that each note has in a new score of this melody.

    Its name in the score it came from, or ``n1``, ``n2``, ... where it has none or where
    repeats are written out, so that one name would stand twice.
    """
    unique = len(set(melody.ids)) == len(melody.ids) == len(melody)
    return melody.ids if unique else tuple(f"n{index + 1}" for index in range(len(melody)))


def parsed(score: bytes) -> etree._Element:
    """The root of a score, with nothing fetched and no entity resolved."""
    from lxml import etree

    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=True
    )
    return etree.fromstring(score, parser)


def add(
    parent: etree._Element, tag: str, text: object = None, **attributes: str
) -> etree._Element:
    """Append an element; underscores in attribute names stand for hyphens."""
    from lxml import etree

    named = {name.replace("_", "-"): value for name, value in attributes.items()}
    child = etree.SubElement(parent, tag, named)
    if text is not None:
        child.text = printable(str(text))
    return child
