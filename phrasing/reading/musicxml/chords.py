"""Chord symbols of a score as text at concert pitch, such as ``Dm7`` or ``C7(♯9)``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from phrasing.errors import PhrasingError
from phrasing.reading.musicxml.bars import AtPlace, Transposition, Transpositions
from phrasing.reading.musicxml.measures import ZERO, PartBar, number
from phrasing.score.chords import parse_chord
from phrasing.score.pitches import STEPS, name_of, place_of

if TYPE_CHECKING:
    from lxml import etree


NO_CHORD = "N.C."
KINDS: dict[str, str] = {
    "major": "",
    "minor": "m",
    "augmented": "+",
    "diminished": "dim",
    "dominant": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished-seventh": "dim7",
    "augmented-seventh": "7♯5",
    "half-diminished": "m7♭5",
    "major-minor": "m(maj7)",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "major-ninth": "maj9",
    "minor-ninth": "m9",
    "dominant-11th": "11",
    "major-11th": "maj11",
    "minor-11th": "m11",
    "dominant-13th": "13",
    "major-13th": "maj13",
    "minor-13th": "m13",
    "suspended-second": "sus2",
    "suspended-fourth": "sus4",
    "power": "5",
    "other": "",
}
"""How each of MusicXML's kinds is written after the root, as musicians write it."""

SIGNS = {-2: "♭♭", -1: "♭", 0: "", 1: "♯", 2: "♯♯"}
WITH_SEVENTH = {"": "7", "m": "m7", "+": "7♯5", "dim": "m7♭5"}
WITH_MAJOR_SEVENTH = {"": "maj7", "m": "m(maj7)", "+": "maj7♯5"}


@dataclass(frozen=True)
class _Degree:
    """A degree that is added, altered or left out; ``alter`` in semitones."""

    value: int
    alter: int
    how: str

    @property
    def name(self) -> str:
        return f"{SIGNS.get(self.alter, '')}{self.value}"


def chord_symbols(
    bars: Sequence[PartBar], concert_score: bool
) -> tuple[list[AtPlace[str]], list[int]]:
    """A part's chord symbols at concert pitch, and the bars with some that have no root.

    Several symbols over one note share it: each has an equal part of its length.
    """
    by = Transpositions(concert_score)
    found: dict[tuple[int, Fraction], str] = {}
    nameless: list[int] = []
    for index, bar in enumerate(bars):
        waiting: list[tuple[Fraction, str]] = []
        for placed in bar.placed:
            if placed.element.tag == "attributes":
                by.take(placed.element)
            elif placed.element.tag == "harmony" and placed.element.get("type") != "alternate":
                staff = (placed.element.findtext("staff") or "1").strip()
                text = chord_text(placed.element, by.of(staff))
                waiting += [(placed.at, text)] if text else []
                nameless += [] if text else [index]
            elif placed.element.tag in ("note", "forward", "backup") and placed.length:
                _settle(found, index, waiting, placed.length)
                waiting = []
        _settle(found, index, waiting, ZERO)
    return [AtPlace(bar, at, text) for (bar, at), text in found.items()], nameless


def tells_root_alone(harmony: etree._Element) -> bool:
    """Whether a ``<harmony>`` names a root and says nothing of what stands over it."""
    kind = harmony.find("kind")
    silent = kind is not None and (kind.text or "").strip() == "other" and not kind.get("text")
    return silent and harmony.find("degree") is None and harmony.find("root") is not None


def _settle(
    found: dict[tuple[int, Fraction], str],
    bar: int,
    waiting: Sequence[tuple[Fraction, str]],
    length: Fraction,
) -> None:
    """Give the symbols that wait for a note of this length their places."""
    for at in dict.fromkeys(at for at, _ in waiting):
        texts = list(dict.fromkeys(text for place, text in waiting if place == at))
        for share, text in enumerate(texts):
            found.setdefault((bar, at + length * share / len(texts)), text)


def chord_text(harmony: etree._Element, by: Transposition) -> str | None:
    """The chord symbol that a ``<harmony>`` prints, moved to concert pitch.

    The author's own spelling is kept where it agrees with the chord's kind and degrees, and
    may say more; otherwise the chord is spelled anew. None for what cannot be named by a
    root, such as a Roman numeral.
    """
    kind = harmony.find("kind")
    value = "major" if kind is None else (kind.text or "").strip()
    if value == "none":
        return NO_CHORD
    root, bass = _name(harmony, "root", by), _name(harmony, "bass", by)
    printed = "" if kind is None else kind.get("text", "")
    known = value in KINDS or (printed and _is_known(f"{root}{printed}"))
    if root is None or not known:
        return None
    suffix = _suffix(root, value, printed, list(_degrees(harmony)))
    return _written(root + suffix + (f"/{bass}" if bass else ""))


