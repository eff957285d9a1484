"""What differs between the styles of playing, as data: one row each.

A style decides which rules of value and position apply and with what mark, how notes are
joined, how many weights a bar bears, and every number that departs from the feel's default.
Adding one is a row in ``STYLES``. Common practice among jazz players; no published source.

The style is that of ``--style``, of the author's words or ``<swing>``, or else of the meter
and the tempo, and it is always said aloud (``Choice.sentence``).
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.feel import Feel
from phrasing.feelfile import adjusted
from phrasing.score.melody import Manner, Melody
from phrasing.score.meters import Bools, Ints
from phrasing.score.words import bar_name, ratio_name

AUTO = "auto"
SLOW = 80.0
"""Quarter notes a minute up to which a piece is a ballad when nobody says otherwise."""
FAST = 220.0
"""Quarter notes a minute from which a bar bears ``Style.fast_weights``."""
TRIPLETS = 4
"""Beats of a long and a short triplet note from which they make a shuffle, if they prevail."""
TIMES = ("swing", "lay_back")
"""Entries of a feel that are about time."""
NOTHING: Mapping[str, Any] = MappingProxyType({})
Slurs = Literal["into the beat", "phrase", "none"]


@dataclass(frozen=True, eq=False)
class Style:
    """One style.

    ``title`` and ``way`` are said when it is chosen; ``words`` are patterns of what an author
    writes to ask for it. ``marks``: the mark, or None, that a rule (``"on-beat-quarter"``) or
    one of its cases (``"on-beat-quarter/before-rest"``) gives in place of its own. ``slurs``:
    off-beats into the beat, all notes of a phrase, or none. ``weights``: how many stresses and
    tenutos on notes up to a quarter four beats bear, ``fast_weights`` from ``FAST`` on.
    ``triplets``: the long and the short note of a triplet beat are its two eighths. ``feel``:
    what departs from the default feel, laid out as in a feel's file.
    """

    name: str
    title: str
    way: str
    words: tuple[str, ...]
    marks: Mapping[str, str | None] = field(default_factory=lambda: NOTHING)
    slurs: Slurs = "into the beat"
    weights: int = 3
    fast_weights: int = 2
    triplets: bool = False
    feel: Mapping[str, Any] = field(default_factory=lambda: NOTHING)

    def weights_at(self, tempo: float) -> int:
        """How many weights four beats bear at a tempo (quarter notes a minute).

        >>> STYLE["swing"].weights_at(160), STYLE["swing"].weights_at(240)
        (3, 2)
        """
        return self.fast_weights if tempo >= FAST else self.weights

    def played(self, feel: Feel | None = None) -> Feel:
        """A feel (the default one) with what this style departs from put in.

        >>> STYLE["even"].played().line.off_beat
        0.0
        """
        return adjusted(feel or Feel(), self.feel, f"The style {self.name}")

    def instead_of(self, before: Style, feel: Feel) -> Feel:
        """A feel of the style ``before`` with the sound of this one in its place; what the
        teacher set by hand stays, and time, which places have of their own (see ``manners``).

        >>> STYLE["even"].instead_of(STYLE["swing"], Feel()).sounds["ghost"].level
        -5.0
        """
        usual, own = before.played(), self.played()
        table: dict[str, Any] = {}
        for place in dict.fromkeys([*_places(before.feel), *_places(self.feel)]):
            if place[0] not in TIMES and _at(feel, place) == _at(usual, place):
                group = table
                for name in place[:-1]:
                    group = group.setdefault(name, {})
                group[place[-1]] = _at(own, place)
        return adjusted(feel, table)

    @property
    def is_even(self) -> bool:
        """Whether its eighths never swing."""
        return self.played().swing.by_tempo == ((120.0, 1.0),)


def _places(table: Mapping[str, Any], *above: str) -> Iterator[tuple[str, ...]]:
    """The entries of a feel's table, each by the names that lead to it."""
    for name, value in table.items():
        if isinstance(value, Mapping):
            yield from _places(value, *above, name)
        else:
            yield (*above, name)


