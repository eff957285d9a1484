"""A teacher's own lines: slurs, decrescendos and phrase ends, as words in the marks table.

The cell of a note says what begins or ends there: ``slur to 8``, ``softer to 12``, ``phrase
ends``; several are parted by semicolons. The numbers are those of the table's notes, from 1.
They win over the rules, as the marks do.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from phrasing.score.melody import Melody, OwnLine
from phrasing.score.meters import Ints

WORDS = {"slur": "slur to {}", "softer": "softer to {}", "end": "phrase ends"}
"""What the table says of each kind of line."""
PATTERN = re.compile(r"(?P<end>phrase ends)|(?P<kind>slur|softer) to (?P<last>\d{1,6})")


def lines_in(text: str, note: int) -> list[OwnLine]:
    """The lines that a note's cell asks for; ``note`` is its index.

    Raises ``ValueError`` with what is not understood.

    >>> lines_in("slur to 8; phrase ends", 4)
    [OwnLine(kind='slur', first=4, last=7), OwnLine(kind='end', first=4, last=4)]
    """
    found = []
    for words in filter(None, (" ".join(part.lower().split()) for part in text.split(";"))):
        said = PATTERN.fullmatch(words)
        if said is None:
            raise ValueError(words)
        last = note if said["end"] else int(said["last"]) - 1
        if not said["end"] and last <= note:
            raise ValueError(words)
        found.append(OwnLine("end" if said["end"] else said["kind"], note, last))
    return found


def words_for(lines: Iterable[OwnLine], note: int) -> str:
    """The cell of a note.

    >>> words_for([OwnLine("softer", 4, 11), OwnLine("end", 4, 4)], 4)
    'softer to 12; phrase ends'
    """
    return "; ".join(
        WORDS[line.kind].format(line.last + 1) for line in lines if line.first == note
    )


def drawn_in(melody: Melody, lines: Iterable[OwnLine]) -> Melody:
    """The melody with the teacher's lines among its author's; those past its end are left out.

    >>> drawn_in(melody("C5:1 D5:1 E5:1"), [OwnLine("slur", 0, 2)]).slurs
    ((0, 2),)
    """
    kept = tuple(line for line in lines if line.last < len(melody))

    def of(kind: str) -> list[tuple[int, int]]:
        return [(line.first, line.last) for line in kept if line.kind == kind]

    return replace(
        melody,
        slurs=tuple(sorted({*melody.slurs, *of("slur")})),
        wedges=tuple(sorted({*melody.wedges, *of("softer")})),
        phrase_ends=tuple(sorted({*melody.phrase_ends, *(last for _, last in of("end"))})),
        lines=tuple(sorted({*melody.lines, *kept})),
    )


def with_authors(rows: Ints, melody: Melody) -> Ints:
    """Rows of (first, last) note that get softer: the author's, and the rules' elsewhere."""
    own = np.array(melody.wedges, dtype=np.int64).reshape(-1, 2)
    if not len(own):
        return rows
    apart = (rows[:, :1] > own[:, 1]) | (rows[:, 1:] < own[:, 0])
    both = np.concatenate([rows[apart.all(axis=1)], own])
    return both[np.lexsort(both.T[::-1])]
