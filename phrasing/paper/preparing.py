"""A score made ready to be engraved: what the engraver would not do by itself.

Bars get ids by their place; an author's swing without words is said; tempo and swing stand in
one line; notes without beams get some; line breaks of the file are dropped.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from phrasing.paper.beaming import add_beams
from phrasing.paper.musicxml import swing_words
from phrasing.paper.notes import parsed
from phrasing.reading.musicxml.bars import signature
from phrasing.reading.musicxml.measures import part_bars, value_length
from phrasing.style import style_in_words

if TYPE_CHECKING:
    from lxml import etree


VALUES = {
    length: (kind, dots)
    for dots in (0, 1, 2)
    for kind in ("whole", "half", "quarter", "eighth", "16th", "32nd")
    if (length := value_length(kind, dots)) is not None
}
"""The note value and the dots of each length in quarter notes."""


def prepared(musicxml: bytes) -> etree._Element:
    """The score with an id for each bar of its first part, and without its own line breaks."""
    root = parsed(musicxml)
    for index, measure in enumerate(root.iterfind("part[1]/measure")):
        measure.set("id", f"bar-{index}")
    names = list(root.iter("part-name"))
    if len(names) == 1:
        names[0].set("print-object", "no")
    for abbreviation in list(root.iter("part-abbreviation")):
        abbreviation.set("print-object", "no")
    in_words = any(style_in_words(words.text or "") for words in root.iterfind(".//words"))
    for swing in () if in_words else root.iterfind("part[1]//swing"):
        _say(swing)
    for measure in root.iter("measure"):
        _join_tempo(measure)
        _spread_chords(measure)
    for time in [*root.iter("time")]:
        _drop_without_count(time)
    for part in root.iterfind("part"):
        _add_values(part)
        add_beams(part)
        _drop_repeated(part)
    for words in root.iterfind(".//swing/../../direction-type/words"):
        words.set("halign", "left")
        words.set("font-weight", "bold")
    for print_ in list(root.iter("print")):
        print_.attrib.pop("new-system", "")
        print_.attrib.pop("new-page", "")
    return root


def _add_values(part: etree._Element) -> None:
    """Give notes that only say how long they last their note value, where there is one.

    A bar's rest is left to the engraver.
    """
    for bar in part_bars(part):
        for placed in bar.all("note"):
            note = placed.element
            has = any(note.find(name) is not None for name in ("type", "grace"))
            rest = note.find("rest")
            if has or (rest is not None and len(list(bar.all("note"))) == 1):
                continue
            if placed.length in VALUES:
                _add_value(note, *VALUES[placed.length])


def _add_value(note: etree._Element, kind: str, dots: int) -> None:
    """Put a note value behind what comes before it in MusicXML 4.0."""
    before = ("pitch", "rest", "unpitched", "chord", "duration", "tie", "instrument", "voice")
    at = max((note.index(child) for child in note.iterchildren(*before)), default=-1) + 1
    for _ in range(dots):
        note.insert(at, note.makeelement("dot", {}))
    value = note.makeelement("type", {})
    value.text = kind
    note.insert(at, value)


def _drop_without_count(time: etree._Element) -> None:
    """Drop a meter that is none: it is not read either, and the engraver divides by it."""
    place = time.getparent()
    if place is not None and time.find("senza-misura") is None and signature(time) is None:
        place.remove(time)


def _drop_repeated(part: etree._Element) -> None:
    """Drop keys, meters and clefs that say again what holds already."""
    holds: dict[str, str] = {}
    for attributes in part.iterfind("measure/attributes"):
        for name in ("key", "time", "clef"):
            own = attributes.findall(name)
            said = "|".join("".join(map(str, one.itertext())).replace(" ", "") for one in own)
            if own and holds.get(name) == said:
                for one in own:
                    attributes.remove(one)
            elif own:
                holds[name] = said


def _say(swing: etree._Element) -> None:
    """Print the ratio of a swing of eighths for which its author wrote no words."""
    sound = swing.getparent()
    numbers = [swing.findtext(name, "1").strip() for name in ("first", "second")]
    if swing.findtext("swing-type", "eighth") != "eighth" or not _are_counts(numbers):
        return
    place = None if sound is None else sound.getparent()
    if sound is None or place is None or place.find("direction-type/words") is not None:
        return
    if place.tag != "direction":
        place = place.makeelement("direction", {"placement": "above"})
        sound.addprevious(place)
        place.append(sound)
    kind = place.makeelement("direction-type", {})
    place.insert(0, kind)
    words = place.makeelement("words", {})
    words.text = swing_words((int(numbers[0]), int(numbers[1])))
    kind.append(words)


def _are_counts(numbers: list[str]) -> bool:
    return all(number.isdecimal() and int(number) > 0 for number in numbers)


def _join_tempo(measure: etree._Element) -> None:
    """Put the words of a swing before the metronome mark of the same place, as one line."""
    for directions in _neighbours(measure):
        beat = next((d for d in directions if d.find("*/metronome") is not None), None)
        swings = [d for d in directions if d.find("sound/swing") is not None and d is not beat]
        if beat is None:
            continue
        for swing in swings:
            for kind in swing.findall("direction-type"):
                beat.insert(0, kind)
            measure.remove(swing)


def _spread_chords(measure: etree._Element) -> None:
    """Chord symbols that share a note stand over equal parts of it, as they are played."""
    for note in measure.iterchildren("note"):
        shared = _chords_before(note)
        length = note.findtext("duration", "").strip()
        if len(shared) < 2 or not length.isdecimal():
            continue
        for place, harmony in enumerate(shared):
            if place and harmony.find("offset") is None:
                offset = harmony.makeelement("offset", {})
                offset.text = str(int(length) * place // len(shared))
                before = harmony.find("staff")
                harmony.insert(
                    len(harmony) if before is None else harmony.index(before), offset
                )


def _chords_before(note: etree._Element) -> list[etree._Element]:
    """The chord symbols at a note's own place, in order."""
    found: list[etree._Element] = []
    for each in note.itersiblings("*", preceding=True):
        if each.tag in ("note", "backup", "forward"):
            break
        if each.tag == "harmony" and each.find("offset") is None:
            found.insert(0, each)
    return found


def _neighbours(measure: etree._Element) -> Iterable[list[etree._Element]]:
    """The directions that stand together before one note."""
    together: list[etree._Element] = []
    for child in measure:
        if child.tag == "direction":
            together.append(child)
        elif child.tag in ("note", "backup", "forward"):
            yield together
            together = []
    yield together