def _at(feel: Feel, place: tuple[str, ...]) -> Any:
    value: Any = feel
    for name in place:
        value = value[name] if isinstance(value, Mapping) else getattr(value, name)
    return value


STYLES: tuple[Style, ...] = (
    Style(
        name="swing",
        title="swing",
        way="quarters on the beat are short, notes off the beat are accented and held",
        words=(
            r"swing",
            r"swung",
            r"straight[ -]?ahead",
            r"jump",
            r"be-?bop",
            r"jazz waltz",
            r"two[ -](?:feel|beat)",
            r"in (?:2|two)",
        ),
    ),
    Style(
        name="ballad",
        title="a ballad",
        way="quarters are held, and the line is slurred",
        words=(r"ballad", r"ballade"),
        marks={
            "syncopated-pair": "tenuto",
            "syncopated-pair/last": "tenuto",
            "off-beat-quarter": "tenuto",
            "off-beat-long": "tenuto",
            "on-beat-quarter": None,
            "on-beat-quarter/before-rest": None,
            "on-beat-quarter/pickup": None,
            "clipped-eighth": None,
            "short-eighth": None,
        },
        slurs="phrase",
        weights=2,
        feel={
            "line": {"off_beat": 0.0, "arch": 2.0},
            "life": {"taper": 5.0, "vibrato_depth": 0.24, "vibrato_delay": 0.2},
            "sounds": {"ghost": {"level": -5.0}},
        },
    ),
    Style(
        name="even",
        title="even eighths",
        way="nothing swings, and quarters are held unless a rest follows",
        words=(
            r"(?:no|not) (?:swing|swung)",
            r"bossa(?:[ -]?nova)?",
            r"samba",
            r"latin",
            r"afro[ -]?cuban",
            r"(?:rh?umba|bolero|mambo|cha[ -]?cha(?:[ -]?cha)?|salsa|tango|calypso|beguine)",
            r"bai[aã]o",
            r"(?<!swung )(?<!swing )(?:funk|funky)(?! shuffle)",
            r"(?:rock|reggae|disco)(?! *-?(?:back|steady|shuffle))",
            r"straight(?! *-?(?:ahead|mute|tone))",
            r"even(?=$|[,;.!)]|[ -]+(?:eighths?|8|quavers?|sixteenths?|16|feel|time))",
        ),
        marks={"on-beat-quarter": None, "on-beat-quarter/pickup": None},
        slurs="none",
        weights=2,
        feel={
            "line": {"off_beat": 0.0},
            "sounds": {"ghost": {"level": -5.0}},
            "swing": {"by_tempo": [[120.0, 1.0]]},
            "lay_back": {"by_tempo": [[120.0, 0.0]]},
        },
    ),
    Style(
        name="shuffle",
        title="a shuffle",
        way="each beat is a long and a short note of a triplet",
        words=(r"shuffle", r"12/8", r"slow blues"),
        triplets=True,
        feel={"swing": {"by_tempo": [[120.0, 2.0]]}, "band": {"bass": {"root": 0.95}}},
    ),
)

STYLE: Mapping[str, Style] = MappingProxyType({style.name: style for style in STYLES})
SWING = STYLE["swing"]
LISTENED_FOR = (
    "even",
    *(name for name in reversed([*STYLE]) if name not in ("even", "swing")),
    "swing",
)
"""The order in which an author's words are searched: "not swung" comes before "swung"."""


@dataclass(frozen=True)
class Choice:
    """The style that was chosen, and the sentence that says why."""

    style: Style
    sentence: str


