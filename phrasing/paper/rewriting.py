"""An author's score moved to another pitch or rewritten for another instrument, in place.

Only pitches, key signatures, accidentals and the roots of chord symbols change, and what they
carry with them: the side of a stem, a chord diagram, a string number. Words, lyrics, repeats,
dynamics and layout stay as they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from phrasing.paper.notes import add
from phrasing.reading.musicxml.bars import Transposition, Transpositions
from phrasing.reading.musicxml.measures import number
from phrasing.score.instruments import Instrument
from phrasing.score.pitches import (
    STEPS,
    moved_signature,
    octave_of,
    pitch_class,
    place_of,
    step_and_alter,
)
from phrasing.score.transposing import STAY, Move, plain_place

if TYPE_CHECKING:
    from lxml import etree


ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
"""MusicXML's names of the signs, by semitones."""
AFTER_ACCIDENTAL = (
    "time-modification", "stem", "notehead", "notehead-text", "staff", "beam", "notations",
    "lyric", "play", "listen",
)  # fmt: skip
"""What follows an accidental in a ``<note>`` (MusicXML 4.0)."""
AFTER_TRANSPOSE = ("for-part", "directive", "measure-style")
"""What follows ``<transpose>`` in ``<attributes>``."""
BY_HAND = ("string", "fret")
"""What says where on an instrument a note is played, and is wrong elsewhere."""


def move_score(
    root: etree._Element,
    own: etree._Element,
    move: Move,
    others: Move,
    instrument: Instrument | None,
) -> None:
    """Move the score: its ``own`` part by ``move``, the ``others`` by theirs, as they sound.

    ``instrument``: who is to read the own part; None leaves it as it is written. A score that
    is printed at concert pitch no longer is where the new reader transposes.
    """
    concert = root.find("defaults/concert-score")
    sounding = concert is not None
    if concert is not None and instrument is not None and instrument.transposition % 12:
        drop(concert)
        sounding = False
    for part in root.iterchildren("part"):
        reader = instrument if part is own else None
        by = move if part is own else others
        _PartMove(by, reader, concert is not None, sounding).move(part)
    if instrument is not None:
        _rename(root, own, instrument)


