"""The parts of a score: their names and instruments, and which of them is the melody."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phrasing.errors import PhrasingError
from phrasing.reading.musicxml.measures import number
from phrasing.score.doubts import Answer, Doubt
from phrasing.score.instruments import (
    BY_KEY,
    CONCERT,
    Instrument,
    instrument_in,
    instrument_of_program,
    instrument_of_sound,
    is_other_instrument,
    plain_words,
    sax_doubt,
    written_like,
)

if TYPE_CHECKING:
    from lxml import etree


DRUM_CHANNEL = "10"
"""The General MIDI channel of drum kits, counted from 1 as MusicXML does."""
MELODIC = ".//note[pitch][not(cue)][not(grace)][not(normalize-space(notehead) = 'slash')]"
ENOUGH = Fraction(1, 4)
"""A melody has at least this share of the busiest line's notes, chords counted as one."""
FEW_CHORDS = Fraction(1, 10)
"""Up to this share of notes in chords it is still a single line."""
NAMED_SO = re.compile(r"\b(melod|tune|theme|thema|cantus)|^lead ?sheet", re.IGNORECASE)
LEADING = re.compile(r"\b(lead|vocal|voice|solo|sopran|singer|cantor)", re.IGNORECASE)
ACCOMPANYING = ("piano", "guitar", "bass", "vibraphone")
"""Instruments that play the melody only where nobody else does, or where they are named so."""
SINGERS = re.compile(r"(soprano|alto|tenor|baritone?|bass)( \d+| i+)?")
"""Names of parts, in plain words, that are singers' where there are words to sing."""


@dataclass(frozen=True)
class ScorePart:
    """One part: ``number`` from 1 as listed, its ``name``, its music and its header.

    ``notes``: how many it has with a pitch to be played, of a chord one; ``lower``: those
    under the first of a chord. ``slashed``: notes that are hidden under rhythm slashes.
    """

    number: int
    name: str
    abbreviation: str
    element: etree._Element
    header: etree._Element | None
    notes: int
    lower: int = 0
    slashed: frozenset[etree._Element] = frozenset()

    @property
    def is_line(self) -> bool:
        """Whether it is a single line, of one staff and hardly any chords."""
        staves = number(self.element.findtext("measure/attributes/staves"), Fraction(1))
        return staves == 1 and self.lower <= FEW_CHORDS * (self.notes + self.lower)

    @property
    def accompanies(self) -> bool:
        """Whether its instrument is one that accompanies."""
        own = instrument_in(self.name)
        return own is not None and own.key in ACCOMPANYING

    @property
    def is_drums(self) -> bool:
        """Whether it is unpitched percussion, however its notes are written."""
        if self.header is None:
            return False
        channels = [c.text for c in self.header.iter("midi-channel")]
        sounds = [(s.text or "").strip() for s in self.header.iter("instrument-sound")]
        drums = [s.startswith(("drum", "metal.cymbal")) for s in sounds]
        return any(drums) or (bool(channels) and all(c == DRUM_CHANNEL for c in channels))

    @property
    def is_pitched(self) -> bool:
        """Whether it could be a melody."""
        return self.notes > 0 and not self.is_drums

    @property
    def has_chords(self) -> bool:
        """Whether chord symbols stand over it, so that a band can play from it."""
        return self.element.find(".//harmony") is not None

    @property
    def is_treble(self) -> bool:
        """Whether its first clef is a G clef."""
        return self.element.findtext(".//clef/sign", "G").strip() == "G"

    @property
    def is_sung(self) -> bool:
        """Whether it has lyrics."""
        return self.element.find(".//lyric") is not None


def score_parts(tree: etree._ElementTree) -> list[ScorePart]:
    """All parts in the order of the part list; parts that it leaves out come last."""
    root = tree.getroot()
    headers = {header.get("id", ""): header for header in root.iterfind("part-list/score-part")}
    order = {name: place for place, name in enumerate(headers)}
    elements = sorted(
        root.iterchildren("part"), key=lambda part: order.get(part.get("id", ""), len(order))
    )
    return [
        _score_part(place, element, headers.get(element.get("id", "")))
        for place, element in enumerate(elements, start=1)
    ]


