"""A new MusicXML score of a melody, with its marks or without.

MusicXML 4.0, partwise, one part and one voice. Pitches are written ones: a transposing
instrument's part says by how much it sounds lower. Every note's ``id`` is its name in the
melody; a note tied on has the same name with ``-2``, ``-3``, ... behind it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from phrasing.instruments import Instrument
from phrasing.marking.marking import Marking
from phrasing.melody import Melody
from phrasing.publishing.score.directions import (
    add_chords,
    add_section,
    add_tempos,
    add_wedges,
)
from phrasing.publishing.score.draft import Draft, add, drafted, note_ids, parsed
from phrasing.publishing.score.notexml import Accidentals, add_graces, add_note, add_rest
from phrasing.publishing.score.values import Piece

if TYPE_CHECKING:
    from lxml import etree

__all__ = ["clef_of", "facing_score", "new_score", "note_ids"]

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
INSTRUMENT_TAGS = ("score-instrument", "midi-device", "midi-instrument", "instrument")
"""Elements that name an instrument of a part by its id."""
BASS_BELOW = 57
"""Where a part has no clef of its own: the bass clef if its middle note is lower than A3."""


def new_score(
    melody: Melody,
    marking: Marking | None = None,
    *,
    instrument: Instrument | None = None,
    swing: tuple[int, int] | None = None,
) -> bytes:
    """The melody as a MusicXML 4.0 file (UTF-8).

    ``marking`` puts its marks, swells and parentheses in; without it only the author's own
    marks stand. ``instrument`` gives clef, key and written pitch (None: as it sounds).
    ``swing`` is the long-short ratio in whole numbers, (1, 1) for even eighths, None to say
    nothing.
    """
    from lxml import etree

    draft = drafted(melody, marking, instrument, swing)
    root = etree.Element("score-partwise", version="4.0")
    _add_header(root, draft)
    part = add(root, "part", id="P1")
    accidentals = Accidentals()
    for index in range(len(draft.bars)):
        _add_bar(part, draft, index, accidentals)
    add(add(part[-1], "barline", location="right"), "bar-style", "light-heavy")
    etree.indent(root)
    content: bytes = etree.tostring(
        root, xml_declaration=True, encoding="UTF-8", doctype=DOCTYPE
    )
    return content


def facing_score(plain: bytes, marked: bytes) -> bytes:
    """Two scores of one melody as two parts, plain above marked, bar under bar.

    Tempo, letters and chord symbols stand once, over the plain part.
    """
    from lxml import etree

    above, below = parsed(plain), parsed(marked)
    for note in above.iter("note"):
        note.attrib.pop("id", "")
    for root, name in ((above, "plain"), (below, "shaped")):
        for label in root.iter("part-name"):
            label.attrib.clear()
            label.text = name
    for element in below.iter("score-part", "part", *INSTRUMENT_TAGS):
        element.set("id", f"lower-{element.get('id', '')}")
    for measure in below.iter("measure"):
        for shown in measure.findall("direction") + measure.findall("harmony"):
            if shown.find("direction-type/wedge") is None:
                measure.remove(shown)
    for parts in above.iter("part-list"):
        parts.extend(below.iter("score-part"))
    above.extend(below.iter("part"))
    content: bytes = etree.tostring(
        above, xml_declaration=True, encoding="UTF-8", doctype=DOCTYPE
    )
    return content


# The head of the score


def _add_header(root: etree._Element, draft: Draft) -> None:
    melody, instrument = draft.melody, draft.instrument
    if melody.title:
        add(add(root, "work"), "work-title", melody.title)
    add(add(add(root, "identification"), "encoding"), "software", "phrasing")
    part = add(add(root, "part-list"), "score-part", id="P1")
    name = instrument.name if instrument else melody.instrument or "Melody"
    add(part, "part-name", name, print_object="no")
    add(add(part, "score-instrument", id="P1-I1"), "instrument-name", name)
    program = instrument.program if instrument else melody.program
    if program:
        midi = add(part, "midi-instrument", id="P1-I1")
        add(midi, "midi-channel", 1)
        add(midi, "midi-program", program)


def _add_attributes(measure: etree._Element, draft: Draft, index: int) -> None:
    bar = draft.bars[index][0]
    new_key = [k for k in draft.keys if bar.onset <= k.onset < bar.onset + bar.length]
    new_meter = index == 0 or bar.meter != draft.bars[index - 1][0].meter
    if not (new_key or new_meter):
        return
    attributes = add(measure, "attributes")
    if index == 0:
        add(attributes, "divisions", draft.divisions)
    if new_key:
        key = add(attributes, "key")
        add(key, "fifths", new_key[-1].fifths)
        add(key, "mode", "minor" if new_key[-1].minor else "major")
    if new_meter:
        time = add(attributes, "time")
        add(time, "beats", bar.meter.beats)
        add(time, "beat-type", bar.meter.unit)
    if index == 0:
        _add_clef(attributes, draft)
        _add_transposition(attributes, draft.instrument)


def _add_clef(attributes: etree._Element, draft: Draft) -> None:
    name = clef_of(draft.melody, draft.instrument)
    clef = add(attributes, "clef")
    add(clef, "sign", name[0])
    add(clef, "line", name[1])


def clef_of(melody: Melody, instrument: Instrument | None) -> str:
    """The instrument's clef, or the one in which most notes lie best: "G2" or "F4"."""
    if instrument and instrument.clef:
        return instrument.clef
    middle = sorted(melody.pitch.tolist())[len(melody) // 2] if len(melody) else 60
    shift = instrument.transposition if instrument else 0
    return "F4" if middle - shift < BASS_BELOW else "G2"


def _add_transposition(attributes: etree._Element, instrument: Instrument | None) -> None:
    if instrument is None or not instrument.transposition:
        return
    transpose = add(attributes, "transpose")
    add(transpose, "diatonic", instrument.steps)
    add(transpose, "chromatic", instrument.semitones)
    if instrument.octaves:
        add(transpose, "octave-change", instrument.octaves)


# One bar


def _add_bar(part: etree._Element, draft: Draft, index: int, accidentals: Accidentals) -> None:
    bar, pieces = draft.bars[index]
    measure = add(part, "measure", number=str(bar.number))
    if bar.number == 0:
        measure.set("implicit", "yes")
    _add_attributes(measure, draft, index)
    accidentals.next_bar()
    for at, piece in enumerate(pieces):
        add_section(measure, draft, piece)
        add_tempos(measure, draft, piece, bar.meter)
        add_chords(measure, draft, piece)
        _add_piece(measure, draft, pieces, at, accidentals)


def _add_piece(
    measure: etree._Element,
    draft: Draft,
    pieces: Sequence[Piece],
    at: int,
    accidentals: Accidentals,
) -> None:
    piece = pieces[at]
    ends = _tuplet_ends(pieces, at)
    if piece.is_rest:
        add_rest(measure, draft, piece, ends)
        return
    if not piece.tied_from:
        add_graces(measure, draft, piece.note)
        add_wedges(measure, draft, piece.note, opens=True)
    add_note(measure, draft, piece, accidentals, ends)
    if not piece.tied_on:
        add_wedges(measure, draft, piece.note, opens=False)


def _tuplet_ends(pieces: Sequence[Piece], at: int) -> list[str]:
    """Whether a tuplet starts or stops with this piece."""
    own = pieces[at].tuplet
    if own is None:
        return []
    starts = at == 0 or pieces[at - 1].tuplet != own
    stops = at + 1 == len(pieces) or pieces[at + 1].tuplet != own
    return ["start"] * starts + ["stop"] * stops