@dataclass
class _PartMove:
    """One part on its way: ``move`` as it sounds, and who is to read it.

    ``was_concert``: its notes stood at concert pitch; ``stays_concert``: they still do.
    """

    move_by: Move
    instrument: Instrument | None
    was_concert: bool
    stays_concert: bool

    def move(self, part: etree._Element) -> None:
        """Move everything in the part."""
        self.was = Transpositions(self.was_concert)
        self.own = Transpositions(self.stays_concert)
        self.signatures: dict[str, tuple[int, int]] = {}
        for measure in part.iterchildren("measure"):
            respelled = [self._moved(child) for child in measure.iterchildren("*")]
            if any(respelled):
                self._sign(measure)
            self._free_stems(measure)
        if self.instrument is not None:
            _set_transposition(part, self.instrument)
            _set_clef(part, self.instrument)

    def _moved(self, child: etree._Element) -> bool:
        """Move one child of a measure; True where a name was changed for a simpler one."""
        if child.tag == "attributes":
            self.was.take(child)
            self.own.take(child)
            for key in child.iterchildren("key"):
                self._move_key(key)
        elif child.tag == "note":
            return self._move_note(child)
        elif child.tag == "harmony" and self._step(_staff(child)) != STAY:
            self._move_harmony(child)
        return False

    def _step(self, staff: str) -> Move:
        """How far written pitches on a staff move."""
        was, own = self.was.of(staff), self.own.of(staff)
        if self.instrument is not None:
            own = Transposition(self.instrument.transposition, -self.instrument.fifths)
        return Move(
            was.semitones + self.move_by.semitones - own.semitones,
            was.fifths + self.move_by.fifths - own.fifths,
        )

    def _signature(self, staff: str) -> tuple[int, int]:
        """The new key signature on a staff, and by how many fifths names move in it."""
        found = self.signatures.get(staff) or self.signatures.get("1")
        if found is None:
            new = moved_signature(0, self._step(staff).fifths)
            return new, new
        return found

    def _move_key(self, key: etree._Element) -> None:
        fifths = key.find("fifths")
        staff = key.get("number", "1")
        if fifths is None:
            return
        old = int(number(fifths.text))
        new = moved_signature(old, self._step(staff).fifths)
        self.signatures[staff] = new, new - old
        fifths.text = str(new)
        cancel = key.find("cancel")
        if cancel is not None:
            cancel.text = str(moved_signature(int(number(cancel.text)), new - old))

    def _move_note(self, note: etree._Element) -> bool:
        staff = _staff(note)
        step = self._step(staff)
        rest = note.find("rest")
        if step == STAY:
            return False
        if rest is not None:
            for child in list(rest):
                rest.remove(child)
        for sign in BY_HAND:
            for where in list(note.iterfind(f"notations/technical/{sign}")):
                drop(where)
        pitch = note.find("pitch")
        if pitch is None:
            return False
        return _move_pitch(note, pitch, step.semitones, self._signature(staff)[1])

    def _move_harmony(self, harmony: etree._Element) -> None:
        by = self._signature(_staff(harmony))[1]
        for what in ("root", "bass"):
            step = harmony.find(f"{what}/{what}-step")
            if step is not None and (step.text or "").strip() in STEPS:
                alter = round(number(harmony.findtext(f"{what}/{what}-alter")))
                place = plain_place(place_of((step.text or "").strip(), alter) + by)
                _respell(harmony, what, place)
        for frame in list(harmony.iterchildren("frame")):
            harmony.remove(frame)

    def _sign(self, measure: etree._Element) -> None:
        """Decide anew which notes of a measure need an accidental."""
        known: dict[tuple[str, str, str], Fraction] = {}
        for note in measure.iterchildren("note"):
            pitch = note.find("pitch")
            if pitch is None:
                continue
            step, octave = (pitch.findtext(tag) or "" for tag in ("step", "octave"))
            place = (note.findtext("voice") or "", step.strip(), octave.strip())
            alter = number(pitch.findtext("alter"))
            signature = self._signature(_staff(note))[0]
            usual = known.get(place, Fraction(_altered(step.strip(), signature)))
            known[place] = alter
            _set_accidental(note, alter, needed=alter != usual and not _is_held(note))

    def _free_stems(self, measure: etree._Element) -> None:
        """Let the engraver turn the stems where a single voice has moved."""
        notes = list(measure.iterchildren("note"))
        voices = {(note.findtext("voice"), note.findtext("staff")) for note in notes}
        if len(voices) == 1 and notes and self._step(_staff(notes[0])) != STAY:
            for note in notes:
                for stem in list(note.iterchildren("stem")):
                    if (stem.text or "").strip() in ("up", "down"):
                        note.remove(stem)


def drop(element: etree._Element) -> None:
    """Take an element out of the tree, and leave the white space after it."""
    parent = element.getparent()
    if parent is not None:
        parent.remove(element)


def _staff(element: etree._Element) -> str:
    return (element.findtext("staff") or "1").strip()


def _altered(step: str, signature: int) -> int:
    """Semitones by which a signature of so many fifths alters a step."""
    place = place_of(step)
    return (signature + 5 - place) // 7


def _move_pitch(note: etree._Element, pitch: etree._Element, semitones: int, by: int) -> bool:
    """Move one pitch; True where a double sharp or flat was spelled more simply."""
    step = (pitch.findtext("step") or "").strip().upper()
    if step not in STEPS or len(step) != 1:
        return False
    given = number(pitch.findtext("alter"))
    alter = round(given)
    natural = pitch_class(place_of(step)) + 12 * (int(number(pitch.findtext("octave"))) + 1)
    exact = place_of(step, alter) + by
    simple = Transposition(0, by).place(place_of(step, alter))
    octave = octave_of(natural + alter + semitones, simple)
    _respell_pitch(pitch, simple, given - alter, octave)
    sign = note.find("accidental")
    if sign is not None and simple == exact:
        _set_accidental(note, number(pitch.findtext("alter")), needed=True)
    return simple != exact


