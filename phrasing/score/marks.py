"""The seven marks: their words, their signs on paper, and what they ask of a player.

Names are the trade's; the MusicXML elements are those of the 4.0 schema.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """One mark: ``name`` as written in tables, its MusicXML articulations, its meaning."""

    name: str
    musicxml: tuple[str, ...]
    sound: str
    parenthesised: bool = False


MARKS: tuple[Mark, ...] = (
    Mark("marcato", ("strong-accent",), "strong and detached: full tone at once, then silence"),
    Mark("accent", ("accent",), "strong, sustained to the end of its written length"),
    Mark("staccato", ("staccato",), "short, no extra weight"),
    Mark("clipped", ("accent", "staccato"), "short and strong"),
    Mark("tenuto", ("tenuto",), "sustained, with a little more weight than its neighbours"),
    Mark("stress", (), "stands out in level; length unchanged"),
    Mark("ghost", (), "far softer and darker than its neighbours", parenthesised=True),
)

MARK_NAMES: tuple[str, ...] = tuple(mark.name for mark in MARKS)
CODE: dict[str, int] = {name: code for code, name in enumerate(MARK_NAMES)}
"""A mark's code in the columns of a ``Marking``; -1 stands for no mark."""

UNMARKED = -1
