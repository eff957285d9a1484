"""Some bars of an author's score, in the order they are played.

What was in force before the first of them (key, meter, clef, transposition) stands at its
start; repeat signs, endings and jumps go, because the order is that of playing; whatever spans
notes and lost one of its ends goes too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from copy import deepcopy
from itertools import chain, pairwise
from typing import TYPE_CHECKING

from phrasing.paper.rewriting import drop
from phrasing.reading.musicxml.signs import says_where_to_go

if TYPE_CHECKING:
    from lxml import etree


IN_FORCE = ("divisions", "key", "time", "staves", "instruments", "clef", "transpose")
"""What holds in ``<attributes>`` until it is changed, in the order of MusicXML 4.0."""
ATTRIBUTES_ORDER = (
    "footnote", "level", "divisions", "key", "time", "staves", "part-symbol", "instruments",
    "clef", "staff-details", "transpose", "for-part", "directive", "measure-style",
)  # fmt: skip
SPANNERS = (
    "slur", "wedge", "octave-shift", "dashes", "bracket", "pedal", "glissando", "slide",
    "wavy-line", "tuplet",
)  # fmt: skip
"""What has a ``start`` (or names a kind) and a ``stop``."""
STARTS = ("start", "crescendo", "diminuendo", "up", "down")
EMPTIED = ("direction-type", "direction")
NOTE_SIGNS = ("pitch", "tie", "accidental", "stem", "notehead", "beam", "notations", "lyric")
"""What a note has and a rest has not."""
JUMPS = (
    "segno", "dalsegno", "dacapo", "coda", "tocoda", "fine", "forward-repeat",
)  # fmt: skip
"""Attributes of ``<sound>`` that send a player elsewhere."""

Copies = dict["etree._Element", list["etree._Element"]]


def written_out(bars: Sequence[int]) -> bool:
    """Whether these printed bars do not simply follow each other.

    >>> written_out([4, 5, 6]), written_out([0, 1, 0, 1])
    (False, True)
    """
    return any(after != before + 1 for before, after in pairwise(bars))


def cut_score(root: etree._Element, bars: Sequence[int]) -> Copies:
    """Keep of every part only these printed bars (indices from 0), in this order.

    A bar that comes more than once is copied: the notes of each such bar are returned with
    what stands for them in its later comings.
    """
    copies: Copies = {}
    for part in root.iterchildren("part"):
        measures = list(part.iterchildren("measure"))
        states = list(_states(measures))
        order = [index for index in bars if index < len(measures)]
        kept = _in_order(measures, order, copies)
        for measure in measures:
            part.remove(measure)
        part.extend(kept)
        _carry(kept, order, states)
        _sing_in_turn(kept, order)
        _drop_said_tempos(kept)
        seams = list(_seams(kept, order))
        for measure in kept:
            _drop_signs(measure, last=measure is kept[-1])
        for measure in seams:
            _close_with_double_bar(measure)
        _close_spanners(kept)
        _end_ties(kept)
    return copies


def keep_run(root: etree._Element, first: int, after: int) -> None:
    """Keep of every part its bars from ``first`` to before ``after``, as they are, with what
    is in force before them."""
    for part in root.iterchildren("part"):
        measures = list(part.iterchildren("measure"))
        before, _ = list(_states(measures[: first + 1]))[-1]
        for measure in (*measures[:first], *measures[after:]):
            part.remove(measure)
        if first:
            _put(measures[first], list(before.values()))


def _in_order(
    measures: Sequence[etree._Element], order: Sequence[int], copies: Copies
) -> list[etree._Element]:
    """The measures in this order, a new one each time one comes again."""
    originals = {index: deepcopy(measures[index]) for index in order if order.count(index) > 1}
    kept: list[etree._Element] = []
    seen: set[int] = set()
    for index in order:
        if index not in seen:
            kept.append(measures[index])
        else:
            kept.append(deepcopy(originals[index]))
            for element in kept[-1].iter("*"):
                element.attrib.pop("id", "")
            for note, copy in zip(
                measures[index].iter("note"), kept[-1].iter("note"), strict=True
            ):
                copies.setdefault(note, []).append(copy)
        seen.add(index)
    return kept


State = dict[tuple[str, str], "etree._Element"]


def _states(measures: Sequence[etree._Element]) -> Iterator[tuple[State, State]]:
    """What is in force before and after each measure."""
    now: State = {}
    for measure in measures:
        before = dict(now)
        for attributes in measure.iterchildren("attributes"):
            for child in attributes.iterchildren(*IN_FORCE):
                now[str(child.tag), child.get("number", "")] = deepcopy(child)
        yield before, dict(now)


def _carry(
    kept: Sequence[etree._Element], order: Sequence[int], states: Sequence[tuple[State, State]]
) -> None:
    """Put what is in force at the start of every measure that has a new neighbour."""
    now: State = {}
    for measure, index in zip(kept, order, strict=True):
        before, after = states[index]
        missing = [k for k, v in before.items() if k not in now or _differ(now[k], v)]
        if missing:
            _put(measure, [deepcopy(before[key]) for key in missing])
        now = after


def _differ(one: etree._Element, other: etree._Element) -> bool:
    def said(element: etree._Element) -> list[str]:
        return [f"{e.tag}{(e.text or '').strip()}" for e in element.iter("*")]

    return said(one) != said(other)


def _put(measure: etree._Element, carried: Sequence[etree._Element]) -> None:
    """Put attributes at the start of a measure, unless it has its own there."""
    first = next(measure.iterchildren("attributes", "note", "forward", "backup"), None)
    if first is None or first.tag != "attributes":
        attributes = measure.makeelement("attributes", {})
        place = 0 if first is None else measure.index(first)
        measure.insert(place, attributes)
    else:
        attributes = first
    own = {(child.tag, child.get("number", "")) for child in attributes}
    for child in carried:
        if (child.tag, child.get("number", "")) not in own:
            attributes.append(child)
    attributes[:] = sorted(attributes, key=_place_in_attributes)


def _place_in_attributes(child: etree._Element) -> int:
    """The child's place by the schema; remarks and what it does not know come last."""
    known = child.tag in ATTRIBUTES_ORDER
    return ATTRIBUTES_ORDER.index(str(child.tag)) if known else len(ATTRIBUTES_ORDER)


