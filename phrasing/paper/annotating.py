"""The melody's part alone, taken from an author's score of several."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from phrasing.marking.marking import AUTHOR, Marking
from phrasing.paper.heard import heard_slurs
from phrasing.paper.musicxml import BASS_BELOW, add_swing_sound, swing_words
from phrasing.paper.notes import add, parsed
from phrasing.paper.original import Changed, Original, changed
from phrasing.paper.rewriting import drop
from phrasing.reading.musicxml.file import chord_of
from phrasing.reading.musicxml.measures import number
from phrasing.reading.musicxml.play import ARTICULATIONS, GHOST_HEADS
from phrasing.score.marks import MARK_NAMES, MARKS, UNMARKED, Mark
from phrasing.score.melody import Melody
from phrasing.score.pitches import pitch_class, place_of
from phrasing.score.transposing import Move, by_semitones

if TYPE_CHECKING:
    from lxml import etree


AFTER_NOTATIONS = ("lyric", "play", "listen")
AFTER_NOTEHEAD = ("notehead-text", "staff", "beam", "notations", *AFTER_NOTATIONS)
"""What follows an element inside a ``<note>``, in the order of the MusicXML 4.0 schema."""

MARK_SIGNS = tuple(sorted(frozenset[str]().union(*(signs for signs, _ in ARTICULATIONS))))
"""Articulations that are marks, or make one together."""
WEDGE_NUMBER = "6"
"""Keeps our wedges apart from the author's, which are numbered from 1."""
SLUR_NUMBER = "6"
"""The same for slurs."""


def annotated_score(
    source: Path | Original,
    melody: Melody,
    marking: Marking,
    *,
    swing: tuple[int, int] | None = None,
    slurs: bool = False,
    later: Sequence[SwingSign] = (),
) -> bytes:
    """The author's score, from which ``melody`` was read, with its marks.

    ``source``: the MusicXML file, or that and what was changed in it. ``swing``: the ratio to
    say, in whole numbers, and ``later`` where it changes; a swing that the author wrote stays,
    and so do the author's marks and words. ``slurs``: put in the slurs that the marking is
    played with, too, where the author has none.
    The result is an uncompressed MusicXML file in the encoding of the original. Raises
    ``PhrasingError`` where the file cannot be read.
    """
    from lxml import etree

    original = source if isinstance(source, Original) else Original(source)
    score = changed(original, melody)
    for index, note in score.notes.items():
        code = int(marking.mark[index])
        own = melody.marks.get(index)
        overruled = own is not None and marking.rule[index] == AUTHOR
        if overruled and (code == UNMARKED or MARK_NAMES[code] != own):
            _take_mark(note)
        if code != UNMARKED and MARK_NAMES[code] != own:
            _add_mark(note, MARKS[code])
        note.set("id", score.ids[index])
    softer = _getting_softer(score.notes)
    for swell in marking.swells:
        if len(softer.intersection(range(swell.first, swell.last + 1))) < 2:
            _add_wedge(score.notes, swell.first, swell.last)
    for slur in heard_slurs(melody, marking) if slurs else ():
        _add_slur(score.notes, *slur)
    if swing and score.notes:
        _add_swings(score, melody, [SwingSign(0, swing, melody.sixteenths), *later])
    encoding = score.tree.docinfo.encoding or "UTF-8"
    written = etree.tostring(score.tree, xml_declaration=True, encoding=encoding)
    return written if isinstance(written, bytes) else written.encode()


# One note


def _add_mark(note: etree._Element, mark: Mark) -> None:
    if mark.parenthesised:
        _parenthesise(note)
    if mark.musicxml:
        _add_articulations(note, mark)


def _take_mark(note: etree._Element) -> None:
    """Take its author's mark away from a note, and from the chord that it is in."""
    for each in chord_of(note):
        head = each.find("notehead")
        if head is not None and (head.text or "").strip() in (*GHOST_HEADS, "normal"):
            each.remove(head)
        for articulations in list(each.iterfind("notations/articulations")):
            for sign in list(articulations.iterchildren(*MARK_SIGNS)):
                articulations.remove(sign)
            if not len(articulations):
                drop(articulations)


def _parenthesise(note: etree._Element) -> None:
    head = note.find("notehead")
    if head is None:
        head = note.makeelement("notehead", {})
        head.text = "normal"
        _insert(note, head, AFTER_NOTEHEAD)
    head.set("parentheses", "yes")


def _add_articulations(note: etree._Element, mark: Mark) -> None:
    notations = _notations(note)
    articulations = notations.find("articulations")
    if articulations is None:
        articulations = notations.makeelement("articulations", {})
        _append(notations, articulations)
    for name in mark.musicxml:
        if articulations.find(name) is None:
            _append(articulations, articulations.makeelement(name, {}))


def _notations(note: etree._Element) -> etree._Element:
    """A note's notations, made where it has none."""
    notations = note.find("notations")
    if notations is None:
        notations = note.makeelement("notations", {})
        _insert(note, notations, AFTER_NOTATIONS)
    return notations


def _insert(note: etree._Element, new: etree._Element, before: Sequence[str]) -> None:
    """Insert a child before the first of those that have to follow it."""
    for child in note:
        if child.tag in before:
            new.tail = _space_before(child)
            child.addprevious(new)
            return
    _append(note, new)


def _append(parent: etree._Element, new: etree._Element) -> None:
    """Append a child on a line of its own where the file has lines."""
    if len(parent):
        new.tail = parent[-1].tail
        parent[-1].tail = _space_before(parent[-1])
    parent.append(new)


