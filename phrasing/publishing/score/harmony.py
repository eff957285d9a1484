"""Chord symbols as MusicXML: names, the kind by its notes, the text as printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from phrasing.chords import Chord, parse_chord
from phrasing.errors import PhrasingError
from phrasing.pitchnames import read_name, step_and_alter

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
