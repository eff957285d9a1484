"""One written note or rest as a MusicXML ``<note>``, its children in the schema's order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from math import gcd
from typing import TYPE_CHECKING

from phrasing.marking.marking import Marking
from phrasing.paper.beaming import beams
from phrasing.paper.fonts import printable
from phrasing.paper.values import LENGTHS, Piece, written
from phrasing.score.instruments import Instrument
from phrasing.score.keys import fifths_at, keys_of, on_paper, spelled_line
from phrasing.score.marks import CODE, MARKS, UNMARKED
from phrasing.score.melody import Key, Melody
from phrasing.score.meters import TICKS, Bar
from phrasing.score.pitches import (
    nearest_place,
    octave_of,
    place_of,
    step_and_alter,
)

if TYPE_CHECKING:
    from lxml import etree


# What one new score needs to know while it is written, and the hand that adds elements.

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
    ``divisions``: MusicXML divisions to the quarter; ``slurs`` beside the author's.
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
    slurs: Sequence[tuple[int, int]] = ()

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

    @cached_property
    def slur_ends(self) -> Mapping[int, tuple[tuple[str, str], ...]]:
        """The slurs that stop and start at each note that has some: type and number."""
        ends: dict[int, list[tuple[str, str]]] = {}
        for index, (first, last) in enumerate(sorted((*self.melody.slurs, *self.slurs))):
            number = str(index % 6 + 1)
            ends.setdefault(last, []).insert(0, ("stop", number))
            ends.setdefault(first, []).append(("start", number))
        return {note: tuple(own) for note, own in ends.items()}

    @cached_property
    def wedge_ends(self) -> Mapping[int, tuple[str, ...]]:
        """What opens or closes at each note that has an end of a wedge."""
        ends: dict[int, tuple[str, ...]] = {}
        for swell in self.marking.swells if self.marking else ():
            ends[swell.first] = (*ends.get(swell.first, ()), "diminuendo")
            ends[swell.last] = (*ends.get(swell.last, ()), "stop")
        return ends

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
    slurs: Sequence[tuple[int, int]] = (),
) -> Draft:
    """The melody made ready: key, names and values decided.

    >>> drafted(melody("C5:2 D5:2"), None, None, None).divisions
    1
    """
    sounding = keys_of(melody)
    fifths = instrument.fifths if instrument else 0
    keys = [on_paper(key, fifths) for key in sounding]
    shift = -instrument.transposition if instrument else 0
    signatures = fifths_at(keys, melody.onset).tolist()
    places = spelled_line((melody.pitch + shift).tolist(), signatures, keys[0].minor)
    bars = written(melody)
    return Draft(
        melody=melody,
        marking=marking,
        instrument=instrument,
        swing=None if all(bar.meter.has_no_off_beats for bar, _ in bars) else swing,
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
        slurs=slurs,
    )


def _marks(melody: Melody, marking: Marking | None) -> list[int]:
    if marking is not None:
        return [int(code) for code in marking.mark]
    return [CODE.get(melody.marks.get(index, ""), UNMARKED) for index in range(len(melody))]


def _divisions(melody: Melody, bars: Sequence[tuple[Bar, list[Piece]]]) -> int:
    """The fewest divisions of a quarter in which all that is written can be counted.

    What no notation says exactly has to differ from its printed value by whole divisions, too:
    else it would be taken for one that was rounded to them.
    """
    every = [piece for _, pieces in bars for piece in pieces]
    ticks = [tick for piece in every for tick in (piece.onset, piece.length)]
    ticks += [p.length - LENGTHS[p.type, p.dots] for p in every if not p.tuplet]
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

    >>> note_ids(melody("C5:2 D5:2"))
    ('n1', 'n2')
    """
    unique = len(set(melody.ids)) == len(melody.ids) == len(melody)
    return melody.ids if unique else tuple(f"n{index + 1}" for index in range(len(melody)))


def parsed(score: bytes) -> etree._Element:
    """The root of a score, with nothing fetched and no entity resolved.

    >>> parsed(b"<score-partwise/>").tag
    'score-partwise'
    """
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


SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
Altered = dict[tuple[str, int], int]
"""How each line and space (step and octave) was last altered in a bar."""


class Accidentals:
    """Which accidentals have to be printed: what differs from the signature and the bar so far.

    A note that was altered in the bar before and no longer is gets its sign back as a
    reminder.
    """

    def __init__(self) -> None:
        self.before: Altered = {}
        self.now: Altered = {}

    def next_bar(self) -> None:
        """Forget the bar before the last."""
        self.before, self.now = self.now, {}

    def sign(self, place: int, octave: int, fifths: int) -> tuple[str, bool]:
        """The sign to print ("" for none), and whether it is only a reminder."""
        step, alter = step_and_alter(place)
        by_key = signature_alter(step, fifths)
        line = (step, octave)
        reminder = line not in self.now and self.before.get(line, alter) != alter
        changed = self.now.get(line, by_key) != alter
        self.now[line] = alter
        self.before.pop(line, None)
        return (SIGNS[alter] if changed or reminder else ""), reminder and not changed


def signature_alter(step: str, fifths: int) -> int:
    """By how many semitones a key signature alters a step."""
    return (fifths - place_of(step) + 5) // 7