def _score_part(
    place: int, element: etree._Element, header: etree._Element | None
) -> ScorePart:
    name = abbreviation = ""
    if header is not None:
        name = _shown(header, "part-name") or _text(header, "score-instrument/instrument-name")
        abbreviation = _shown(header, "part-abbreviation")
    slashed = _slashed(element)
    notes, lower = _count_notes(element, slashed)
    return ScorePart(
        place, name or f"Part {place}", abbreviation, element, header, notes, lower, slashed
    )


def _shown(header: etree._Element, tag: str) -> str:
    return _text(header, tag) or _text(header, f"{tag}-display/display-text")


def _text(element: etree._Element, path: str) -> str:
    return " ".join((element.findtext(path) or "").split())


def _count_notes(part: etree._Element, slashed: frozenset[etree._Element]) -> tuple[int, int]:
    """How many notes have a pitch to be played (no rest, cue, grace, drum or rhythm slash), and
    how many more stand under them in chords."""
    if slashed:
        found: Any = part.xpath(MELODIC)
        kept = [note.find("chord") is None for note in found if note not in slashed]
        return sum(kept), len(kept) - sum(kept)
    every: Any = part.xpath(f"count({MELODIC})")
    lower: Any = part.xpath(f"count({MELODIC}[chord])")
    return int(every - lower), int(lower)


def _slashed(part: etree._Element) -> frozenset[etree._Element]:
    """The notes under ``<slash>`` measure style, which prints slashes in their place."""
    if part.find("measure/attributes/measure-style/slash") is None:
        return frozenset()
    hidden: set[etree._Element] = set()
    staves: dict[str, bool] = {}
    for child in part.iterfind("measure/*"):
        if child.tag == "attributes":
            for style in child.iterfind("measure-style[slash]"):
                sign = style.find("slash")
                starts = sign is not None and sign.get("type") == "start"
                staves[style.get("number", "")] = starts
        elif child.tag == "note":
            staff = (child.findtext("staff") or "1").strip()
            if staves.get(staff, staves.get("", False)):
                hidden.add(child)
    return frozenset(hidden)


def is_slash(note: etree._Element) -> bool:
    """Whether its notehead is a slash, which stands for a rhythm and not for a pitch."""
    return (note.findtext("notehead") or "").strip() == "slash"


def choose_part(parts: Sequence[ScorePart], wanted: str | None, path: Path) -> ScorePart:
    """The part of that name or number; without one, that which most likely is the melody.

    That is the one named so; otherwise, among those with enough notes, one with lyrics, one
    named as a lead or voice, a single line before chords, a wind or string before piano,
    guitar and bass, one in treble clef, the first.
    Where no part is pitched, the first with chord symbols, which is a chart for a band.
    Raises ``PhrasingError`` where there is none, naming the parts that there are.
    """
    if wanted is not None:
        part = _named(parts, wanted, path)
        if not part.is_pitched:
            raise PhrasingError(
                f"{path}: the part “{part.name}” has no pitched notes; {_listed(parts)}."
            )
        return part
    pitched = [part for part in parts if part.is_pitched]
    charts = [part for part in parts if part.has_chords]
    if charts and not pitched:
        return charts[0]
    if not pitched:
        raise PhrasingError(f"{path}: has no pitched notes in any part, so there is no melody.")
    return _likeliest(pitched)[0]


def _likeliest(pitched: Sequence[ScorePart]) -> list[ScorePart]:
    """The parts that are as likely the melody as any other, in their order."""
    lines = [part.notes for part in pitched if part.is_line and not part.accompanies]
    most = max(lines or [part.notes for part in pitched])
    likely = [_likeliness(part, most) for part in pitched]
    return [part for part, each in zip(pitched, likely, strict=True) if each == max(likely)]


def part_doubt(parts: Sequence[ScorePart]) -> Doubt | None:
    """Which part is the melody, where only their order speaks for the one that is taken."""
    pitched = [part for part in parts if part.is_pitched]
    alike = _likeliest(pitched) if pitched else []
    if len(alike) < 2:
        return None
    answers = (Answer(str(part.number), f"{part.number} {part.name}") for part in alike)
    return Doubt("track", "Which part is the melody?", tuple(answers))


