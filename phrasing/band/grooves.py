"""What the players of a band do in each style, as data: one row each.

A row says what the drums keep time with, how they comment and set up, how the bass moves and
how the chords are struck; rhythms are written as in ``notation``, by the size of a group of
beats. It belongs to one of the styles of playing and is chosen by words of the author's, by
the meter, or as the style's own. Common practice among rhythm sections; no published source.
Adding one is a row in ``GROOVES``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

from phrasing.band.figures import (
    BACK_BEATS,
    CHORDS,
    EIGHTHS,
    EVEN_FILLS,
    RIDE,
    SWING_COMMENTS,
    SWING_FILLS,
    TAPS,
    all_of,
)
from phrasing.band.notation import Rhythm
from phrasing.score.melody import Melody
from phrasing.style import Style, by_section


@dataclass(frozen=True)
class Layer:
    """What one hand or foot of the drummer plays.

    ``drum``: its name in ``drums.KIT``; ``level``: its number in ``feel.Drums``, and ``louder``
    what is added to that (dB). ``steady``: the time itself, played most evenly; ``shaded``: as
    a ride is, heavier on the back beats and lighter off the beat. ``thins``: to plain beats
    where it is fast. ``held``: until the next stroke. It plays while the band's intensity
    (0 in the first chorus, 1 in the last) is from ``above`` to ``below``.
    """

    drum: str
    level: str
    rhythm: Rhythm
    louder: float = 0.0
    steady: bool = False
    shaded: bool = False
    thins: bool = False
    held: bool = False
    above: float = 0.0
    below: float = 1.0


@dataclass(frozen=True)
class Groove:
    """One row.

    ``title`` is said; ``style`` is the style of playing that it belongs to; ``words``:
    patterns of what an author writes to ask for it; ``beats``: in a meter of so many it is
    chosen by itself. ``layers``, ``comments`` and ``fills`` are the drums': what keeps time,
    what comes now and then, and what leads into a section (over its last two beats, the drum
    after the colon). ``brushes``: played with them. ``bass``: it walks, plays in two, or has
    a rhythm of its own: ``R`` root, ``5`` fifth, ``to`` a note that leads on. ``chords``:
    rhythms, a length in beats after the colon, without one ``short`` beats (None: the feel's),
    and the guitar may play quarters (``chunks``). ``rest``: the
    share of bars in which they keep silent. ``talks``: how often drums comment, against the
    feel's ``comping``, and ``comment_on`` what; ``drums_lower``: LU by which they lie below
    their usual place. ``breaks``: time is broken up before the last
    chord.
    """

    name: str
    title: str
    style: str
    layers: tuple[Layer, ...]
    comments: Rhythm
    fills: tuple[str, ...]
    chords: Rhythm
    bass: Literal["walk", "two"] | Rhythm = "walk"
    words: tuple[str, ...] = ()
    beats: tuple[int, ...] = ()
    short: float | None = None
    rest: float = 0.30
    talks: float = 1.0
    brushes: bool = False
    breaks: bool = True
    comment_on: str = "snare"
    drums_lower: float = 0.0
    chunks: bool = False


SWING = Groove(
    name="swing",
    title="swing in four",
    style="swing",
    layers=(
        Layer("ride", "ride", RIDE, steady=True, shaded=True, thins=True),
        Layer("pedal", "hat", BACK_BEATS),
        Layer("kick", "feather", all_of("1 2 3 4")),
    ),
    comments=SWING_COMMENTS,
    fills=SWING_FILLS,
    chords=CHORDS,
    chunks=True,
)

TWO_FEEL = replace(
    SWING,
    name="two-feel",
    title="in two",
    words=(r"two[ -]?(?:feel|beat)", r"in (?:2|two)"),
    layers=(
        Layer("hats", "hat", RIDE, steady=True, shaded=True, thins=True),
        Layer("pedal", "hat", BACK_BEATS),
        Layer("kick", "feather", all_of("1 3")),
    ),
    chords={
        **CHORDS,
        4: (
            "4: 1 2& | 3: 1:1.4 2& | 2: 2& | 2: 2 4 | 3: 4&:1.2 | 2: 1:2.6 | 2: 2& 4&:1.0 "
            "| 2: 3& | 1.5: 1:1.4 4 | 1.2: -",
        ),
    },
    bass="two",
    rest=0.32,
    talks=0.7,
)

WALTZ = replace(
    SWING,
    name="waltz",
    title="a jazz waltz",
    words=(r"waltz",),
    beats=(3, 6, 9),
    layers=(
        Layer("ride", "ride", RIDE, steady=True, shaded=True, thins=True),
        Layer("pedal", "hat", BACK_BEATS),
        Layer("kick", "feather", {3: ("3: 1 | 1 3&<",), 4: ("1 3",)}, louder=2.0),
    ),
)

BALLAD = Groove(
    name="ballad",
    title="a ballad with brushes",
    style="ballad",
    layers=(
        Layer("swirl", "swirl", all_of("1 2< 3 4<"), held=True),
        Layer("tap", "tap", TAPS, steady=True, shaded=True),
        Layer("slap", "slap", BACK_BEATS, steady=True),
        Layer("pedal", "hat", BACK_BEATS),
        Layer("kick", "feather", all_of("1 3")),
    ),
    comments=SWING_COMMENTS,
    fills=("1&:tap 2:tap 2&:tap", "2:tap 2t:tap 2l:tap", "1:tap 1l:tap 2l:kick", "2&:kick"),
    chords={
        2: ("4: 1:1.9 | 2: 1&:1.4 | 2:1.0 | 0.7: -",),
        3: ("4: 1:2.8 | 2: 1:1.4 2&:1.2 | 2: 2:1.9 | 1&:2.0 | 0.7: -",),
        4: (
            "4: 1:3.6 | 3: 1:1.9 3:1.8 | 2.5: 1:2.4 3&:1.3 | 2: 1&:2.4 | 2: 2:2.7 "
            "| 2: 1:1.4 2&:2.2 | 1.5: 4&:1.5 | 1.5: 1:2.4 4:1.0 | 1.2: 2:1.2 3&:1.4 | 1.0: -",
        ),
    },
    bass="two",
    rest=0.22,
    talks=0.4,
    brushes=True,
    comment_on="tap",
    drums_lower=4.0,
)

SHUFFLE = Groove(
    name="shuffle",
    title="a shuffle",
    style="shuffle",
    words=(r"shuffle",),
    layers=(
        Layer(
            "ride",
            "ride",
            {
                2: ("1 1& 2 2&",),
                3: ("1 1& 2 2& 3 3&",),
                4: ("8: 1 1& 2 2& 3 3& 4 4& | 1 2 2& 3 4 4& | 1 1& 2 2& 3 4 4&",),
            },
            steady=True,
            shaded=True,
            thins=True,
        ),
        Layer("snare", "snare", BACK_BEATS, louder=5.0),
        Layer(
            "snare",
            "snare",
            all_of("3: 1& 3& | 2: 1& 2& 3& 4& | 1& 2& 3& | 3& 4&"),
            louder=-5.0,
            above=0.01,
        ),
        Layer("pedal", "hat", BACK_BEATS),
        Layer("kick", "kick", all_of("4: 1 3 | 2: 1 3 3&< | 1 2&< 3"), louder=-1.0),
    ),
    comments={4: ("3: 4& | 2: 2& | 4l | 4t 4l | 2& 4&",)},
    fills=SWING_FILLS,
    chords={
        2: ("3: 1& | 2: 1 2& | 2: 2& | 1 1& | 0.7: -",),
        3: ("3: 1& 2& | 2: 1 2& | 2: 2& 3& | 3&:1.0 | 0.7: -",),
        4: (
            "4: 1& 2& | 3: 1& 3& | 3: 1 2& | 2: 2& 4& | 2: 1& 2& 4&:1.0 | 2: 1 1& 3 3& "
            "| 2: 2& 3& | 1.5: 1:1.8 3& | 2: 4&:1.2 | 1: -",
        ),
    },
    rest=0.29,
    short=0.38,
    talks=0.7,
    chunks=True,
)

TWELVE = Groove(
    name="12/8",
    title="a slow 12/8",
    style="shuffle",
    words=(r"12/8", r"slow blues"),
    layers=(
        Layer(
            "closed",
            "hat",
            {
                2: ("1 1t< 1l< 2 2t< 2l<",),
                3: ("1 1t< 1l< 2 2t< 2l< 3 3t< 3l<",),
                4: ("1 1t< 1l< 2 2t< 2l< 3 3t< 3l< 4 4t< 4l<",),
            },
            louder=3.0,
            steady=True,
            below=0.5,
        ),
        Layer(
            "ride",
            "ride",
            {
                2: ("1 1t< 1l< 2 2t< 2l<",),
                3: ("1 1t< 1l< 2 2t< 2l< 3 3t< 3l<",),
                4: ("1 1t< 1l< 2 2t< 2l< 3 3t< 3l< 4 4t< 4l<",),
            },
            louder=-2.0,
            steady=True,
            above=0.51,
        ),
        Layer("snare", "snare", BACK_BEATS, louder=5.0),
        Layer("pedal", "hat", BACK_BEATS, above=0.51),
        Layer("kick", "kick", all_of("3: 1 3 | 2: 1 2l< 3 | 1 3 4l<")),
    ),
    comments={4: ("2: 4l | 4t 4l | 2l | 3t 3l",)},
    fills=SWING_FILLS,
    bass={
        2: ("2: 1:R 2:5 | 1:R 2l:to | 1:R 1l:R 2:5",),
        3: ("2: 1:R 2:5 3:to | 1:R 3:5 | 1:R 2:R 3:5 3l:to",),
        4: (
            "3: 1:R 2:R 3:5 4:to | 2: 1:R 1l:R 3:5 4:to | 2: 1:R 3:5 4l:to "
            "| 1:R 2l:5 3:R 4:5 4l:to",
        ),
    },
    chords={
        2: ("2: 1:1.6 | 1l:1.0 | 1:0.5 1t:0.4 1l:0.4 2 | 0.7: -",),
        3: ("2: 1:2.6 | 2: 1:1.2 2l:1.0 | 3l:1.0 | 0.7: -",),
        4: (
            "3: 1:1.6 3:1.5 | 3: 1:3.0 | 2: 1l:1.2 3l:1.0 | 2: 1:1.5 2l:1.6 | 2: 4l:1.2 "
            "| 2: 2:0.5 2t:0.3 2l:0.3 3 | 1.5: 2:1.0 4:0.8 | 1: -",
        ),
    },
    rest=0.28,
    short=0.6,
    talks=0.6,
    breaks=False,
)

EVEN = Groove(
    name="even",
    title="even eighths",
    style="even",
    layers=(
        Layer(
            "ride",
            "ride",
            {
                2: ("2: 1 1& 2 2& | 1 2 2&",),
                3: ("2: 1 2 2& 3 | 1 1& 2 2& 3 3& | 1 2 3 3&",),
                4: (
                    "4: 1 1& 2 2& 3 3& 4 4& | 3: 1 2 2& 3 4 4& | 2: 1 1& 2 3 3& 4 | 1 2& 3 4&",
                ),
            },
            steady=True,
            shaded=True,
            thins=True,
        ),
        Layer("pedal", "hat", BACK_BEATS),
        Layer("stick", "stick", all_of("3: 4 | 2: 2& 4 | 3& | 2 4 | -")),
        Layer("kick", "kick", all_of("3: 1 3&< | 2: 1 2&< | 2: 1 2&< 4&< | 1 3"), louder=-3.0),
    ),
    comments={4: ("2: 2& | 2: 4& | 1& 3 | 2& 3& | 3& 4& | 4 4&",)},
    fills=EVEN_FILLS,
    bass={
        2: ("2: 1:R 2:to | 1:R 2&:to",),
        3: ("2: 1:R 2&:5 3:to | 1:R 3:5 | 1:R 2&:5",),
        4: (
            "3: 1:R 2&:R 4:to | 3: 1:R 2&:5 4&:to | 2: 1:R 3:5 4:to | 2: 1:R 2&:5 3&:R "
            "| 1:R 2&:5 3:5 4&:to",
        ),
    },
    chords={
        2: ("2: 1:1.6 | 2: 1&:1.2 | 2&:1.0 | 1:0.7 2& | 0.7: -",),
        3: ("2: 1:2.4 | 2: 1:1.4 2&:1.2 | 2: 2&:1.3 | 1& 3 | 3&:1.2 | 0.7: -",),
        4: (
            "3: 1:2.4 3&:1.2 | 3: 1:1.4 2&:2.0 | 2: 2&:2.0 | 2: 1&:1.3 3:1.4 | 2.5: 4&:1.8 "
            "| 2: 1:1.4 2&:1.3 4:0.8 | 2: 1:3.4 | 1.5: 2&:1.0 4&:1.2 | 1.5: 1& 2& 4 | 1: -",
        ),
    },
    short=0.7,
    rest=0.28,
    talks=0.8,
    breaks=False,
    comment_on="stick",
)

BOSSA = replace(
    EVEN,
    name="bossa",
    title="a bossa",
    words=(r"bossa", r"latin", r"rh?umba", r"bolero", r"beguine"),
    layers=(
        Layer("closed", "hat", EIGHTHS, louder=1.0, steady=True, below=0.5),
        Layer("ride", "ride", EIGHTHS, louder=-3.0, steady=True, above=0.51),
        Layer("pedal", "hat", BACK_BEATS, above=0.51),
        Layer("stick", "stick", {3: ("1 2&", "2 3"), 4: ("1 2& 4", "2 3&")}),
        Layer("kick", "kick", {3: ("1 3&<",), 4: ("1 2&< 3 4&<",)}, louder=-2.0),
    ),
    comments={4: ("2: 4& | 3& 4& | 2& 4&",)},
    bass={
        2: ("1:R 2:5 2&:to",),
        3: ("2: 1:R 2&:5 3:5 | 1:R 3:5 3&:to",),
        4: ("6: 1:R 2&:5 3:5 4&:to | 2: 1:R 3:5 4&:to | 1: 1:R 2&:5 3:5",),
    },
    chords={
        2: ("2: 1:0.7 2&:0.8 | 1& 2 | 2: 1 2 | 0.5: -",),
        3: ("2: 1 2& | 2: 1 2 3& | 1& 3 | 0.5: -",),
        4: (
            "4: 1 2& 4 | 3: 1 2 3& | 2: 1:1.2 2&:1.2 | 2: 1& 3 4&:1.2 | 1.5: 1 3& | 0.6: -",
            "4: 1& 3 | 3: 2 3& | 2: 1& 3 4&:1.2 | 2: 2 4&:1.2 | 1.5: 1 2& 4 | 0.8: -",
        ),
    },
    rest=0.28,
    talks=0.5,
)

SAMBA = replace(
    BOSSA,
    name="samba",
    title="like a samba",
    words=(r"samba", r"bai[aã]o", r"calypso"),
    layers=(
        Layer("ride", "ride", EIGHTHS, louder=-3.0, steady=True, thins=True),
        Layer("pedal", "hat", BACK_BEATS),
        Layer("snare", "snare", {4: ("1 2 3 3& 4&>", "1& 2& 3& 4>")}, louder=-1.0),
        Layer("kick", "kick", all_of("1 2&< 3> 4&<"), louder=-2.0),
        Layer("low", "kick", {3: ("3",), 4: ("2: 3> | 3> 4&<",)}, louder=1.0),
    ),
    bass={
        2: ("1:R 2>:5",),
        3: ("1:R 3>:5",),
        4: ("4: 1:R 2&<:R 3>:5 4&<:to | 2: 1:R 3>:5 4&<:to | 1: 1:R 3>:5",),
    },
    chords={
        **BOSSA.chords,
        4: (
            "3: 1 2 3 3& 4& | 3: 1 2& 4 | 2: 1& 2& 4 | 2: 2 3& | 0.8: -",
            "3: 1& 2& 3& 4 | 3: 2 3& | 2: 1& 3 4& | 2: 1& 4&:1.0 | 0.8: -",
        ),
    },
    short=0.4,
    rest=0.28,
    talks=0.6,
)

GROOVES: tuple[Groove, ...] = (
    TWO_FEEL,
    WALTZ,
    SWING,
    BALLAD,
    TWELVE,
    SHUFFLE,
    BOSSA,
    SAMBA,
    EVEN,
)
"""All rows; of a style's, the first whose words are written is taken."""
OWN: Mapping[str, Groove] = MappingProxyType({each.style: each for each in GROOVES})
"""What each style of playing has where nothing else is asked for: the last of its rows."""
SLOW_TWELVE = 90.0
"""Dotted quarters a minute below which a 12/8 is a slow one."""


def groove_of(melody: Melody, style: Style, words: str | None = None) -> Groove:
    """The row for a melody or chart in a style: by words, its meter, or the style's own.

    ``words``: the author's, those at the start if not given.

    >>> import numpy as np
    >>> from phrasing.score.meters import Meter, bars_of_meters
    >>> from phrasing.style import STYLE
    >>> nothing = np.zeros(0, np.int64)
    >>> waltz = Melody(nothing, nothing, nothing, bars_of_meters({0: Meter(3, 4)}, 2880))
    >>> groove_of(waltz, STYLE["swing"]).name
    'waltz'
    """
    said = melody.style_words if words is None else words
    fitting = [groove for groove in GROOVES if groove.style == style.name]
    for groove in fitting:
        if any(re.search(rf"\b{word}", said, re.I) for word in groove.words):
            return groove
    meter = melody.meter
    if style.name == TWELVE.style and meter.beats == 12 and meter.has_no_off_beats:
        dotted = melody.tempos.tempos[0] * 2 / 3
        return TWELVE if dotted < SLOW_TWELVE else SHUFFLE
    if not meter.has_no_off_beats:
        return next((g for g in fitting if meter.beats in g.beats), OWN.get(style.name, SWING))
    return OWN.get(style.name, SWING)


def grooves_of(melody: Melody, style: Style) -> tuple[tuple[int, Groove], ...]:
    """What is played from which tick of the melody on, where its author changes the style."""
    return tuple(
        (onset, groove_of(melody, own, manner.words))
        for manner, (onset, own) in zip(
            melody.all_manners, by_section(melody, style), strict=True
        )
    )
