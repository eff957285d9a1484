"""Tempo, swing and rehearsal marks, in whatever part they stand."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from phrasing.reading.scorebars import ZERO, number, value_length
from phrasing.reading.scoresaid import Parts, said, sounds_of, words_of
from phrasing.reading.scoretimeline import Event
from phrasing.tempo import SMF_TEMPO

if TYPE_CHECKING:
    from lxml import etree

SLOWEST, FASTEST = 5, 1000
"""Tempos outside are taken for damage and passed over (quarter notes a minute)."""
STRAIGHT = re.compile(r"\s*(straight|even)\b(?=.*(8|eight|quaver|feel)|\s*$)", re.IGNORECASE)


def tempos(parts: Parts) -> list[Event[float]]:
    """The tempos (quarter notes a minute) in printed order; those of bar 1 hold from its start.

    A ``<sound>`` counts before what is printed beside it. A mark such as ♩ = ♩. goes by the
    tempo before it: the old value lasts as long as the new one.
    """
    marks: dict[tuple[int, Fraction], tuple[Fraction | None, Fraction]] = {}
    for saying in said(parts, "direction", "sound"):
        mark = _tempo_mark(saying.element)
        if mark is not None:
            marks.setdefault((saying.bar, saying.at), mark)
    found: list[Event[float]] = []
    tempo = Fraction(round(SMF_TEMPO))
    for (bar, at), (given, factor) in sorted(marks.items()):
        changed = given or tempo * factor
        if SLOWEST <= changed <= FASTEST:
            tempo = changed
            found.append(Event(bar, at if found or bar else ZERO, float(tempo)))
    return found


def _tempo_mark(element: etree._Element) -> tuple[Fraction | None, Fraction] | None:
    """A tempo, or else the factor by which it changes."""
    for sound in sounds_of(element):
        tempo = number(sound.get("tempo"))
        if tempo > 0:
            return tempo, Fraction(1)
    for metronome in element.iterfind("direction-type/metronome"):
        lengths = _beat_units(metronome)
        count = re.search(r"\d{1,4}(\.\d{1,4})?", metronome.findtext("per-minute") or "")
        if lengths and count:
            return Fraction(count[0]) * lengths[0], Fraction(1)
        if len(lengths) == 2 and not count:
            return None, lengths[1] / lengths[0]
    return None


def _beat_units(metronome: etree._Element) -> list[Fraction]:
    """The note values in a metronome mark, dotted and tied as they are."""
    lengths: list[Fraction] = []
    dots = 0
    for child in metronome.iterchildren("*"):
        if child.tag == "beat-unit":
            lengths.append(value_length(child.text, 0) or Fraction(1))
            dots = 0
        elif child.tag == "beat-unit-dot" and lengths:
            dots += 1
            lengths[-1] *= Fraction(2 ** (dots + 1) - 1, 2 * (2**dots - 1))
        elif child.tag == "beat-unit-tied" and lengths:
            tied = value_length(
                child.findtext("beat-unit"), len(child.findall("beat-unit-dot"))
            )
            lengths[-1] += tied or 0
    return lengths


def swing_ratios(parts: Parts) -> list[float]:
    """The swing the score asks for, in printed order: 1.0 is straight."""
    found: list[tuple[int, Fraction, float]] = []
    for saying in said(parts, "direction", "sound"):
        ratios = [_swing(sound) for sound in sounds_of(saying.element)]
        ratios += [_equation(m) for m in saying.element.iterfind("direction-type/metronome")]
        if STRAIGHT.match(words_of(saying.element)):
            ratios.append(1.0)
        found += [(saying.bar, saying.at, r) for r in ratios if r is not None][:1]
    return [ratio for _, _, ratio in sorted(found)]


def _swing(sound: etree._Element) -> float | None:
    swing = sound.find("swing")
    if swing is None:
        return None
    if swing.find("straight") is not None:
        return 1.0
    first, second = number(swing.findtext("first")), number(swing.findtext("second"))
    return float(first / second) if first > 0 and second > 0 and first >= second else None


def _equation(metronome: etree._Element) -> float | None:
    """The ratio in a mark such as two eighths = a quarter and an eighth of a triplet."""
    sides: list[list[Fraction]] = [[]]
    for child in metronome.iterchildren("metronome-relation", "metronome-note"):
        if child.tag == "metronome-relation":
            sides.append([])
            continue
        dots = len(child.findall("metronome-dot"))
        sides[-1].append(value_length(child.findtext("metronome-type"), dots) or ZERO)
    if len(sides) != 2 or len(sides[0]) != 2 or len(sides[1]) != 2:
        return None
    (first, second), (long, short) = sides
    return float(long / short) if first == second and long >= short > 0 else None


def rehearsal_marks(parts: Parts) -> list[Event[str]]:
    """Rehearsal letters and section names."""
    found: dict[tuple[int, str], Fraction] = {}
    for saying in said(parts, "direction"):
        for mark in saying.element.iterfind("direction-type/rehearsal"):
            name = " ".join((mark.text or "").split())
            if name:
                found.setdefault((saying.bar, name), saying.at)
    return [Event(bar, at, name) for (bar, name), at in found.items()]