def chosen(melody: Melody, asked: str | None = None) -> Choice:
    """The style of a melody: the one ``asked`` for, or the author's, or what fits it best.

    Raises ``PhrasingError`` for a name that is no style's.

    >>> chosen(melody("C5:2 D5:2", tempo=66)).sentence
    'At 66: a ballad; quarters are held, and the line is slurred.'
    """
    if asked is not None and asked != AUTO:
        return _choice("As you asked", style_named(asked))
    said = style_in_words(melody.style_words)
    if said is not None:
        return _choice(f"“{melody.style_words}”", said)
    if melody.swing == 1.0:
        return _choice("Its eighths are straight", STYLE["even"])
    if is_shuffled(melody):
        twelve = (melody.meter.beats, melody.meter.unit) == (12, 8)
        why = "12/8" if twelve else "Most beats are a long and a short note of a triplet"
        return _choice(why, STYLE["shuffle"])
    tempo = melody.tempos.tempos[0]
    return _choice(f"At {tempo:.4g}", STYLE["ballad"] if tempo <= SLOW else SWING)


def by_section(melody: Melody, first: Style) -> tuple[tuple[int, Style], ...]:
    """The styles that the author asks for on the way: from which tick on, and which.

    ``first`` is the style at the start, and wherever nothing is said. Where a later place asks
    for a ratio alone, the style goes on unless it contradicts it.

    >>> [(at, style.name) for at, style in by_section(melody("C5:2"), STYLE["swing"])]
    [(0, 'swing')]
    """
    found = [(0, first)]
    for manner in melody.manners:
        said = manner.words or manner.swing is not None
        style = _style_of(manner, found[-1][1]) if said else first
        found.append((manner.onset, style))
    return tuple(found)


def changes_sentence(melody: Melody, first: Style) -> str:
    """Where another style or swing begins, in words: "From bar 9 on: even eighths.".

    >>> changes_sentence(melody("C5:2"), STYLE["swing"])
    ''
    """
    said = []
    before = (first, melody.swing, melody.sixteenths)
    for manner, (onset, style) in zip(
        melody.manners, by_section(melody, first)[1:], strict=True
    ):
        now = (style, manner.swing, manner.sixteenths)
        if now != before:
            bar = melody.bars[int(melody.bar_index_at(onset))]
            said.append(f"From {bar_name(bar)} on: {_way(manner, style)}.")
        before = now
    return " ".join(said)


def _way(manner: Manner, style: Style) -> str:
    ratio = f", {ratio_name(manner.swing)}" if manner.swing and manner.swing > 1.0 else ""
    return style.title + ratio + (" in sixteenths" if manner.sixteenths else "")


def _style_of(manner: Manner, before: Style) -> Style:
    said = style_in_words(manner.words)
    if said is not None:
        return said
    if manner.swing == 1.0:
        return STYLE["even"]
    return SWING if before.is_even else before


def _choice(why: str, style: Style) -> Choice:
    return Choice(style, f"{why}: {style.title}; {style.way}.")


def style_named(name: str) -> Style:
    """The style of this name, or of a word that an author asks for it with.

    >>> style_named("Ballad").slurs, style_named("bossa").name
    ('phrase', 'even')
    """
    word = name.strip().lower()
    said = STYLE.get(word) or style_in_words(word)
    if said is None:
        near = difflib.get_close_matches(word, STYLE, 1)
        guess = f" Did you mean “{near[0]}”?" if near else ""
        known = ", ".join((AUTO, *STYLE))
        raise PhrasingError(f"There is no style “{name}”.{guess} The styles are {known}.")
    return said


def style_in_words(text: str) -> Style | None:
    """The style that an author's words ask for; None where they ask for none.

    >>> style_in_words("Medium bossa nova").name
    'even'
    >>> style_in_words("straight mute") is None
    True
    """
    for name in LISTENED_FOR:
        if any(re.search(rf"\b{word}\b", text, re.IGNORECASE) for word in STYLE[name].words):
            return STYLE[name]
    return None


_SIXTEENTHS = r"(?:16(?:th)?s?|sixteenths?|semiquavers?)(?:[ -]?notes?)?"
_SWINGING = r"(?:swing|swung|shuffled?|swinging)"
SWUNG_SIXTEENTHS = re.compile(
    rf"\b{_SIXTEENTHS}[ -]+{_SWINGING}\b|\b{_SWINGING}[ -]+(?:the )?{_SIXTEENTHS}\b",
    re.IGNORECASE,
)
DOUBLE_TIME = re.compile(r"\bdouble[ -]?time\b", re.IGNORECASE)
SINGLE_TIME = re.compile(
    r"\b(?:end|no)(?: of)? double[ -]?time\b|\b(?:original|regular|normal) feel\b"
    r"|\b(?:single|normal|regular|original|half)[ -]?time\b",
    re.IGNORECASE,
)