def _sing_in_turn(kept: Sequence[etree._Element], order: Sequence[int]) -> None:
    """Of the verses under bars that come again, leave each time the one that is sung then.

    Endings are sung to the verse of the bars before them.
    """
    times: Counter[int] = Counter()
    time = 1
    for measure, index in zip(kept, order, strict=True):
        times[index] += 1
        if order.count(index) > 1:
            time = times[index]
        lyrics = list(measure.iterfind("note/lyric"))
        verses = sorted({lyric.get("number", "1") for lyric in lyrics})
        for lyric in lyrics if len(set(order)) < len(order) else ():
            if lyric.get("number", "1") == verses[min(time, len(verses)) - 1]:
                lyric.set("number", "1")
            else:
                drop(lyric)


def _drop_said_tempos(kept: Sequence[etree._Element]) -> None:
    """Take away each tempo, with its words, that stood there last time and holds still."""
    holds = None
    for measure in kept:
        for direction in list(measure.iterfind("direction")):
            if direction.find("direction-type/metronome") is None:
                continue
            said = "".join(map(str, direction.itertext())).split()
            if said == holds:
                drop(direction)
            holds = said


def _drop_signs(measure: etree._Element, *, last: bool) -> None:
    """Take away what says in which order to play; a seam keeps a double bar."""
    for barline in measure.iterfind("barline"):
        style = barline.find("bar-style")
        if barline.find("repeat") is None or style is None or last:
            continue
        if barline.get("location") == "left":
            drop(style)
        else:
            style.text = "light-light"
    for sign in list(measure.iterfind("barline/*")):
        if sign.tag in ("repeat", "ending", "segno", "coda"):
            drop(sign)
    for barline in list(measure.iterchildren("barline")):
        if not len(barline):
            measure.remove(barline)
    for sound in measure.iter("sound"):
        for name in JUMPS:
            sound.attrib.pop(name, "")
    for direction in list(measure.iterchildren("direction")):
        if says_where_to_go(direction):
            measure.remove(direction)