def add_note(
    measure: etree._Element,
    draft: Draft,
    piece: Piece,
    accidentals: Accidentals,
    tuplet_ends: Sequence[str],
) -> None:
    """Append a sounding note. ``tuplet_ends``: "start" and "stop", as far as they are here."""
    first = not piece.tied_from
    note = add(measure, "note", id=draft.names[piece.onset])
    sign, reminder = _add_pitch(note, draft, piece, accidentals)
    add(note, "duration", draft.count(piece.length))
    ties = [t for t, on in (("stop", piece.tied_from), ("start", piece.tied_on)) if on]
    for tie in ties:
        add(note, "tie", type=tie)
    _add_value(note, piece)
    if sign and first:
        shown = {"cautionary": "yes"} if reminder else {}
        add(note, "accidental", sign, **shown)
    _add_time_modification(note, piece)
    mark = draft.marks[piece.note]
    if mark != UNMARKED and MARKS[mark].parenthesised and first:
        add(note, "notehead", "normal", parentheses="yes")
    for level, word in enumerate(draft.beams[piece.onset], 1):
        add(note, "beam", word, number=str(level))
    _add_notations(note, draft, piece, ties, tuplet_ends)


def add_rest(measure: etree._Element, draft: Draft, piece: Piece, ends: Sequence[str]) -> None:
    """Append a rest, a whole bar's where it fills one."""
    note = add(measure, "note")
    attributes = {"measure": "yes"} if piece.whole_bar else {}
    add(note, "rest", **attributes)
    add(note, "duration", draft.count(piece.length))
    if piece.whole_bar:
        add(note, "voice", 1)
        return
    _add_value(note, piece)
    _add_time_modification(note, piece)
    if ends:
        _add_tuplet(add(note, "notations"), draft, piece, ends)


def add_graces(measure: etree._Element, draft: Draft, index: int) -> None:
    """Append the grace notes that lead to a note: one with a slash, several beamed."""
    pitches = draft.graces.get(index, ())
    for at, sounding in enumerate(pitches):
        pitch = sounding + draft.shift
        place = nearest_place(pitch, draft.places[index])
        note = add(measure, "note")
        add(note, "grace", slash="yes" if len(pitches) == 1 else "no")
        _add_pitch_of(note, pitch, place)
        add(note, "voice", 1)
        add(note, "type", "eighth" if len(pitches) == 1 else "16th")
        step, alter = step_and_alter(place)
        if alter != signature_alter(step, _fifths(draft.keys, draft.melody.onset[index])):
            add(note, "accidental", SIGNS[alter])
        if len(pitches) > 1:
            word = "begin" if at == 0 else "end" if at == len(pitches) - 1 else "continue"
            for level in ("1", "2"):
                add(note, "beam", word, number=level)


def _add_pitch(
    note: etree._Element, draft: Draft, piece: Piece, accidentals: Accidentals
) -> tuple[str, bool]:
    pitch = int(draft.melody.pitch[piece.note]) + draft.shift
    place = draft.places[piece.note]
    _add_pitch_of(note, pitch, place)
    if piece.tied_from:
        return "", False
    return accidentals.sign(place, octave_of(pitch, place), _fifths(draft.keys, piece.onset))


def _fifths(keys: Sequence[Key], tick: int) -> int:
    return [key for key in keys if key.onset <= tick][-1].fifths


def _add_pitch_of(note: etree._Element, pitch: int, place: int) -> None:
    step, alter = step_and_alter(place)
    element = add(note, "pitch")
    add(element, "step", step)
    if alter:
        add(element, "alter", alter)
    add(element, "octave", octave_of(pitch, place))


def _add_value(note: etree._Element, piece: Piece) -> None:
    add(note, "voice", 1)
    add(note, "type", piece.type)
    for _ in range(piece.dots):
        add(note, "dot")


def _add_time_modification(note: etree._Element, piece: Piece) -> None:
    if piece.tuplet:
        modification = add(note, "time-modification")
        add(modification, "actual-notes", piece.tuplet.actual)
        add(modification, "normal-notes", piece.tuplet.normal)
        add(modification, "normal-type", piece.tuplet.unit)


def _add_notations(
    note: etree._Element,
    draft: Draft,
    piece: Piece,
    ties: Sequence[str],
    tuplet_ends: Sequence[str],
) -> None:
    notations = add(note, "notations")
    for tie in ties:
        add(notations, "tied", type=tie)
    _add_slurs(notations, draft, piece)
    if tuplet_ends:
        _add_tuplet(notations, draft, piece, tuplet_ends)
    _add_articulations(notations, draft, piece)
    if not len(notations):
        note.remove(notations)


def _add_slurs(notations: etree._Element, draft: Draft, piece: Piece) -> None:
    for kind, number in draft.slur_ends.get(piece.note, ()):
        if not (piece.tied_on if kind == "stop" else piece.tied_from):
            add(notations, "slur", type=kind, number=number)


def _add_tuplet(
    notations: etree._Element, draft: Draft, piece: Piece, ends: Sequence[str]
) -> None:
    """A tuplet has its number; a bracket too unless one beam shows how far it goes."""
    bracket = "no" if piece.tuplet and piece.tuplet.onset in draft.beamed_tuplets else "yes"
    if "start" in ends:
        add(notations, "tuplet", type="start", bracket=bracket, show_number="actual")
    if "stop" in ends:
        add(notations, "tuplet", type="stop")


INTO, AWAY = ("scoop", "plop"), ("falloff", "doit")
"""MusicXML's inflections: into a note, and away from it."""


def _add_articulations(notations: etree._Element, draft: Draft, piece: Piece) -> None:
    mark = draft.marks[piece.note]
    names = list(MARKS[mark].musicxml) if mark != UNMARKED and not piece.tied_from else []
    inflection = draft.melody.inflections.get(piece.note, "")
    if inflection in INTO and not piece.tied_from:
        names.append(inflection)
    if inflection in AWAY and not piece.tied_on:
        names.append(inflection)
    if piece.note in draft.melody.phrase_ends and not piece.tied_on:
        names.append("breath-mark")
    if names:
        articulations = add(notations, "articulations")
        for name in names:
            add(articulations, name)