def _name(harmony: etree._Element, what: str, by: Transposition) -> str | None:
    step = (harmony.findtext(f"{what}/{what}-step") or "").strip().upper()
    alter = round(number(harmony.findtext(f"{what}/{what}-alter")))
    if len(step) != 1 or step not in STEPS or abs(alter) > 2:
        return None
    return name_of(by.place(place_of(step, alter)))


def _suffix(root: str, kind: str, printed: str, degrees: list[_Degree]) -> str:
    """What stands after the root: as printed, with or without the degrees, or else anew."""
    if kind not in KINDS:
        return printed
    spelled = _spelled(KINDS[kind], degrees)
    if not printed:
        return spelled
    with_degrees = printed + _tail(degrees)
    for suffix in (printed, with_degrees):
        if kind == "other" or _agrees(root + suffix, root + spelled):
            return suffix
    return spelled


def _degrees(harmony: etree._Element) -> Iterator[_Degree]:
    for degree in harmony.iterchildren("degree"):
        value = number(degree.findtext("degree-value"))
        alter = round(number(degree.findtext("degree-alter")))
        how = (degree.findtext("degree-type") or "add").strip()
        if 1 <= value <= 13:
            yield _Degree(int(value), alter, how)


def _spelled(suffix: str, degrees: list[_Degree]) -> str:
    """A suffix with its degrees: a seventh, sixth or suspension becomes part of it."""
    added = {d.value: d for d in degrees if d.how == "add"}
    no_third = [d for d in degrees if d.how == "subtract" and d.value == 3]
    for value in (4, 2):
        if no_third and value in added and not added[value].alter:
            kept = [d for d in degrees if d not in no_third and d is not added[value]]
            return f"{_spelled(suffix, [])}sus{value}{_tail(kept)}"
    if 7 in added:
        suffix, degrees = _with_seventh(suffix, added, degrees)
    elif suffix in ("6", "m6") and 9 in added and not added[9].alter:
        suffix, degrees = f"{suffix}/9", [d for d in degrees if d.value != 9]
    return suffix + _tail(degrees)


def _with_seventh(
    suffix: str, added: dict[int, _Degree], degrees: list[_Degree]
) -> tuple[str, list[_Degree]]:
    """The suffix with an added seventh, counted from the minor one, taken into it."""
    if suffix.startswith("sus"):
        plain = [value for value in (13, 9, 7) if value in added and not added[value].alter]
        highest = next(iter(plain), 7)
        said = {7, highest} | ({9} if highest > 9 or not added.get(9) else set())
        kept = [d for d in degrees if d.alter or d.value not in said]
        return f"{highest}{suffix}", [d for d in kept if d.value != 7]
    table = WITH_MAJOR_SEVENTH if added[7].alter > 0 else WITH_SEVENTH
    if suffix not in table:
        return suffix, degrees
    return table[suffix], [d for d in degrees if d.value != 7]


def _tail(degrees: list[_Degree]) -> str:
    altered = "".join(
        d.name
        for d in sorted(degrees, key=lambda d: d.value)
        if d.alter and d.how != "subtract"
    )
    added = [f"(add{d.name})" for d in degrees if not d.alter and d.how == "add"]
    missing = [f"(no{d.value})" for d in degrees if d.how == "subtract"]
    return (f"({altered})" if altered else "") + "".join(added + missing)


def _agrees(printed: str, spelled: str) -> bool:
    """Whether a printed chord has all that the spelled one has; its fifth may be altered."""
    try:
        shown = parse_chord(printed)
    except PhrasingError:
        return False
    try:
        meant = parse_chord(spelled)
    except PhrasingError:
        return True
    natural_fifth = (meant.root + 7) % 12
    altered_fifth = bool({6, 8} & set(shown.intervals(5)))
    needed = meant.pitch_classes - ({natural_fifth} if altered_fifth else set())
    return shown.third == meant.third and needed <= shown.pitch_classes


def _is_known(text: str) -> bool:
    try:
        parse_chord(text)
    except PhrasingError:
        return False
    return True


def _written(text: str) -> str:
    """The symbol with real flats and sharps."""
    try:
        return parse_chord(text).written
    except PhrasingError:
        return text
