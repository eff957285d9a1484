"""What is heard between notes, for paper: the slurs that the shaped version plays."""

from __future__ import annotations

from phrasing.marking.marking import Marking
from phrasing.performing.dynamics import joins
from phrasing.score.melody import Melody


def heard_slurs(melody: Melody, marking: Marking) -> tuple[tuple[int, int], ...]:
    """First and last note of each run that is slurred; every other note is tongued.

    Where the author wrote slurs, theirs stand, and what would lie over them is left out.
    """
    taken = {note for first, last in melody.slurs for note in range(first, last + 1)}
    runs: list[tuple[int, int]] = []
    for note in joins(marking).nonzero()[0].tolist():
        if note + 1 >= len(melody) or {note, note + 1} & taken:
            continue
        if runs and runs[-1][1] == note:
            runs[-1] = (runs[-1][0], note + 1)
        else:
            runs.append((note, note + 1))
    return tuple(runs)
