"""A new MusicXML score of a melody, with its marks or without.

MusicXML 4.0, partwise, one part and one voice. Pitches are written ones: a transposing
instrument's part says by how much it sounds lower. Every note's ``id`` is its name in the
melody; a note tied on has the same name with ``-2``, ``-3``, ... behind it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol, TypeVar

from phrasing.errors import PhrasingError
from phrasing.marking.marking import Marking
from phrasing.paper.heard import heard_slurs
from phrasing.paper.notes import (
    Accidentals,
    Draft,
    add,
    add_graces,
    add_note,
    add_rest,
    drafted,
    note_ids,
    parsed,
)
from phrasing.paper.values import Piece, is_compound
from phrasing.score.chords import Chord, parse_chord
from phrasing.score.instruments import Instrument
from phrasing.score.melody import Melody
from phrasing.score.meters import Meter
from phrasing.score.pitches import read_name, step_and_alter

if TYPE_CHECKING:
    from lxml import etree


TRIADS: dict[tuple[int | None, int | None], str] = {
    (4, 7): "major",
    (3, 7): "minor",
    (4, 8): "augmented",
    (3, 6): "diminished",
    (5, 7): "suspended-fourth",
    (2, 7): "suspended-second",
    (None, 7): "power",
}
SEVENTHS: dict[tuple[int | None, int | None, int], str] = {
    (4, 7, 10): "dominant",
    (4, 7, 11): "major-seventh",
    (3, 7, 10): "minor-seventh",
    (3, 6, 10): "half-diminished",
    (3, 6, 9): "diminished-seventh",
    (3, 7, 11): "major-minor",
    (4, 8, 10): "augmented-seventh",
    (4, 7, 9): "major-sixth",
    (3, 7, 9): "minor-sixth",
}
STACKS = {"dominant": "dominant", "major-seventh": "major", "minor-seventh": "minor"}
"""The sevenths that MusicXML knows with a ninth, eleventh or thirteenth, and their prefix."""


def kind_of(chord: Chord) -> str:
    """The MusicXML ``kind`` nearest to a chord: what it lacks stands in the printed text."""
    if not chord.sounds:
        return "none"
    fifths = chord.intervals(5)
    triad = (chord.third, fifths[0] if fifths else 7)
    seventh = chord.seventh
    if seventh is None or triad[0] in (5, 2):
        return TRIADS.get(triad, "other")
    kind = SEVENTHS.get((*triad, seventh)) or SEVENTHS.get((triad[0], 7, seventh), "other")
    return _stacked(kind, chord)


def _stacked(kind: str, chord: Chord) -> str:
    if kind not in STACKS:
        return kind
    for degree, natural, name in ((13, 21, "13th"), (11, 17, "11th"), (9, 14, "ninth")):
        if natural in chord.intervals(degree):
            return f"{STACKS[kind]}-{name}"
    return kind


def add_harmony(parent: etree._Element, text: str, move: int = 0, offset: int = 0) -> None:
    """Append a ``<harmony>`` for a chord symbol, its names ``move`` fifths higher.

    ``offset`` in divisions, as MusicXML counts. A symbol that cannot be taken apart is
    printed as it stands, as words.
    """
    from lxml import etree

    parts = _parts(text)
    if parts is None:
        words = etree.SubElement(parent, "direction", placement="above")
        kind = etree.SubElement(words, "direction-type")
        etree.SubElement(kind, "words").text = text
        _add_offset(words, offset)
        return
    root, quality, bass, kind_name = parts
    harmony = etree.SubElement(parent, "harmony", placement="above")
    _add_name(harmony, "root", root + move if root is not None else 0)
    kind = etree.SubElement(harmony, "kind", text=quality)
    kind.text = kind_name
    if root is None:
        harmony[0][0].set("text", "")
    if bass is not None:
        _add_name(harmony, "bass", bass + move)
    _add_offset(harmony, offset)


def _parts(text: str) -> tuple[int | None, str, int | None, str] | None:
    """Root, printed quality, bass and kind of a symbol; root None where no chord sounds."""
    try:
        chord = parse_chord(text)
        written, kind = chord.written, kind_of(chord)
    except PhrasingError:
        written, kind = text, "other"
    if kind == "none":
        return None, "N.C.", None, kind
    try:
        root, quality = read_name(written)
    except ValueError:
        return None
    head, slash, tail = quality.rpartition("/")
    try:
        bass, left = read_name(tail) if slash else (0, tail)
    except ValueError:
        left = tail
    return (root, quality, None, kind) if left else (root, head, bass if slash else None, kind)


def _add_name(parent: etree._Element, what: str, place: int) -> None:
    from lxml import etree

    name = etree.SubElement(parent, what)
    step, alter = step_and_alter(place)
    etree.SubElement(name, f"{what}-step").text = step
    if alter:
        etree.SubElement(name, f"{what}-alter").text = str(alter)


# What stands over and under the notes: tempo, swing, rehearsal letters, chords and wedges.


class _Placed(Protocol):
    @property
    def onset(self) -> int: ...


Item = TypeVar("Item", bound=_Placed)


def during(items: Sequence[Item], piece: Piece) -> Sequence[Item]:
    """Those of the ``items`` (in order of onset) that begin while the piece lasts."""
    first = bisect_left(items, piece.onset, key=lambda item: item.onset)
    last = bisect_left(items, piece.onset + piece.length, key=lambda item: item.onset)
    return items[first:last]


def swing_words(swing: tuple[int, int]) -> str:
    """The direction as it is printed, always against one: "Swing 2 : 1", "Swing 1.75 : 1"."""
    ratio = swing[0] / swing[1]
    return "Even eighths" if ratio == 1.0 else f"Swing {round(ratio, 2):g} : 1"


def add_swing_sound(
    sound: etree._Element, swing: tuple[int, int], *, sixteenths: bool = False
) -> None:
    """Append the ``<swing>`` that says the same to a program."""
    element = add(sound, "swing")
    if swing[0] == swing[1]:
        add(element, "straight")
        return
    add(element, "first", swing[0])
    add(element, "second", swing[1])
    add(element, "swing-type", "16th" if sixteenths else "eighth")


def add_section(measure: etree._Element, draft: Draft, piece: Piece) -> None:
    """Append the rehearsal letter that stands at this piece."""
    for section in during(draft.melody.sections, piece):
        direction = add(measure, "direction", placement="above")
        add(add(direction, "direction-type"), "rehearsal", section.name)


def add_tempos(measure: etree._Element, draft: Draft, piece: Piece, meter: Meter) -> None:
    """Append the tempos that start during this piece; small changes are not printed.

    The first stands with the swing direction, if a ratio is to be said: "Swing 2 : 1 ♩ = 168".
    """
    for change in during(draft.tempos, piece):
        offset = draft.count(change.onset - piece.onset)
        if change.printed:
            swing = draft.swing if change.onset == 0 else None
            _add_metronome(measure, change.tempo, offset, meter, swing)
        else:
            sound = add(measure, "sound", tempo=_decimal(change.tempo))
            _add_offset(sound, offset)


def _add_metronome(
    measure: etree._Element,
    tempo: float,
    offset: int,
    meter: Meter,
    swing: tuple[int, int] | None,
) -> None:
    direction = add(measure, "direction", placement="above")
    if swing:
        add(add(direction, "direction-type"), "words", swing_words(swing))
    metronome = add(add(direction, "direction-type"), "metronome")
    dotted = is_compound(meter) and meter.unit == 8
    add(metronome, "beat-unit", "quarter")
    if dotted:
        add(metronome, "beat-unit-dot")
    add(metronome, "per-minute", round(tempo / 1.5 if dotted else tempo))
    _add_offset(direction, offset)
    sound = add(direction, "sound", tempo=_decimal(tempo))
    if swing:
        add_swing_sound(sound, swing)


def _add_offset(parent: etree._Element, offset: int) -> None:
    if offset:
        add(parent, "offset", offset)


def _decimal(number: float) -> str:
    return f"{number:.6f}".rstrip("0").rstrip(".")


def add_chords(measure: etree._Element, draft: Draft, piece: Piece) -> None:
    """Append the chord symbols that stand over this piece, moved to written pitch."""
    for chord in during(draft.melody.chords, piece):
        offset = draft.count(chord.onset - piece.onset)
        add_harmony(measure, chord.text, draft.move, offset)


def add_wedges(measure: etree._Element, draft: Draft, note: int, *, opens: bool) -> None:
    """Append the ends of the marking's swells that lie at a note: before it or after it."""
    for kind in draft.wedge_ends.get(note, ()):
        if (kind == "stop") is not opens:
            direction = add(measure, "direction", placement="below")
            add(add(direction, "direction-type"), "wedge", type=kind, number="1")


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
    slurs: bool = False,
) -> bytes:
    """The melody as a MusicXML 4.0 file (UTF-8).

    ``marking`` puts its marks, swells and parentheses in; without it only the author's own
    marks stand. ``instrument`` gives clef, key and written pitch (None: as it sounds).
    ``swing`` is the long-short ratio in whole numbers, (1, 1) for even eighths, None to say
    nothing. ``slurs``: put in the slurs that the marking is played with, too.

    >>> b"<step>C</step>" in new_score(melody("C5:2 D5:2"))
    True
    """
    from lxml import etree

    heard = heard_slurs(melody, marking) if slurs and marking else ()
    draft = drafted(melody, marking, instrument, swing, heard)
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
