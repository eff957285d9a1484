"""Repeat signs, endings, D.C., D.S., Fine and codas: what each bar says about the order."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from phrasing.reading.musicxml.bars import AtPlace, BarShape
from phrasing.reading.musicxml.measures import ZERO, PartBar, number, value_length
from phrasing.reading.repeats import BarSigns, sections
from phrasing.score.meters import SMF_TEMPO

if TYPE_CHECKING:
    from lxml import etree


Parts = Sequence[Sequence[PartBar]]


@dataclass(frozen=True)
class Said:
    """Something said at a place of a printed bar (its index; quarter notes from its start)."""

    bar: int
    at: Fraction
    element: etree._Element


def said(parts: Parts, *tags: str) -> Iterator[Said]:
    """All children of measures with these tags, part by part and in order."""
    for part in parts:
        for index, bar in enumerate(part):
            for placed in bar.all(*tags):
                yield Said(index, placed.at, placed.element)


def sounds_of(element: etree._Element) -> Iterator[etree._Element]:
    """The ``<sound>`` of a direction, or one that stands by itself."""
    if element.tag == "sound":
        yield element
    yield from element.iterchildren("sound")


def words_of(direction: etree._Element) -> str:
    """The words of a direction, run together."""
    return " ".join((words.text or "").strip() for words in direction.iter("words")).strip()


# Tempo and rehearsal marks, in whatever part they stand.

BEAT_NAMES = (
    (("half", "minim", "h", "𝅗𝅥", "\ueca3"), Fraction(2)),
    (("eighth", "quaver", "e", "♪", "𝅘𝅥𝅮", "\ueca7"), Fraction(1, 2)),
    (("whole", "semibreve", "w", "𝅝", "\ueca2"), Fraction(4)),
    (("quarter", "crotchet", "q", "♩", "𝅘𝅥", "\ueca5"), Fraction(1)),
)
"""What stands before "= 140", as a word, a letter or a character, and its quarter notes."""
TEMPO_IN_WORDS = re.compile(
    r"(?:(?P<dotted>dotted)[ -]+)?"
    r"(?:\b(?P<unit>half|minim|eighth|quaver|whole|semibreve|quarter|crotchet|[hewq])"
    r"(?:[ -]*note)?|(?P<drawn>𝅗𝅥|𝅘𝅥𝅮|𝅘𝅥|𝅝|[♩♪\ueca2\ueca3\ueca5\ueca7])|(?:^|[(\[]))"
    r"\s*(?P<dot>[.\uecb7])?\s*=\s*(?:c(?:a|irca)?\.?\s*|~\s*)?(?P<count>\d{2,3})(?!\d)",
    re.IGNORECASE,
)
BEATS_A_MINUTE = re.compile(
    r"\b(\d{2,3})\s*bpm\b|\bM\.?\s?M\.?\s*=?\s*(\d{2,3})\b", re.IGNORECASE
)
SLOWEST, FASTEST = 5, 1000
"""Tempos outside are taken for damage and passed over (quarter notes a minute)."""


def tempos(parts: Parts) -> list[AtPlace[float]]:
    """The tempos (quarter notes a minute) in printed order; those of bar 1 hold from its start.

    A ``<sound>`` counts before what is printed beside it. A mark such as ♩ = ♩. goes by the
    tempo before it: the old value lasts as long as the new one.
    """
    marks: dict[tuple[int, Fraction], tuple[Fraction | None, Fraction]] = {}
    for saying in said(parts, "direction", "sound"):
        mark = _tempo_mark(saying.element)
        if mark is not None:
            marks.setdefault((saying.bar, saying.at), mark)
    found: list[AtPlace[float]] = []
    tempo = Fraction(round(SMF_TEMPO))
    for (bar, at), (given, factor) in sorted(marks.items()):
        changed = given or tempo * factor
        if SLOWEST <= changed <= FASTEST:
            tempo = changed
            found.append(AtPlace(bar, at if found or bar else ZERO, float(tempo)))
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
    in_words = tempo_in_words(words_of(element))
    return (in_words, Fraction(1)) if in_words else None


def tempo_in_words(text: str) -> Fraction | None:
    """Quarter notes a minute in words such as "♩ = 140" or "Medium, 120 bpm"; None without any.

    >>> tempo_in_words("♩. = 60"), tempo_in_words("half = c. 80"), tempo_in_words("A = 440")
    (Fraction(90, 1), Fraction(160, 1), None)
    """
    found = TEMPO_IN_WORDS.search(text)
    if found is None:
        plain = BEATS_A_MINUTE.search(text)
        return Fraction(plain[1] or plain[2]) if plain else None
    unit = (found["unit"] or found["drawn"] or "").lower()
    length = next((long for names, long in BEAT_NAMES if unit in names), Fraction(1))
    dotted = found["dot"] or found["dotted"]
    return Fraction(found["count"]) * length * (Fraction(3, 2) if dotted else 1)


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


def rehearsal_marks(parts: Parts) -> list[AtPlace[str]]:
    """Rehearsal letters and section names."""
    found: dict[tuple[int, str], Fraction] = {}
    for saying in said(parts, "direction"):
        for mark in saying.element.iterfind("direction-type/rehearsal"):
            name = " ".join((mark.text or "").split())
            if name:
                found.setdefault((saying.bar, name), saying.at)
    return [AtPlace(bar, at, name) for (bar, name), at in found.items()]


MOST_TIMES = 32
"""A section is not played more often than this."""
MOST_ENDING = 99

COUNTS = {"two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8}
_COUNT = rf"\d{{1,2}}|{'|'.join(COUNTS)}"
TIMES = re.compile(
    rf"[(\[]?\s*(?:play(?:ed)?\s+|repeat\s+)?(?:(?P<before>{_COUNT})\s*(?:x|×|times?)"
    rf"|[x×]\s*(?P<after>{_COUNT}))\s*[.!]?\s*[)\]]?",
    re.IGNORECASE,
)
SEGNO_SIGNS, CODA_SIGNS = "𝄋\ue047\ue04a", "𝄌\ue048\ue049⊕"
"""The signs as characters: Unicode's, and those of music founts by the SMuFL standard."""
SEGNO_FOUNT, CODA_FOUNT = "%", "Þ"
"""The same in older music founts, in words that name a fount of their own."""
DA_CAPO = re.compile(r"\b(d\.\s*c\.?|da\s*capo)(?![a-z])|^dc\b", re.IGNORECASE)
DAL_SEGNO = re.compile(r"\b(d\.\s*s\.?|dal\s*segno)(?![a-z])|^ds\b", re.IGNORECASE)
FINE = re.compile(r"\s*fine\.?\s*", re.IGNORECASE)
CODA = re.compile(rf"\s*(coda\.?|[{CODA_SIGNS}]|(coda\s*[{CODA_SIGNS}]))\s*", re.IGNORECASE)
TO_CODA = re.compile(
    rf"\s*(to|al)\s+(the\s+)?(coda\b|[{CODA_SIGNS}]).*", re.IGNORECASE | re.DOTALL
)
SEGNO = re.compile(rf"\s*(segno|sign|[{SEGNO_SIGNS}])\s*", re.IGNORECASE)
TO = re.compile(r"\s*(to|al)\s*", re.IGNORECASE)
WITH_REPEATS = re.compile(r"\bwith\s+rep|\bcon\s+rep", re.IGNORECASE)