def _likeliness(part: ScorePart, most: int) -> tuple[bool, ...]:
    return (
        NAMED_SO.search(part.name) is not None,
        part.notes >= most * ENOUGH,
        part.is_sung,
        LEADING.search(part.name) is not None,
        part.is_line and not part.accompanies,
        not part.accompanies,
        part.is_treble,
    )


def _named(parts: Sequence[ScorePart], wanted: str, path: Path) -> ScorePart:
    """By full name, short name, number, or the beginning or a piece of one name alone."""
    name = " ".join(wanted.split()).casefold()
    exact = [p for p in parts if name in (p.name.casefold(), p.abbreviation.casefold())]
    if name and exact:
        return next((p for p in exact if p.is_pitched), exact[0])
    if name.isascii() and name.isdigit() and 1 <= int(name) <= len(parts):
        return parts[int(name) - 1]
    for fits in (str.startswith, str.__contains__):
        alike = [p for p in parts if name and fits(p.name.casefold(), name)]
        if len(alike) == 1:
            return alike[0]
    raise PhrasingError(f"{path}: there is no one part “{wanted}”; {_listed(parts)}.")


def _listed(parts: Sequence[ScorePart]) -> str:
    names = ", ".join(f"{part.number} {part.name}" for part in parts)
    return f"its parts are {names}" if parts else "it has no parts"


def instrument_of(part: ScorePart) -> tuple[str | None, int | None]:
    """The instrument's key in our table (None if it is none of those) and its program from 1.

    The sound's standard name counts most, then the part's name, then the program, which
    many programs leave at that of a piano. Of the rows of one instrument that one counts
    which is written as the part is.
    """
    if part.header is None:
        return _anyones(part), None
    given = int(number(part.header.findtext("midi-instrument/midi-program")))
    program = given if 1 <= given <= 128 else None
    sound = _text(part.header, "score-instrument/instrument-sound")
    own = instrument_of_sound(sound) or _by_name(part)
    if own is None and program is not None and not _is_of_another(part, sound):
        own = instrument_of_program(program)
    if own is None:
        return _anyones(part), program
    own = written_like(own, _transposition(part, own))
    return own.key, program or own.program


def instrument_doubt(part: ScorePart) -> Doubt | None:
    """Which saxophone it is, where neither sound nor transposition tells."""
    told = part.element.find("measure/attributes/transpose") is not None
    sound = (
        _text(part.header, "score-instrument/instrument-sound")
        if part.header is not None
        else ""
    )
    return None if told or instrument_of_sound(sound) else sax_doubt(part.name)


def _anyones(part: ScorePart) -> str | None:
    """The row for a part that names no instrument but transposes; None where it does not."""
    semitones = _transposition(part, CONCERT)
    own = written_like(CONCERT, semitones)
    return own.key if semitones and own.transposition == semitones else None


def _is_of_another(part: ScorePart, sound: str) -> bool:
    """Whether it is said to be an instrument that is not in the table."""
    family = sound.partition(".")[0]
    return family in ("wind", "brass", "strings", "pluck") or is_other_instrument(part.name)


def _by_name(part: ScorePart) -> Instrument | None:
    names = [part.name, part.abbreviation]
    if part.header is not None:
        names.append(_text(part.header, "score-instrument/instrument-name"))
    for name in names:
        if is_other_instrument(name):
            return None
        own = instrument_in(name)
        if own is not None:
            sings = part.is_sung and SINGERS.fullmatch(plain_words(name))
            return BY_KEY["voice"] if sings else own
    return None


def _transposition(part: ScorePart, own: Instrument) -> int:
    """Semitones from written to sounding pitch at the part's start; its instrument's own
    where nothing is said."""
    transpose = part.element.find("measure/attributes/transpose")
    if transpose is None:
        return own.transposition
    octaves = number(transpose.findtext("octave-change"))
    return round(number(transpose.findtext("chromatic")) + 12 * octaves)
