"""One written note or rest as a MusicXML ``<note>``, its children in the schema's order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from phrasing.marks import MARKS, UNMARKED
from phrasing.melody import Key
from phrasing.pitchnames import nearest_place, octave_of, place_of, step_and_alter
from phrasing.publishing.score.draft import Draft, add
from phrasing.publishing.score.values import Piece

if TYPE_CHECKING:
    from lxml import etree

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
    for index, (first, last) in enumerate(draft.melody.slurs):
        number = str(index % 6 + 1)
        if last == piece.note and not piece.tied_on:
            add(notations, "slur", type="stop", number=number)
        if first == piece.note and not piece.tied_from:
            add(notations, "slur", type="start", number=number)


def _add_tuplet(
    notations: etree._Element, draft: Draft, piece: Piece, ends: Sequence[str]
) -> None:
    """A tuplet has its number; a bracket too unless one beam shows how far it goes."""
    bracket = "no" if piece.tuplet and piece.tuplet.onset in draft.beamed_tuplets else "yes"
    if "start" in ends:
        add(notations, "tuplet", type="start", bracket=bracket, show_number="actual")
    if "stop" in ends:
        add(notations, "tuplet", type="stop")


def _add_articulations(notations: etree._Element, draft: Draft, piece: Piece) -> None:
    mark = draft.marks[piece.note]
    names = list(MARKS[mark].musicxml) if mark != UNMARKED and not piece.tied_from else []
    if piece.note in draft.melody.phrase_ends and not piece.tied_on:
        names.append("breath-mark")
    if names:
        articulations = add(notations, "articulations")
        for name in names:
            add(articulations, name)