@dataclass(frozen=True)
class _Jumps:
    """For each kind of sign, the bars it stands in and its name there."""

    segno: dict[int, str]
    coda: dict[int, str]
    to_coda: dict[int, str]
    da_capo: dict[int, str]
    dal_segno: dict[int, str]
    fine: dict[int, str]
    forward: dict[int, str]
    with_repeats: frozenset[int]


def bar_signs(parts: Parts, chosen: int, shapes: Sequence[BarShape]) -> list[BarSigns]:
    """What each printed bar of the chosen part says about the order of playing.

    Barlines are the chosen part's, or those of the first part that has any repeats.
    """
    jumps = _jumps(parts)
    candidates = [parts[chosen], *parts]
    barlines = next((part for part in candidates if _has_repeats(part)), parts[chosen])
    endings = _endings(barlines)
    signs = []
    for index, shape in enumerate(shapes):
        bar = barlines[index] if index < len(barlines) else None
        backward = _repeat(bar, "backward")
        numbers, opens = endings.get(index, ((), False))
        of_barlines = BarSigns(
            forward=_repeat(bar, "forward") is not None,
            backward=backward is not None,
            times=_times(backward),
            ending=numbers,
            opens_ending=opens,
            after_jump=backward is not None and backward.get("after-jump") == "yes",
            pickup=shape.offset > 0,
            full=shape.is_full,
        )
        signs.append(_with_jumps(of_barlines, jumps, index))
    return _with_times(signs, parts)


