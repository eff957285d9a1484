"""How the author wants a score played, place by place: words for the feel, and ``<swing>``.

Words count in whatever part they stand, with or without brackets. ``<swing>`` (MusicXML 4.0)
gives a ratio and says which value swings; where it stands beside words, it has the ratio and
they the style, unless they contradict it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from phrasing.reading.musicxml.bars import AtPlace, PlayedBar, in_force
from phrasing.reading.musicxml.measures import ZERO, number, value_length
from phrasing.reading.musicxml.signs import Parts, Said, said, sounds_of, words_of
from phrasing.score.melody import Manner
from phrasing.style import double_time_in_words, sixteenths_in_words, style_in_words

if TYPE_CHECKING:
    from lxml import etree


CREDIT_WORDS = 4
"""Words of a text on the page, not in the bars, that may name the feel."""
NAMING = ("title", "subtitle", "composer", "arranger", "lyricist", "rights", "page number")
"""Texts on the page that name something else (MusicXML 4.0, ``<credit-type>``)."""


@dataclass(frozen=True)
class _Asked:
    """What stands at one place. ``words``: those that name a style; ``swing``: a ratio;
    ``sixteenths``: whether they swing, None where nothing is said of it."""

    words: str = ""
    swing: float | None = None
    sixteenths: bool | None = None

    @property
    def says_nothing(self) -> bool:
        return not self.words and self.swing is None and self.sixteenths is None

    def after(self, before: Manner) -> Manner:
        """What holds from here on, after what held before."""
        sixteenths = before.sixteenths if self.sixteenths is None else self.sixteenths
        if self.words and self.swing is None:
            return Manner(0, self.words, None, self.sixteenths or False)
        if self.swing is None:
            return replace(before, sixteenths=sixteenths)
        words = self.words or before.words
        style = style_in_words(words)
        keeps = style is not None and style.is_even == (self.swing == 1.0)
        return Manner(0, words if keeps else "", self.swing, sixteenths)


def manners(
    parts: Parts, root: etree._Element, played: Sequence[PlayedBar]
) -> tuple[Manner, ...]:
    """What holds from each place on, as the bars are played; the first is at tick 0.

    Empty where the author says nothing.
    """
    events = _events(parts)
    if not events:
        asked = _on_the_page(root)
        return () if asked is None else (asked.after(Manner(0)),)
    changes = dict(in_force(events, played))
    return tuple(replace(manner, onset=tick) for tick, manner in changes.items())


def _events(parts: Parts) -> list[AtPlace[Manner]]:
    """What holds from each place on, in printed order."""
    asked: dict[tuple[int, Fraction], _Asked] = {}
    for saying in said(parts, "direction", "sound"):
        own, place = _asked(saying), (saying.bar, saying.at)
        if not own.says_nothing:
            asked[place] = _together(asked.get(place, _Asked()), own)
    now = Manner(0)
    events = [AtPlace(0, ZERO, now)]
    for (bar, at), own in sorted(asked.items(), key=lambda item: item[0]):
        now = own.after(now)
        at_start = len(events) == 1 and bar == 0
        events.append(AtPlace(bar, ZERO if at_start else at, now))
    return events if asked else []


def _together(first: _Asked, second: _Asked) -> _Asked:
    """What two parts, or a text and a sound, say at one place: the first to say it counts."""
    return _Asked(
        first.words or second.words,
        second.swing if first.swing is None else first.swing,
        second.sixteenths if first.sixteenths is None else first.sixteenths,
    )


def _asked(saying: Said) -> _Asked:
    by_sound = next(_swings(saying.element), _Asked())
    if saying.element.tag == "sound":
        return by_sound
    text = feel_words(saying.element)
    sixteenths = sixteenths_in_words(text)
    if sixteenths is None:
        sixteenths = double_time_in_words(text)
    named = text if style_in_words(text) else ""
    return _together(by_sound, _Asked(named, None, sixteenths))


def feel_words(direction: etree._Element) -> str:
    """The words of a direction or rehearsal mark, without the brackets around them."""
    marks = (mark.text or "" for mark in direction.iter("rehearsal"))
    text = " ".join(" ".join([words_of(direction), *marks]).split())
    inside = re.fullmatch(r"[(\[{]\s*([^()\[\]{}]*?)\s*[)\]}]", text)
    return inside[1] if inside else text


def _swings(element: etree._Element) -> Iterator[_Asked]:
    """What the sounds and metronome marks of a direction ask of the swing."""
    for sound in sounds_of(element):
        swing = sound.find("swing")
        asked = None if swing is None else _swing(swing)
        if asked is not None:
            yield asked
    for metronome in element.iterfind("direction-type/metronome"):
        found = _equation(metronome)
        if found is not None:
            yield found


def _swing(swing: etree._Element) -> _Asked | None:
    if swing.find("straight") is not None:
        return _Asked(swing=1.0, sixteenths=False)
    first, second = number(swing.findtext("first")), number(swing.findtext("second"))
    if not (first >= second > 0):
        return None
    kind = (swing.findtext("swing-type") or "eighth").strip()
    return _Asked(swing=float(first / second), sixteenths=kind == "16th")


def _equation(metronome: etree._Element) -> _Asked | None:
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
    if first != second or not long >= short > 0:
        return None
    return _Asked(swing=float(long / short), sixteenths=first == Fraction(1, 4))


def _on_the_page(root: etree._Element) -> _Asked | None:
    """A text on the first page that names the feel, where no bar says anything of it."""
    titles = {
        " ".join((e.text or "").split()) for e in root.iter("work-title", "movement-title")
    }
    for credit in root.iterchildren("credit"):
        kind = (credit.findtext("credit-type") or "").strip()
        text = " ".join("".join(w.text or "" for w in credit.iter("credit-words")).split())
        plain = text.strip("()[]{} ")
        if kind in NAMING or text in titles or credit.get("page", "1") != "1":
            continue
        few = 0 < len(re.findall(r"\w+", plain)) <= CREDIT_WORDS
        if few and style_in_words(plain) and not plain[:1].isdigit():
            return _Asked(plain, None, sixteenths_in_words(plain))
    return None
