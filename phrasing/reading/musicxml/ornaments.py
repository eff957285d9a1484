"""Ornaments that are written out: 64ths and shorter before a longer note, its grace notes.

Programs that write down what was played make such of grace notes. Rhythms of longer values
are meant as they stand. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from phrasing.reading.musicxml.line import Struck

SECONDS = 0.070
"""How long the notes of an ornament last at most, all together."""
MOST = 3
"""How many there are at most."""
VALUE = Fraction(1, 16)
"""Quarter notes that each lasts at most: a 64th."""
LONGER = 3
"""How many times as long as the ornament the note after it lasts at least."""
EIGHTH = Fraction(1, 2)


def with_ornaments(line: Sequence[Struck], tempo: float) -> list[Struck]:
    """The line of a bar with its written-out ornaments as grace notes.

    ``tempo``: quarter notes a minute. The main note starts with the ornament, but where it
    stands on an eighth of the bar: then the note or rest before lasts until there.
    """
    read: list[Struck] = []
    quick: list[Struck] = []
    for struck in line:
        if _is_quick(struck) and (not quick or _meet(quick[-1], struck)):
            quick.append(struck)
            continue
        if _is_quick(struck):
            read, quick = [*read, *quick], [struck]
        else:
            read += _resolved(quick, struck, read, tempo)
            quick = []
    return read + quick


def _is_quick(struck: Struck) -> bool:
    return struck.pitch is not None and not struck.is_grace and struck.length <= VALUE


def _meet(first: Struck, second: Struck) -> bool:
    return first.at + first.length == second.at


def _resolved(
    quick: list[Struck], main: Struck, before: list[Struck], tempo: float
) -> list[Struck]:
    """The quick notes and the note after them; the end of ``before`` may be lengthened."""
    total = sum((note.length for note in quick), Fraction(0))
    sounds = main.pitch is not None and not main.is_grace
    tied = bool(quick) and quick[-1].pitch == main.pitch
    if not (
        0 < len(quick) <= MOST
        and sounds
        and not tied
        and _meet(quick[-1], main)
        and main.length >= LONGER * total
        and float(total) * 60 / tempo <= SECONDS
    ):
        return [*quick, main]
    start = quick[0].at
    last = before[-1] if before else None
    if main.at % EIGHTH == 0 and last is not None and last.at + last.length == start:
        before[-1] = replace(last, length=last.length + total)
        start = main.at
    graces = [replace(note, at=start, length=Fraction(0), is_grace=True) for note in quick]
    length = main.at + main.length - start
    return [*graces, replace(main, at=start, length=length)]