def _with_times(signs: list[BarSigns], parts: Parts) -> list[BarSigns]:
    """The signs with how often a section is played where words say it: "4x", "play 3 times".

    The words count for the smallest section that they stand in.
    """
    around = sections(signs)
    since = 0
    for index, bar in enumerate(signs):
        if bar.backward:
            around.setdefault(max([since, *(f for f in around if f <= index)]), index)
            since = index + 1
    for saying in said(parts, "direction"):
        times = times_in_words(words_of(saying.element))
        fits = [(end, first) for first, end in around.items() if first <= saying.bar <= end]
        if times and fits:
            end = min(fits)[0]
            signs[end] = replace(signs[end], times=times)
    return signs


def times_in_words(text: str) -> int | None:
    """How often a section is played, in the words over it; None where they say something else.

    >>> times_in_words("4x"), times_in_words("(Play 3 times)"), times_in_words("2nd x only")
    (4, 3, None)
    """
    found = TIMES.fullmatch(text)
    if found is None:
        return None
    said = found["before"] or found["after"]
    times = COUNTS[said.lower()] if said.lower() in COUNTS else int(said)
    return times if 2 <= times <= MOST_TIMES else None


def _with_jumps(bar: BarSigns, jumps: _Jumps, index: int) -> BarSigns:
    return replace(
        bar,
        forward=bar.forward or index in jumps.forward,
        segno=jumps.segno.get(index),
        coda=jumps.coda.get(index),
        da_capo=index in jumps.da_capo,
        dal_segno=jumps.dal_segno.get(index),
        to_coda=jumps.to_coda.get(index),
        fine=index in jumps.fine,
        after_jump=bar.after_jump or index in jumps.with_repeats,
    )


def _barlines(bar: PartBar) -> Iterator[etree._Element]:
    return bar.element.iterchildren("barline")


def _has_repeats(part: Sequence[PartBar]) -> bool:
    return any(
        line.find("repeat") is not None or line.find("ending") is not None
        for bar in part
        for line in _barlines(bar)
    )


def _repeat(bar: PartBar | None, direction: str) -> etree._Element | None:
    if bar is None:
        return None
    repeats = (repeat for line in _barlines(bar) for repeat in line.iterchildren("repeat"))
    return next((r for r in repeats if r.get("direction") == direction), None)


def _times(repeat: etree._Element | None) -> int | None:
    times = int(number(repeat.get("times"))) if repeat is not None else 0
    return min(times, MOST_TIMES) if times > 0 else None


def _endings(bars: Sequence[PartBar]) -> dict[int, tuple[tuple[int, ...], bool]]:
    """For each bar in an ending its numbers, and whether the ending opens there.

    A bracket that nobody closed ends at the next repeat sign.
    """
    found: dict[int, tuple[tuple[int, ...], bool]] = {}
    numbers: tuple[int, ...] = ()
    for index, bar in enumerate(bars):
        ends = [e for line in _barlines(bar) for e in line.iterchildren("ending")]
        opening = [e for e in ends if e.get("type") == "start"]
        if opening:
            before, _ = found.get(index - 1, ((), False))
            numbers = _ending_numbers(opening[0], before)
        elif _repeat(bar, "forward") is not None:
            numbers = ()
        if numbers:
            found[index] = numbers, bool(opening)
        closed = any(e.get("type") in ("stop", "discontinue") for e in ends)
        if closed or _repeat(bar, "backward") is not None:
            numbers = ()
    return found