def _space_before(child: etree._Element) -> str | None:
    """The white space that stands before a child, to stand before its new neighbour too."""
    previous, parent = child.getprevious(), child.getparent()
    if previous is not None:
        found = previous.tail
    else:
        found = None if parent is None else parent.text
    return found if found and not found.strip() else None


# Directions


def _add_wedge(elements: Mapping[int, etree._Element], first: int, last: int) -> None:
    """A decrescendo from note ``first`` to ``last``, if the page has them in that order."""
    run = [elements.get(index) for index in range(first, last + 1)]
    if any(note is None for note in run):
        return
    start, end = run[0], run[-1]
    assert start is not None
    assert end is not None
    opening = _direction(start, "below")
    wedge = opening.makeelement("wedge", {"type": "diminuendo", "number": WEDGE_NUMBER})
    opening[0].append(wedge)
    _before(_group_start(start), opening)
    closing = _direction(end, "below")
    wedge = closing.makeelement("wedge", {"type": "stop", "number": WEDGE_NUMBER})
    closing[0].append(wedge)
    _after(_group_end(end), closing)


def _getting_softer(elements: Mapping[int, etree._Element]) -> frozenset[int]:
    """The notes over which the author's own wedge gets softer already."""
    index = {note: i for i, note in elements.items()}
    is_open, found = False, set()
    parts = {part: None for note in index for part in note.iterancestors("part")}
    for each in (each for part in parts for each in part.iter("note", "wedge")):
        if each.tag == "wedge":
            is_open = each.get("type") == "diminuendo"
        elif is_open and each in index:
            found.add(index[each])
    return frozenset(found)


def _add_slur(elements: Mapping[int, etree._Element], first: int, last: int) -> None:
    """A slur from note ``first`` to ``last``, if the page has them one after the other."""
    run = [elements.get(index) for index in range(first, last + 1)]
    for note, kind in ((run[0], "start"), (run[-1], "stop")):
        if any(other is None for other in run) or note is None:
            return
        slur = note.makeelement("slur", {"type": kind, "number": SLUR_NUMBER})
        _append(_notations(note), slur)


def _direction(note: etree._Element, placement: str) -> etree._Element:
    """A direction for the staff that the note is on, with an empty direction type."""
    direction = note.makeelement("direction", {"placement": placement})
    direction.append(direction.makeelement("direction-type", {}))
    staff = note.find("staff")
    if staff is not None:
        own = direction.makeelement("staff", {})
        own.text = staff.text
        direction.append(own)
    return direction


def _group_start(note: etree._Element) -> etree._Element:
    """The first grace note before a note, or the note itself."""
    while True:
        before = note.getprevious()
        if before is None or before.tag != "note" or before.find("grace") is None:
            return note
        note = before


def _group_end(note: etree._Element) -> etree._Element:
    """The last note of the chord that a note begins."""
    while True:
        after = note.getnext()
        if after is None or after.tag != "note" or after.find("chord") is None:
            return note
        note = after


def _before(note: etree._Element, new: etree._Element) -> None:
    new.tail = _space_before(note)
    note.addprevious(new)


def _after(note: etree._Element, new: etree._Element) -> None:
    follows, space = note.tail, _space_before(note)
    note.addnext(new)
    note.tail, new.tail = space, follows


@dataclass(frozen=True)
class SwingSign:
    """From ``onset`` on (ticks) it swings by a ratio in whole numbers."""

    onset: int
    ratio: tuple[int, int]
    sixteenths: bool = False


def _add_swings(score: Changed, melody: Melody, signs: Sequence[SwingSign]) -> None:
    """Say the swing over the melody's first note, unless the author says how it is to feel.

    Where the author says it in words, programs are told what they mean, and nothing more is
    printed.
    """
    if score.tree.getroot().find(".//swing") is not None:
        return
    in_words = any(manner.words for manner in melody.all_manners)
    for sign in signs:
        after = [i for i in score.notes if melody.onset[i] >= sign.onset]
        if after:
            _add_swing(score.notes[min(after)], sign, printed=not in_words)


def _add_swing(note: etree._Element, sign: SwingSign, *, printed: bool) -> None:
    if not printed:
        sound = note.makeelement("sound", {})
        add_swing_sound(sound, sign.ratio, sixteenths=sign.sixteenths)
        _before(_group_start(note), sound)
        return
    direction = _direction(note, "above")
    words = direction.makeelement("words", {})
    words.text = swing_words(sign.ratio)
    direction[0].append(words)
    sound = direction.makeelement("sound", {})
    add_swing_sound(sound, sign.ratio, sixteenths=sign.sixteenths)
    direction.append(sound)
    _before(_group_start(note), direction)


BEFORE_CLEF = (
    "footnote", "level", "divisions", "key", "time", "staves", "part-symbol", "instruments",
)  # fmt: skip
"""What stands before the clef in ``<attributes>`` (MusicXML 4.0)."""


def own_part(score: bytes, ids: Collection[str]) -> bytes:
    """The score with only the part that has notes of these ids, and no words on the page.

    A part that names no clef has the one in which its notes lie best.

    >>> from phrasing.paper.musicxml import new_score
    >>> from phrasing.paper.notes import note_ids
    >>> tune = melody("C5:2")
    >>> b"<step>C</step>" in own_part(new_score(tune, None), note_ids(tune))
    True
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
    octave = int(number(pitch.findtext("octave"), Fraction(4)))
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
    octaves = int(number(transpose.findtext("octave-change")))
    semitones = round(number(transpose.findtext("chromatic"))) + 12 * octaves
    return by_semitones(-semitones)


def part_name(score: bytes) -> str:
    """The name of the first part."""
    root = parsed(score)
    return " ".join((root.findtext("part-list/score-part/part-name") or "").split())
