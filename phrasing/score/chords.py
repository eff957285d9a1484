"""Chord symbols: what they are called and which notes they mean.

A symbol is read in pieces: root, triad, major or minor seventh, number, then alterations,
suspensions and added notes in any order, then a bass note after a slash. The tables below are
all there is to know. Intervals are semitones above the root; pitch classes count from C = 0.

Two readings are the trade's (common practice, no source): a chord of the thirteenth has no
natural eleventh beside its major third, and ``alt`` has both ninths and both fifths altered.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache

from phrasing.errors import PhrasingError
from phrasing.limits import CHORD_LENGTH

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ACCIDENTALS = {"": 0, "b": -1, "#": 1, "bb": -2, "##": 2, "𝄫": -2, "𝄪": 2}
PRETTY = str.maketrans({"b": "♭", "#": "♯"})
TYPED = dict(zip("♭♯△∆−–°º˚Ø⌀∅", "b#ΔΔ--oooøøø", strict=True))
"""What musicians type for one and the same sign."""

TRIADS: dict[str, tuple[tuple[str, ...], int, int, str]] = {
    "minor": (("minor", "min", "Min", "MIN", "mi", "Mi", "MI", "m", "-"), 3, 7, "m"),
    "half-diminished": (("ø",), 3, 6, "ø"),
    "diminished": (("dim", "Dim", "o"), 3, 6, "°"),
    "augmented": (("aug", "Aug", "+"), 4, 8, "+"),
    "major": (("",), 4, 7, ""),
}
"""Triad: its spellings, third, fifth, and how it is printed."""
MAJOR_SEVENTH = ("major", "maj", "Maj", "MAJ", "ma", "Ma", "MA", "M", "Δ")
STACKS = {6: (6,), 7: (7,), 9: (7, 9), 11: (7, 9, 11), 13: (7, 9, 13), 69: (6, 9)}
"""Which degrees a number stands for, over the triad."""
NATURAL = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 9: 14, 11: 17, 13: 21}
ALTERED = {"b5": 6, "#5": 8, "b9": 13, "#9": 15, "#11": 18, "b13": 20}
SAME = {"b6": "b13", "#4": "#11", "+5": "#5", "-5": "b5", "+9": "#9", "-9": "b9", "+11": "#11"}
SAME |= {"-13": "b13", "+4": "#11", "-6": "b13", "+": "#5", "aug": "#5"}
UNLIKE_LENGTH = 0.12
"""By how much each missing or extra character makes two spellings less alike (0 to 1)."""
BEGINS = "a chord begins with a letter from A to G"
SILENT = ("N.C.", "N.C", "NC", "n.c.", "n.c", "nc")

ROOT = re.compile(r"([A-G])(𝄫|𝄪|##|bb(?!5|6|9|13)|#|b)?")
_TRIAD_WORDS = "minor|min|Min|MIN|mi|Mi|MI|m(?!a(?!dd))|-|ø|dim|Dim|o|aug|Aug|\\+"
HEAD = re.compile(
    rf"(?P<triad>{_TRIAD_WORDS})?,*(?P<major>{'|'.join(MAJOR_SEVENTH)})?,*(?:dom)?"
    r"(?P<number>6/9|6,9|69|6|7|9|11|13|5|2(?!4)|4)?"
)
PIECE = re.compile(
    r"(?P<sus>sus(?:24|42|2,?sus4|2|4|7|9|13)?)|(?P<alt>alt)|add(?P<add>[b#]?(?:2|4|6|9|11|13))"
    r"|(?:no|omit)(?P<omit>3|5)|(?P<altered>[b#+-](?:4|5|6|9|11|13)|aug|\+(?!\d))"
    r"|,(?P<tension>6|9|11|13)(?!\d)|(?P<space>,)"
)


@dataclass(frozen=True)
class Tone:
    """A note of a chord: its ``degree`` (1, 2, 3, 4, 5, 6, 7, 9, 11, 13) and ``interval``.

    Intervals are semitones above the root: a ninth is 14, and never folded into the octave.
    """

    degree: int
    interval: int


@dataclass(frozen=True)
class Chord:
    """What a chord symbol means.

    ``root`` and ``bass``: pitch classes, the same unless a bass note is given after a slash.
    ``tones``: the root first, then upwards; none in a bar without chord. ``text``: the normal
    spelling, with real flat and sharp signs; ``written``: as it was written, with such signs.
    """

    root: int
    bass: int
    tones: tuple[Tone, ...]
    text: str
    written: str = field(compare=False)

    @property
    def sounds(self) -> bool:
        """False for N.C., no chord."""
        return bool(self.tones)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """All pitch classes of the chord, its bass note among them."""
        if not self.sounds:
            return frozenset()
        return frozenset({(self.root + t.interval) % 12 for t in self.tones} | {self.bass})

    def intervals(self, *degrees: int) -> tuple[int, ...]:
        """Intervals of these degrees, as far as the chord has them, in its own order."""
        return tuple(tone.interval for tone in self.tones if tone.degree in degrees)

    @property
    def third(self) -> int | None:
        """The third, or what is suspended in its place (4 before 2); None for a bare fifth."""
        found = self.intervals(3) or self.intervals(4) or self.intervals(2)
        return found[0] if found else None

    @property
    def seventh(self) -> int | None:
        """The seventh, or else the sixth; None for a triad."""
        found = self.intervals(7) or self.intervals(6)
        return found[0] if found else None

    @property
    def is_dominant(self) -> bool:
        """Whether it pulls: a minor seventh over a major or suspended third."""
        return self.intervals(7) == (10,) and self.third != 3


@dataclass(frozen=True)
class _Spelling:
    """A symbol taken apart."""

    triad: str = "major"
    major: bool = False
    number: int | None = None
    sus: tuple[int, ...] = ()
    altered: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
    omitted: tuple[int, ...] = ()
    alt: bool = False


def parse_chord(text: str) -> Chord:
    """Read a chord symbol.

    Raises ``PhrasingError`` for one that is not known; it names the nearest that is.

    >>> parse_chord("Bb-7b5/Fb").text
    'B♭ø7/F♭'
    >>> sorted(parse_chord("G13").pitch_classes)
    [2, 4, 5, 7, 9, 11]
    """
    if len(text) > CHORD_LENGTH:
        raise PhrasingError(f"The chord “{text.strip()}” is too long to be one; {BEGINS}.")
    chord = _parsed(text.strip())
    if chord is None:
        near = nearest_chord(text)
        advice = f"the nearest that is known is “{near}”" if near else BEGINS
        raise PhrasingError(f"The chord “{text.strip()}” is not known; {advice}.")
    return chord


def known_chord(text: str) -> Chord | None:
    """The chord that a symbol means; None for one that is not known.

    >>> known_chord("G7").root, known_chord("something")
    (7, None)
    """
    return _parsed(text.strip()) if len(text) <= CHORD_LENGTH else None


@lru_cache(maxsize=1024)
def _parsed(text: str) -> Chord | None:
    plain = "".join(TYPED.get(sign, sign) for sign in text)
    if plain in SILENT:
        return Chord(0, 0, (), "N.C.", "N.C.")
    root = ROOT.match(plain)
    if root is None:
        return None
    body, bass = _split_bass(plain[root.end() :])
    spelling = _spelling(body)
    if spelling is None:
        return None
    tones = tuple(_tones(spelling))
    pitch = _pitch_class(root.group())
    name = _pretty_note(root.group()) + _normal(spelling)
    written = _pretty_note(root.group()) + _pretty(body)
    if bass:
        name, written = (f"{text}/{_pretty_note(bass)}" for text in (name, written))
    return Chord(pitch, _pitch_class(bass) if bass else pitch, tones, name, written)


def _split_bass(body: str) -> tuple[str, str]:
    head, slash, tail = body.rpartition("/")
    found = ROOT.fullmatch(tail) if slash else None
    return (head, tail) if found else (body, "")


def _pitch_class(name: str) -> int:
    return (LETTERS[name[0]] + ACCIDENTALS[name[1:]]) % 12


def _pretty_note(name: str) -> str:
    doubled = {"bb": "𝄫", "##": "𝄪"}.get(name[1:], name[1:])
    return name[0] + doubled.translate(PRETTY)


def _pretty(body: str) -> str:
    """What stands after the root, with real accidentals and signs."""
    body = re.sub(r"[b#](?=\d)", lambda sign: sign.group().translate(PRETTY), body)
    return re.sub(r"^o", "°", body)


def _spelling(body: str) -> _Spelling | None:
    body = re.sub(r"[(),\s]+", ",", body).rstrip(",")
    head = HEAD.match(body)
    assert head is not None
    spelling = _headed(head)
    at = head.end()
    while at < len(body):
        piece = PIECE.match(body, at)
        if piece is None:
            return None
        spelling = _with_piece(spelling, piece)
        at = piece.end()
    return spelling if _makes_sense(spelling) else None


def _headed(head: re.Match[str]) -> _Spelling:
    word = head["triad"] or ""
    triad = next(name for name, (words, *_) in TRIADS.items() if word in words)
    major, number = head["major"], (head["number"] or "").replace("/", "").replace(",", "")
    spelling = _Spelling(triad, bool(major), int(number) if number else None)
    implied = triad == "half-diminished" or (major and (triad != "major" or major == "Δ"))
    if implied and spelling.number is None:
        spelling = replace(spelling, number=7)
    if number == "5" and triad == "augmented":
        return replace(spelling, number=None)
    if number == "5" and triad == "major":
        return replace(spelling, number=None, omitted=(3,))
    if number == "4" and triad == "major":
        return replace(spelling, number=None, sus=(4,))
    if number == "2":
        return replace(spelling, number=7 if triad == "half-diminished" else None, added=("9",))
    return spelling


def _with_piece(spelling: _Spelling, piece: re.Match[str]) -> _Spelling:
    kind = piece.lastgroup
    if kind == "sus":
        degrees = tuple(int(d) for d in "42" if d in piece["sus"]) or (4,)
        stacked = piece["sus"].removeprefix("sus")
        number = int(stacked) if stacked in ("7", "9", "13") else spelling.number
        return replace(spelling, sus=degrees, number=number)
    if kind == "alt":
        return replace(spelling, alt=True, number=spelling.number or 7)
    if kind == "omit":
        omitted = {*spelling.omitted, int(piece["omit"])}
        return replace(spelling, omitted=tuple(sorted(omitted)))
    if kind in ("add", "tension"):
        name = {"2": "9", "4": "11"}.get(piece[kind], piece[kind])
        return replace(spelling, added=(*spelling.added, SAME.get(name, name)))
    if kind == "altered":
        name = SAME.get(piece["altered"], piece["altered"])
        return replace(spelling, altered=(*spelling.altered, name))
    return spelling


def _makes_sense(spelling: _Spelling) -> bool:
    names = {name for name in spelling.added if name[0] in "b#"} | set(spelling.altered)
    bare = spelling.omitted == (3,) and spelling.number is None
    power = bare and (spelling.triad != "major" or spelling.major)
    stacked = spelling.number in (11, 13, 69) and spelling.triad in ("diminished", "augmented")
    return names <= set(ALTERED) and not (power or stacked or _is_contrary(spelling))


def _is_contrary(spelling: _Spelling) -> bool:
    """A number that is none, or an altered chord that is something else already."""
    other = spelling.triad != "major" or spelling.major or bool(spelling.sus)
    return spelling.number in (4, 5) or (spelling.alt and (other or spelling.number != 7))


def _tones(spelling: _Spelling) -> Iterator[Tone]:
    """The tones, each degree once except for ninths and fifths altered both ways."""
    _, third, fifth, _ = TRIADS[spelling.triad]
    tones = [Tone(1, 0)]
    tones += [Tone(d, NATURAL[d]) for d in spelling.sus] or [Tone(3, third)]
    altered = list(spelling.altered)
    if spelling.alt:
        altered = ["b9", "#9", "#11", "b13"]
    elif not any(name.endswith("5") for name in altered):
        tones.append(Tone(5, fifth))
    degrees = STACKS.get(spelling.number or 0, ())
    names = [int(name[1:]) for name in altered]
    for degree in degrees:
        if degree == 7:
            tones.append(Tone(7, _seventh(spelling)))
        elif degree not in names:
            tones.append(Tone(degree, NATURAL[degree]))
    tones += [Tone(int(n[1:]), ALTERED[n]) for n in altered]
    tones += [
        Tone(int(n.lstrip("b#")), ALTERED.get(n) or NATURAL[int(n)]) for n in spelling.added
    ]
    kept = {tone for tone in tones if tone.degree not in spelling.omitted}
    yield from sorted(kept, key=lambda tone: (tone.interval, tone.degree))


def _seventh(spelling: _Spelling) -> int:
    if spelling.major:
        return 11
    return 9 if spelling.triad == "diminished" else 10


def _normal(spelling: _Spelling) -> str:
    """The normal spelling of everything after the root."""
    triad, number = TRIADS[spelling.triad][3], spelling.number
    shown = "6/9" if number == 69 else str(number or "")
    minor_fifth = spelling.triad == "minor" and "b5" in spelling.altered
    altered = list(spelling.altered)
    if minor_fifth and number in (7, 9, 11) and not spelling.major:
        triad = "ø"
        altered.remove("b5")
    if spelling.triad == "augmented" and number:
        triad, altered = "", ["#5", *altered]
    major = "maj" if spelling.major and number and number not in (6, 69) else ""
    head = (
        f"{triad}({major}{shown})" if triad in ("m", "°") and major else triad + major + shown
    )
    if 3 in spelling.omitted and not (triad or number or spelling.sus or spelling.added):
        head += "5"
    return head + _tail(spelling, altered, bool(shown), "5" in head[-1:])


def _tail(spelling: _Spelling, altered: list[str], numbered: bool, power: bool) -> str:
    """Suspensions, alterations, added and left-out notes, in their normal order."""
    sus = "sus" + "".join(str(d) for d in sorted(spelling.sus)) if spelling.sus else ""
    order = sorted(dict.fromkeys(altered), key=lambda name: (int(name[1:]), name[0] == "#"))
    alterations = "".join(order).translate(PRETTY)
    if alterations and (not numbered or sus):
        alterations = f"({alterations})"
    added = "".join(f"(add{name.translate(PRETTY)})" for name in spelling.added)
    omitted = "".join(f"(no{d})" for d in spelling.omitted if not (power and d == 3))
    return sus + ("alt" if spelling.alt else alterations) + added + omitted


def _bodies() -> tuple[str, ...]:
    """Common spellings after the root, to find the nearest among."""
    major = [m + n for m in ("maj", "M", "Δ") for n in ("7", "9", "13", "7#11", "7#5")]
    minor = [m + n for m in ("m", "-", "min") for n in ("", "6", "7", "9", "11", "13", "7b5")]
    seventh = ["7", "9", "11", "13", "7sus4", "9sus4", "13sus4", "7alt", "7#11", "13#11", "7b5"]
    seventh += [
        "7#5",
        "7b9",
        "7#9",
        "7b13",
        "7b9b13",
        "7#9b13",
        "7b9#11",
        "9#11",
        "9b13",
        "13b9",
    ]
    rest = ["", "6", "6/9", "maj", "Δ", "ø", "ø7", "o", "dim", "o7", "dim7", "+", "aug", "+7"]
    rest += ["sus2", "sus4", "sus", "add9", "madd9", "m6/9", "m(maj7)", "mM7", "-Δ", "alt", "5"]
    return (*major, *minor, *seventh, *rest)


def nearest_chord(text: str) -> str | None:
    """The known spelling that looks most like ``text``; None where not even a root does."""
    plain = "".join(TYPED.get(sign, sign) for sign in text.strip())
    if re.fullmatch(r"(?i)n\W?c\W?|no ?chord", plain):
        return "N.C."
    plain = plain[:1].upper() + plain[1:]
    if _parsed(plain):
        return plain
    root = ROOT.match(plain)
    if root is None:
        return None
    body, bass = _split_bass(plain[root.end() :])
    body = body.partition("/")[0] if not bass else body

    def likeness(known: str) -> float:
        alike = difflib.SequenceMatcher(None, body, known).ratio()
        return alike - UNLIKE_LENGTH * abs(len(known) - len(body))

    return root.group() + max(_bodies(), key=likeness) + ("/" + bass if bass else "")