def _ending_numbers(ending: etree._Element, before: tuple[int, ...]) -> tuple[int, ...]:
    """The numbers of an ending: "1, 2" or "1-3"; without any, the one after ``before``."""
    numbers: set[int] = set()
    for low, high in re.findall(r"(\d+)(?:\s*[-–]\s*(\d+))?", ending.get("number", "")):
        first, last = int(low[:3]), int((high or low)[:3])
        numbers.update(range(first, min(last, MOST_ENDING) + 1))
    kept = sorted(n for n in numbers if 1 <= n <= MOST_ENDING)
    return tuple(kept) or (max(before, default=0) + 1,)


def _jumps(parts: Parts) -> _Jumps:
    """The jumps of a piece: each kind by its sounds, or by what is printed failing those."""
    directions = list(said(parts, "direction", "sound", "barline"))
    printed = _printed_codas(directions)
    kinds: dict[str, tuple[str, Callable[[etree._Element], bool]]] = {
        "segno": ("segno", is_segno),
        "da_capo": ("dacapo", lambda e: DA_CAPO.search(words_of(e)) is not None),
        "dal_segno": ("dalsegno", lambda e: DAL_SEGNO.search(words_of(e)) is not None),
        "fine": ("fine", lambda e: FINE.fullmatch(words_of(e)) is not None),
    }
    found = {
        kind: _by_sound(directions, name) or {s.bar: "" for s in directions if shown(s.element)}
        for kind, (name, shown) in kinds.items()
    }
    to_coda = _by_sound(directions, "tocoda") or printed[0]
    coda = _by_sound(directions, "coda") or {
        index: "" for index in printed[1] if index not in to_coda
    }
    repeated = (s.bar for s in directions if WITH_REPEATS.search(words_of(s.element)))
    forward = _by_sound(directions, "forward-repeat")
    return _Jumps(
        coda=coda, to_coda=to_coda, forward=forward, with_repeats=frozenset(repeated), **found
    )


def _by_sound(directions: Sequence[Said], name: str) -> dict[int, str]:
    """The bars with a ``<sound>`` that has this attribute, and what it says."""
    found: dict[int, str] = {}
    for saying in directions:
        for sound in sounds_of(saying.element):
            value = sound.get(name)
            if value not in (None, "no"):
                found.setdefault(saying.bar, value or "")
    return found


def is_segno(direction: etree._Element) -> bool:
    """Whether a direction is the sign to go back to: drawn, as a character or as a word."""
    if direction.find(".//segno") is not None:
        return True
    return SEGNO.fullmatch(words_of(direction)) is not None or _is_in_fount(
        direction, SEGNO_FOUNT
    )


def is_coda_sign(direction: etree._Element) -> bool:
    """Whether a direction has the sign of a coda, drawn or as a character."""
    if direction.find(".//coda") is not None:
        return True
    drawn = words_of(direction).strip() in [*CODA_SIGNS]
    return drawn or _is_in_fount(direction, CODA_FOUNT)


def _is_in_fount(direction: etree._Element, sign: str) -> bool:
    return any(
        (words.text or "").strip() == sign and bool(words.get("font-family"))
        for words in direction.iter("words")
    )


def says_where_to_go(direction: etree._Element) -> bool:
    """Whether a direction is a sign or words that send a player elsewhere, or let them stop."""
    if is_segno(direction) or is_coda_sign(direction):
        return True
    text = words_of(direction)
    whole = (FINE, CODA, TO_CODA)
    parts = (DA_CAPO, DAL_SEGNO)
    return any(sign.fullmatch(text) for sign in whole) or any(s.search(text) for s in parts)


def _printed_codas(directions: Sequence[Said]) -> tuple[dict[int, str], dict[int, str]]:
    """The bars that lead to a coda and those where one begins, by words and signs.

    Without the words, all coda signs but the last lead to it.
    """
    signs: dict[int, str] = {}
    words: dict[int, str] = {}
    for saying in directions:
        text = words_of(saying.element)
        sign = is_coda_sign(saying.element)
        if TO_CODA.fullmatch(text) or (sign and TO.fullmatch(text)):
            words[saying.bar] = ""
        elif sign or CODA.fullmatch(text):
            signs[saying.bar] = ""
    if words:
        return words, signs
    *leading, last = sorted(signs) or [-1]
    return dict.fromkeys(leading, ""), {last: ""}
