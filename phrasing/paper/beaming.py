"""Which notes stand under one beam, in new scores and in files that have no beams."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from phrasing.paper.values import REST, Piece, Tuplet, beat_starts
from phrasing.reading.musicxml.measures import number
from phrasing.score.meters import TICKS, Bar, Meter

if TYPE_CHECKING:
    from lxml import etree


LINES = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}
"""How many beams, or flags, a type has."""


def beams(pieces: Sequence[Piece], bar: Bar) -> list[tuple[str, ...]]:
    """For each piece the MusicXML beam words, level 1 first; none where it stands alone."""
    words: list[tuple[str, ...]] = [()] * len(pieces)
    for group in _groups(pieces, bar):
        lines = [LINES[pieces[index].type] for index in group]
        for place, index in enumerate(group):
            words[index] = tuple(
                _word(lines, place, level) for level in range(1, lines[place] + 1)
            )
    return words


def _groups(pieces: Sequence[Piece], bar: Bar) -> list[list[int]]:
    """Indices of pieces under one beam, two of them at least."""
    keys = _beats(pieces, bar)
    found = []
    for key, run in groupby(range(len(pieces)), key=lambda index: keys[index]):
        group = list(run)
        if key is not None and len(group) > 1:
            found.append(group)
    return found


def _beats(pieces: Sequence[Piece], bar: Bar) -> list[tuple[int, int] | None]:
    """For each piece what it may share a beam with; None for what has none.

    A rest or a longer value between two notes makes them differ by its None.
    """
    starts = beat_starts(bar.meter)
    zero = bar.onset - bar.offset
    halves = _halves(pieces, bar)
    keys: list[tuple[int, int] | None] = []
    for piece in pieces:
        place = (piece.onset - zero) % bar.meter.bar_length
        if piece.is_rest or piece.type not in LINES:
            keys.append(None)
        elif piece.tuplet:
            unit = piece.tuplet.span * 2 // piece.tuplet.actual
            by_units = (piece.onset - zero - piece.tuplet.onset) // unit
            long = piece.tuplet.span > TICKS * 3 // 2
            keys.append((piece.tuplet.onset + zero, by_units if long else -1))
        elif place // (2 * TICKS) in halves:
            keys.append((0, -2 - place // (2 * TICKS)))
        else:
            keys.append((0, max(start for start in starts if start <= place)))
    return keys


def _halves(pieces: Sequence[Piece], bar: Bar) -> set[int]:
    """The halves of a 4/4 bar (or of 2/4, 2/2) that hold nothing finer than eighths."""
    meter = bar.meter
    if meter.bar_length % (2 * TICKS) or meter.unit > 4:
        return set()
    zero = bar.onset - bar.offset
    halves = set(range(meter.bar_length // (2 * TICKS)))
    fine = {
        (piece.onset - zero) % meter.bar_length // (2 * TICKS)
        for piece in pieces
        if piece.tuplet
        or LINES.get(piece.type, 0) > 1
        or (piece.type, piece.dots) == ("eighth", 1)
    }
    return halves - fine


def _word(lines: Sequence[int], place: int, level: int) -> str:
    before = place > 0 and lines[place - 1] >= level
    after = place + 1 < len(lines) and lines[place + 1] >= level
    if before and after:
        return "continue"
    if before or after:
        return "end" if before else "begin"
    return "forward hook" if place == 0 else "backward hook"


# Files that have no beams

AFTER_BEAM = ("notations", "lyric", "play", "listen")
"""What follows a beam in a ``<note>`` (MusicXML 4.0)."""


def add_beams(part: etree._Element) -> None:
    """Beam the eighths and shorter notes of a part, unless it has a beam anywhere."""
    if part.find(".//beam") is not None:
        return
    divisions, meter = 1, Meter(4, 4)
    for measure in part.iterfind("measure"):
        for attributes in measure.iterfind("attributes"):
            divisions = int(number(attributes.findtext("divisions"))) or divisions
            meter = _meter(attributes) or meter
        for voice in _voices(measure, divisions).values():
            length = max(end for _, _, end in voice)
            offset = meter.bar_length - length if measure.get("implicit") == "yes" else 0
            bar = Bar(0, length, 1, meter, offset=max(0, offset))
            _beam(voice, bar)


def _meter(attributes: etree._Element) -> Meter | None:
    beats, unit = (attributes.findtext(f"time/{name}") or "" for name in ("beats", "beat-type"))
    if not (beats.strip().isdecimal() and unit.strip().isdecimal()):
        return None
    whole = int(unit)
    return Meter(int(beats), whole) if whole in (1, 2, 4, 8, 16, 32) and int(beats) else None


Sounding = tuple["etree._Element", int, int]
"""A note with its start and end in ticks from the bar line."""


def _voices(measure: etree._Element, divisions: int) -> dict[str, list[Sounding]]:
    """The notes and rests of each voice in order, chords by their first note."""
    voices: dict[str, list[Sounding]] = defaultdict(list)
    at = 0
    for child in measure:
        ticks = round(number(child.findtext("duration")) * TICKS / divisions)
        if child.tag == "backup":
            at -= ticks
        elif child.tag == "forward":
            at += ticks
        elif child.tag == "note" and child.find("grace") is None:
            if child.find("chord") is not None:
                continue
            voices[child.findtext("voice") or "1"].append((child, at, at + ticks))
            at += ticks
    return voices


def _beam(voice: list[Sounding], bar: Bar) -> None:
    pieces = list(_pieces(voice))
    for (note, _, _), words in zip(voice, beams(pieces, bar), strict=True):
        for level, word in enumerate(words, 1):
            beam = note.makeelement("beam", {"number": str(level)})
            beam.text = word
            _insert(note, beam)


def _insert(note: etree._Element, beam: etree._Element) -> None:
    follower = next((child for child in note if child.tag in AFTER_BEAM), None)
    if follower is None:
        note.append(beam)
    else:
        follower.addprevious(beam)


def _pieces(voice: list[Sounding]) -> Iterator[Piece]:
    """The notes as written values; a tuplet is as long as its notes follow each other."""
    start, span, ratio = 0, 0, (1, 1)
    for index, (note, at, end) in enumerate(voice):
        own = _ratio(note)
        if own != ratio or at >= start + span:
            start, ratio = at, own
            span = _span(voice[index:], own)
        kind = (note.findtext("type") or "quarter").strip()
        tuplet = Tuplet(own[0], own[1], kind, start, span) if own != (1, 1) and span else None
        what = REST if note.find("rest") is not None else index
        dots = len(note.findall("dot"))
        yield Piece(
            at, end - at, what, kind if kind in LINES else "quarter", dots, tuplet=tuplet
        )


def _ratio(note: etree._Element) -> tuple[int, int]:
    found = [note.findtext(f"time-modification/{n}-notes") or "1" for n in ("actual", "normal")]
    actual, normal = (int(number(text)) for text in found)
    return actual or 1, normal or 1


def _span(voice: list[Sounding], ratio: tuple[int, int]) -> int:
    """How long the tuplet lasts that begins with the first: to a whole beat or half of one."""
    at = voice[0][1]
    for note, _, end in voice:
        if _ratio(note) != ratio:
            return end - at
        if (end - at) % (TICKS // 2) == 0 and end > at:
            return end - at
    return voice[-1][2] - at