def _respell_pitch(pitch: etree._Element, place: int, micro: Fraction, octave: int) -> None:
    step, alter = step_and_alter(place)
    for child in list(pitch):
        pitch.remove(child)
    add(pitch, "step", step)
    if alter + micro:
        add(pitch, "alter", _decimal(alter + micro))
    add(pitch, "octave", octave)


def _decimal(value: Fraction) -> str:
    return f"{float(value):g}"


def _respell(harmony: etree._Element, what: str, place: int) -> None:
    """Write a chord's root or bass anew."""
    step, alter = step_and_alter(place)
    for name in harmony.iterchildren(what):
        for element in name.iterchildren(f"{what}-step"):
            element.text = step
            element.attrib.pop("text", "")
        found = name.find(f"{what}-alter")
        if found is not None and not alter:
            name.remove(found)
        elif alter:
            added = add(name, f"{what}-alter") if found is None else found
            added.text = str(alter)


def _is_held(note: etree._Element) -> bool:
    return any(tie.get("type") == "stop" for tie in note.iterchildren("tie"))


def _set_accidental(note: etree._Element, alter: Fraction, *, needed: bool) -> None:
    """Give a note the sign it needs; a reminder that it had stays, with the right sign."""
    sign = note.find("accidental")
    name = ACCIDENTALS.get(int(alter)) if alter == int(alter) else None
    if name is None:
        return
    if sign is not None:
        reminder = {sign.get("cautionary"), sign.get("parentheses"), sign.get("editorial")}
        if needed or "yes" in reminder:
            sign.text = name
        else:
            note.remove(sign)
    elif needed:
        sign = note.makeelement("accidental", {})
        sign.text = name
        _insert(note, sign, AFTER_ACCIDENTAL)


def _insert(parent: etree._Element, new: etree._Element, before: tuple[str, ...]) -> None:
    """Insert a child before the first of those that have to follow it."""
    following = next(parent.iterchildren(*before), None)
    if following is None:
        parent.append(new)
    else:
        following.addprevious(new)


# Who reads the part


def _set_transposition(part: etree._Element, instrument: Instrument) -> None:
    """Say by how much the part sounds lower, in its first bar, in place of what it said."""
    for transpose in list(part.iter("transpose")):
        drop(transpose)
    first = part.find("measure")
    if first is None or not instrument.transposition:
        return
    attributes = first.find("attributes")
    if attributes is None:
        attributes = first.makeelement("attributes", {})
        first.insert(0, attributes)
    transpose = attributes.makeelement("transpose", {})
    add(transpose, "diatonic", instrument.steps)
    add(transpose, "chromatic", instrument.semitones)
    if instrument.octaves:
        add(transpose, "octave-change", instrument.octaves)
    _insert(attributes, transpose, AFTER_TRANSPOSE)


def _set_clef(part: etree._Element, instrument: Instrument) -> None:
    """The instrument's clef in place of every clef of the first staff, if it has one."""
    clefs = [c for c in part.iter("clef") if c.get("number", "1") == "1"]
    if not instrument.clef:
        return
    for clef in clefs:
        for child in list(clef):
            clef.remove(child)
        add(clef, "sign", instrument.clef[0])
        add(clef, "line", instrument.clef[1])


def _rename(root: etree._Element, own: etree._Element, instrument: Instrument) -> None:
    """Give the part its new player's name, sound and program."""
    header = next(_headers(root, own), None)
    if header is None:
        return
    for tag in ("part-name", "part-abbreviation"):
        for element in header.iterchildren(tag):
            element.text = instrument.name if tag == "part-name" else ""
        for display in list(header.iterchildren(f"{tag}-display")):
            header.remove(display)
    for name in header.iterfind("score-instrument/instrument-name"):
        name.text = instrument.name
    for sound in header.iterfind("score-instrument/instrument-sound"):
        sound.text = instrument.sounds[0] if instrument.sounds else sound.text
    for program in header.iterfind("midi-instrument/midi-program"):
        program.text = str(instrument.program)


def _headers(root: etree._Element, own: etree._Element) -> Iterator[etree._Element]:
    entries = root.iterfind("part-list/score-part")
    return (entry for entry in entries if entry.get("id") == own.get("id"))
