"""The seven marks, one row each: their words, their signs on paper, what they ask of a player.

Names are the trade's; the MusicXML elements are those of the 4.0 schema. Levels and gates are
design parameters of this project but where a source is named: for the decibels of wind
players' marks no published measurement was found. The lengths of the short marks are within
what was counted in recorded solos (Weimar Jazz Database, ODbL; counted by us): a detached
quarter sounds for 0.51 to 0.56 of its time, a short off-beat note before a rest for 114 ms at
the median (78 to 184), and one note in twenty is shorter than 49 ms.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """One mark.

    ``name`` as written in tables; ``made`` is what it makes of a note, ``noun`` what such a
    note is called, ``manner`` how it is played; ``sound`` is its meaning on a legend.
    ``musicxml``: its articulations; ``parenthesised``: its notehead is. ``level``: dB against
    the plain note; ``gate``: the fraction of the swung written length that sounds;
    ``brightness``: -1 (dark) to 1 (bright); ``longest`` and ``shortest``: seconds, whatever
    the tempo. ``is_detached``: silence follows it; ``is_strong``: struck with a firm start;
    ``is_weight``: a little stronger for its place in the line, without being an arrival.
    """

    name: str
    made: str
    noun: str
    manner: str
    sound: str
    level: float
    gate: float
    brightness: float = 0.0
    longest: float | None = None
    shortest: float | None = None
    musicxml: tuple[str, ...] = ()
    parenthesised: bool = False
    is_detached: bool = False
    is_strong: bool = False
    is_weight: bool = False


MARKS: tuple[Mark, ...] = (
    Mark(
        name="marcato",
        made="marcato",
        noun="marcato",
        manner="played short with a firm start",
        sound="strong and detached: full tone, then silence",
        level=4.5,
        gate=0.55,
        brightness=0.5,
        longest=0.300,
        musicxml=("strong-accent",),
        is_detached=True,
        is_strong=True,
    ),
    Mark(
        name="accent",
        made="accented",
        noun="accent",
        manner="accented and sustained",
        sound="strong, sustained to the end of its written length",
        level=5.0,
        gate=0.98,
        brightness=0.5,
        musicxml=("accent",),
        is_strong=True,
    ),
    Mark(
        name="staccato",
        made="staccato",
        noun="short note",
        manner="played short, without weight",
        sound="short, no extra weight",
        level=0.0,
        gate=0.45,
        longest=0.250,
        shortest=0.060,
        musicxml=("staccato",),
        is_detached=True,
    ),
    Mark(
        name="clipped",
        made="clipped",
        noun="clipped note",
        manner="played with a firm start and stopped cleanly",
        sound="short and strong",
        level=3.5,
        gate=0.90,
        brightness=0.5,
        longest=0.250,
        shortest=0.070,
        musicxml=("accent", "staccato"),
        is_detached=True,
    ),
    Mark(
        name="tenuto",
        made="tenuto",
        noun="tenuto",
        manner="held for its full length with a little weight",
        sound="sustained, with a little more weight",
        level=2.5,
        gate=1.0,
        brightness=0.25,
        musicxml=("tenuto",),
        is_weight=True,
    ),
    Mark(
        name="stress",
        made="stressed",
        noun="stressed note",
        manner="played a little stronger than its neighbours",
        sound="stands out in level; length unchanged",
        level=3.5,
        gate=0.95,
        brightness=0.25,
        is_weight=True,
    ),
    Mark(
        name="ghost",
        made="ghosted",
        noun="ghost note",
        manner="played far softer than its neighbours",
        sound="far softer and darker than its neighbours",
        level=-9.0,
        gate=0.85,
        brightness=-1.0,
        parenthesised=True,
    ),
)

MARK_NAMES: tuple[str, ...] = tuple(mark.name for mark in MARKS)
CODE: dict[str, int] = {name: code for code, name in enumerate(MARK_NAMES)}
"""A mark's code in the columns of a ``Marking``; -1 stands for no mark."""

DECRESCENDO = "decrescendo"
DECRESCENDO_MEANS = "get softer from its first note to its last"
"""The sign over a run of notes, which is no note's mark, and what it asks for on a legend."""

UNMARKED = -1
DETACHED = tuple(code for code, mark in enumerate(MARKS) if mark.is_detached)
STRONG = tuple(code for code, mark in enumerate(MARKS) if mark.is_strong)
WEIGHTS = tuple(code for code, mark in enumerate(MARKS) if mark.is_weight)


def code_of(name: str | None) -> int:
    """A mark's code by its name; ``UNMARKED`` for None.

    >>> code_of("accent"), code_of(None)
    (1, -1)
    """
    return UNMARKED if name is None else CODE[name]
