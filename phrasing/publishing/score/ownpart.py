"""The melody's part alone, taken from an author's score of several."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from phrasing.pitchnames import pitch_class, place_of
from phrasing.publishing.score.draft import add, parsed
from phrasing.publishing.score.musicxml import BASS_BELOW
from phrasing.transposing import Move, by_semitones

if TYPE_CHECKING:
    from lxml import etree

BEFORE_CLEF = (
    "footnote", "level", "divisions", "key", "time", "staves", "part-symbol", "instruments",
)  # fmt: skip
"""What stands before the clef in ``<attributes>`` (MusicXML 4.0)."""


def own_part(score: bytes, ids: Collection[str]) -> bytes:
    """The score with only the part that has notes of these ids, and no words on the page.

    A part that names no clef has the one in which its notes lie best.
    """
    from lxml import etree

    root = parsed(score)
    wanted = set(ids)
    parts = list(root.iterfind("part"))
    own = next((part for part in parts if _has_one(part, wanted)), parts[0])
    for part in parts:
        if part is not own:
            root.remove(part)
    for entry in list(root.iter("score-part")):
        if entry.get("id") != own.get("id"):
            _drop(entry)
    for other in list(root.iter("part-group", "credit")):
        _drop(other)
    _give_clef(own)
    content: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8")
    return content


def _give_clef(part: etree._Element) -> None:
    """Put a clef in the first bar of a part that has none at all."""
    attributes = part.find("measure/attributes")
    if attributes is None or part.find(".//clef") is not None:
        return
    place = sum(len(attributes.findall(name)) for name in BEFORE_CLEF)
    heights = sorted(_height(pitch) for pitch in part.iter("pitch"))
    low = bool(heights) and heights[len(heights) // 2] < BASS_BELOW
    clef = attributes.makeelement("clef", {})
    attributes.insert(place, clef)
    add(clef, "sign", "F" if low else "G")
    add(clef, "line", 4 if low else 2)


def _height(pitch: etree._Element) -> int:
    """A written pitch as a MIDI number, without its accidental."""
    octave = int(pitch.findtext("octave") or 4)
    return 12 * (octave + 1) + pitch_class(place_of((pitch.findtext("step") or "C").strip()))


def _has_one(part: etree._Element, ids: set[str]) -> bool:
    return any(note.get("id") in ids for note in part.iter("note"))


def _drop(element: etree._Element) -> None:
    parent = element.getparent()
    if parent is not None:
        parent.remove(element)


def written_above(score: bytes) -> Move:
    """How far above the sounding pitch the first part is written."""
    root = parsed(score)
    transpose = root.find("part//transpose")
    if transpose is None or root.find("defaults/concert-score") is not None:
        return Move(0, 0)
    octaves = int(transpose.findtext("octave-change") or 0)
    semitones = round(float(transpose.findtext("chromatic") or 0)) + 12 * octaves
    return by_semitones(-semitones)


def part_name(score: bytes) -> str:
    """The name of the first part."""
    root = parsed(score)
    return " ".join((root.findtext("part-list/score-part/part-name") or "").split())