def _seams(kept: Sequence[etree._Element], order: Sequence[int]) -> Iterator[etree._Element]:
    """The measures after which a player goes elsewhere, but for the bar before an ending."""
    for (measure, after), (index, following) in zip(
        pairwise(kept), pairwise(order), strict=True
    ):
        into_ending = after.find("barline[@location='left']/ending") is not None
        if following <= index or (following > index + 1 and not into_ending):
            yield measure


def _close_with_double_bar(measure: etree._Element) -> None:
    """Show where a player would have gone elsewhere on the page."""
    if measure.find("barline[@location='right']/bar-style") is None:
        barline = measure.makeelement("barline", {"location": "right"})
        style = barline.makeelement("bar-style", {})
        style.text = "light-light"
        barline.append(style)
        measure.append(barline)


def _close_spanners(kept: Sequence[etree._Element]) -> None:
    """Take away every end of something whose other end is not there."""
    opened: dict[tuple[str, str], list[etree._Element]] = {}
    lost: list[etree._Element] = []
    for measure in kept:
        for sign in list(measure.iter(*SPANNERS)):
            key, kind = (str(sign.tag), sign.get("number", "1")), sign.get("type", "")
            if kind in STARTS:
                opened.setdefault(key, []).append(sign)
            elif kind == "stop" and opened.get(key):
                opened[key].pop()
            elif kind == "stop":
                lost.append(sign)
    for sign in [*lost, *chain(*opened.values())]:
        _drop_with_its_direction(sign)


def _drop_with_its_direction(sign: etree._Element) -> None:
    parent = sign.getparent()
    drop(sign)
    while parent is not None and parent.tag in EMPTIED and _empty(parent):
        above = parent.getparent()
        drop(parent)
        parent = above


def _empty(element: etree._Element) -> bool:
    if element.tag == "direction":
        return element.find("direction-type") is None and element.find("sound") is None
    return not len(element)


def _end_ties(kept: Sequence[etree._Element]) -> None:
    """A note held from before the bars is a rest in them; one held past them ends with them."""
    held: set[tuple[str, ...]] = set()
    last: dict[tuple[str, ...], etree._Element] = {}
    for measure in kept:
        for note in list(measure.iterchildren("note")):
            sides = {tie.get("type") for tie in note.iterchildren("tie")}
            place = height_of(note)
            if "stop" in sides and place not in held:
                _silence(note)
                continue
            held.discard(place)
            if "start" in sides:
                held.add(place)
                last[place] = note
    for place in held:
        _untie(last[place], "start")


def height_of(note: etree._Element) -> tuple[str, ...]:
    """A note's staff, voice and written pitch: what a tie holds on to.

    >>> from lxml import etree
    >>> height_of(etree.fromstring("<note><pitch><step>C</step></pitch></note>"))
    ('', '', 'C', '', '')
    """
    tags = ("staff", "voice", "pitch/step", "pitch/alter", "pitch/octave")
    return tuple((note.findtext(tag) or "").strip() for tag in tags)


def _silence(note: etree._Element) -> None:
    """Make a rest of a note, or take its ties away where it stands in a chord."""
    pitch = note.find("pitch")
    following = note.getnext()
    in_chord = following is not None and following.find("chord") is not None
    if pitch is None or note.find("chord") is not None or in_chord:
        _untie(note, "stop")
        return
    pitch.addprevious(note.makeelement("rest", {}))
    for child in list(note.iterchildren(*NOTE_SIGNS)):
        note.remove(child)


def _untie(note: etree._Element, side: str) -> None:
    for tie in [*note.iterchildren("tie"), *note.iterfind("notations/tied")]:
        if tie.get("type") == side:
            drop(tie)
