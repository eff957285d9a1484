"""Reading an edited marks table: what its author changed.

The table is the CSV that ``publishing.tables`` writes, after a round through a spreadsheet
(see ``spreadsheet``): rows in any order, some missing, columns added. ``mark`` is the column
to edit. A mark is the author's where it differs from the column ``rules say``, or where the
``rule`` column says so; every other note, and every note whose row is missing, is left to the
score and the rules. A table without ``rules say`` is taken at its word in every row.
"""

from __future__ import annotations

import difflib
from pathlib import Path

from phrasing.errors import PhrasingError
from phrasing.marking.spreadsheet import Row, read_rows
from phrasing.marks import CODE, MARK_NAMES
from phrasing.melody import Melody

NOTE, BAR, BEAT, PITCH = "note", "bar", "beat", "pitch"
MARK, RULES_SAY, RULE = "mark", "rules say", "rule"
AUTHORS = "author"
"""What the ``rule`` column says of a mark that is the author's."""
NO_MARK = ("", "-", "–", "—", "none")
ROUNDED = 0.011
"""Beats by which a place that a spreadsheet rounded may differ."""
SURELY = 4
"""Rows from which a table at another pitch is known as the same melody, transposed."""


def read_marks_table(path: Path, melody: Melody) -> dict[int, str | None]:
    """The author's marks by note index, None where the author wants no mark.

    The table of an excerpt or of a transposition of the melody fits too. Raises
    ``PhrasingError`` naming the file, the row and the remedy.
    """
    rows = read_rows(path, (NOTE, MARK))
    author: dict[int, str | None] = {}
    seen: dict[int, Row] = {}
    for row, i in zip(rows, _notes_of(path, rows, melody), strict=True):
        mark = _mark(path, row)
        if i in seen and _mark(path, seen[i]) != mark:
            raise PhrasingError(
                f"{path}, rows {seen[i].number} and {row.number}: two marks for note "
                f"{row.text(NOTE)}; delete one of the rows."
            )
        seen[i] = row
        if _is_authors(row, mark):
            author[i] = mark
    return author


def _mark(path: Path, row: Row) -> str | None:
    word = row.text(MARK).lower()
    if word in NO_MARK:
        return None
    if word not in CODE:
        near = difflib.get_close_matches(word, MARK_NAMES, 1)
        guess = f" Did you mean “{near[0]}”?" if near else ""
        raise PhrasingError(
            f"{path}, row {row.number}: there is no mark “{row.text(MARK)}”.{guess} The marks "
            f"are {', '.join(MARK_NAMES)}; an empty cell is no mark."
        )
    return word


def _is_authors(row: Row, mark: str | None) -> bool:
    if RULES_SAY not in row.cells or row.text(RULE).lower() == AUTHORS:
        return True
    said = row.text(RULES_SAY).lower()
    return mark != (None if said in NO_MARK else said)


def _notes_of(path: Path, rows: list[Row], melody: Melody) -> list[int]:
    """For each row, the index of its note.

    Notes are counted from the start of the melody, or of the excerpt that the table is of.
    """
    counted = [_counted(path, row) for row in rows]
    for start in _starts(rows, counted, melody):
        at = [start + count for count in counted]
        if _all_fit(rows, at, melody):
            return at
    _refuse(path, rows, counted, melody)
    return counted


def _counted(path: Path, row: Row) -> int:
    count = row.value(NOTE)
    if count is None or count < 1 or count != int(count):
        raise PhrasingError(
            f"{path}, row {row.number}: “{row.text(NOTE)}” is no number of a note; leave the "
            f"column “{NOTE}” as it was written."
        )
    return int(count) - 1


def _starts(rows: list[Row], counted: list[int], melody: Melody) -> list[int]:
    """Notes at which the table may begin: the first, then where its first row would lie."""
    if not rows or rows[0].value(BAR) is None or rows[0].value(BEAT) is None:
        return [0]
    places = [i for i in range(len(melody)) if _place_fits(rows[0], i, melody)]
    return [0, *(i - counted[0] for i in places if i > counted[0])]


def _all_fit(rows: list[Row], at: list[int], melody: Melody) -> bool:
    if any(i >= len(melody) for i in at):
        return False
    moved = {_moved(row, i, melody) for row, i in zip(rows, at, strict=True)} - {None}
    same = moved <= {0} or (len(moved) == 1 and len(rows) >= SURELY)
    return same and all(_place_fits(row, i, melody) for row, i in zip(rows, at, strict=True))


def _place_fits(row: Row, i: int, melody: Melody) -> bool:
    """Whether bar and beat are the note's; what a spreadsheet made no number of is passed."""
    bar, beat = row.value(BAR), row.value(BEAT)
    if bar is not None and bar != melody.bar_number[i]:
        return False
    return beat is None or abs(beat - float(melody.beat[i])) < ROUNDED


def _moved(row: Row, i: int, melody: Melody) -> float | None:
    pitch = row.value(PITCH)
    return None if pitch is None else float(melody.pitch[i]) - pitch


def _refuse(path: Path, rows: list[Row], counted: list[int], melody: Melody) -> None:
    """Name the first row that does not fit the melody."""
    for row, i in zip(rows, counted, strict=True):
        if i >= len(melody):
            raise PhrasingError(
                f"{path}, row {row.number}: there is no note {i + 1}; the melody has "
                f"{len(melody)}. Is this the table of another melody?"
            )
        if not _place_fits(row, i, melody) or _moved(row, i, melody):
            said = ", ".join(f"{name} {row.text(name)}" for name in (BAR, BEAT, PITCH))
            raise PhrasingError(
                f"{path}, row {row.number}: says {said}, but note {i + 1} of this melody is "
                f"bar {melody.bar_number[i]}, beat {float(melody.beat[i]):g}, pitch "
                f"{melody.pitch[i]}. Is this the table of another melody?"
            )