def sixteenths_in_words(text: str) -> bool | None:
    """Whether an author's words let the sixteenths swing; None where they say nothing of it.

    >>> sixteenths_in_words("Funk, 16th swing"), sixteenths_in_words("Swing")
    (True, None)
    """
    return True if SWUNG_SIXTEENTHS.search(text) else None


def double_time_in_words(text: str) -> bool | None:
    """Whether an author's words begin a double-time feel, in which the sixteenths swing as the
    eighths did (common practice, no source), or end it; None where they do neither.

    >>> double_time_in_words("Double-time feel"), double_time_in_words("end double time")
    (True, False)
    """
    if SINGLE_TIME.search(text):
        return False
    return True if DOUBLE_TIME.search(text) else None


TEMPO_REGIONS = (
    (r"med(?:ium|\.)?[ -]+up(?:[ -]?tempo)?", 180.0),
    (r"med(?:ium|\.)?[ -]+slow|slow[ -]+med(?:ium|\.)?", 100.0),
    (r"slow(?: 12/8)? blues|ballade?", 66.0),
    (r"slow", 84.0),
    (r"up(?:[ -]?tempo)?|fast|bright", 220.0),
    (r"med(?:ium|\.)?|moderate", 140.0),
)
"""Words for how fast a feel goes, and a usual tempo of each (quarter notes a minute); the first
that is found counts. Common practice, no source."""


def usual_tempo(words: str) -> float | None:
    """The usual tempo (quarter notes a minute) of words for a feel; None where they name none.

    >>> usual_tempo("Medium swing"), usual_tempo("Slow blues"), usual_tempo("Swing")
    (140.0, 66.0, None)
    """
    if style_in_words(words) is None:
        return None
    found = (
        tempo
        for region, tempo in TEMPO_REGIONS
        if re.search(rf"\b(?:{region})(?!\w)", words, re.IGNORECASE)
    )
    return next(found, None)


def usual_tempos(manners: Sequence[Manner]) -> dict[int, float]:
    """Where words for the feel name a tempo, for a piece that gives none in figures: the usual
    one by the tick from which on it holds.

    >>> usual_tempos([Manner(0, "Ballad"), Manner(3840), Manner(7680, "Up swing")])
    {0: 66.0, 7680: 220.0}
    """
    named = ((manner.onset, usual_tempo(manner.words)) for manner in manners)
    return {onset: tempo for onset, tempo in named if tempo is not None}


# Long and short notes of triplet beats


def is_shuffled(melody: Melody) -> bool:
    """Whether it is in 12/8, or most divided beats are a long and a short triplet note."""
    if (melody.meter.beats, melody.meter.unit) == (12, 8):
        return True
    beat, into = _beat_and_place(melody)
    divided = int(np.count_nonzero(np.bincount(beat, into > 0)))
    pairs = int(np.count_nonzero(_is_pair(beat, into, melody.beat_length)))
    return pairs >= TRIPLETS and 2 * pairs > divided


def _beat_and_place(melody: Melody) -> tuple[Ints, Ints]:
    """For each note, the number of its beat in the piece and the ticks from its start."""
    most = int(melody.beat_number.max(initial=0)) + 1
    return melody.bar_index * most + melody.beat_number, melody.into_beat


def _is_pair(beat: Ints, into: Ints, beat_length: Ints) -> Bools:
    """For each beat of the piece, whether nothing starts in it but at 0 and at two thirds."""
    late = 3 * into == 2 * beat_length
    count = int(beat.max(initial=-1)) + 1
    other = np.bincount(beat, (into > 0) & ~late, count) > 0
    return (np.bincount(beat, late, count) > 0) & ~other
