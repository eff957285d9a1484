"""The marks of a melody as a table: CSV for a spreadsheet, JSON for programs.

No cell holds text from the input file, so that none can act as a spreadsheet's formula. The
CSV is plain ASCII, which every program opens alike.
"""

from __future__ import annotations

import codecs
import csv
import difflib
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from phrasing.errors import PhrasingError
from phrasing.limits import NOTES, TABLE_BYTES
from phrasing.marking.explaining import reasons
from phrasing.marking.marking import AUTHOR, NO_RULE, Marking
from phrasing.marking.ownlines import lines_in, words_for
from phrasing.marking.ownsounds import OwnSound, checked_sound
from phrasing.marking.precedence import checked_rules
from phrasing.marking.readings import NONE, READINGS
from phrasing.marking.rules import RULES
from phrasing.score.marks import CODE, MARK_NAMES, UNMARKED
from phrasing.score.melody import Melody, OwnLine
from phrasing.score.meters import TICKS, Floats
from phrasing.score.words import where_read
from phrasing.style import style_named

SEPARATORS = ",;\t"
WORKBOOK = b"PK\x03\x04"
"""What zipped workbooks (Office Open XML, OpenDocument) begin with."""


@dataclass(frozen=True)
class Row:
    """One row: its number as the spreadsheet shows it, and its cells by column (lower case)."""

    number: int
    cells: Mapping[str, str]

    def text(self, column: str) -> str:
        """A cell on one line, without spaces around it; empty where there is none."""
        return self.cells.get(column, "")

    def value(self, column: str) -> float | None:
        """A cell as a number, with decimal point or comma; None where it is none."""
        try:
            value = float(self.text(column).replace(",", "."))
        except ValueError:
            return None
        return value if math.isfinite(value) else None


def read_rows(path: Path, needed: Sequence[str]) -> list[Row]:
    """The rows of a table that has the columns ``needed``; blank rows are passed over.

    Raises ``PhrasingError`` for what is no such table.
    """
    lines = _lines(path)
    top = next((n for n, line in enumerate(lines) if any(line) and not _is_hint(line)), None)
    header = [] if top is None else [name.lower() for name in lines[top]]
    for column in needed:
        if column not in header:
            raise PhrasingError(
                f"{path}: has no column “{column}” in its first row; edit the table that "
                "“phrasing marks” writes, keep its first row, and save it as CSV."
            )
    first = (top or 0) + 1
    return [
        Row(number, dict(zip(header, line, strict=False)))
        for number, line in enumerate(lines[first:], first + 1)
        if any(line)
    ]


def _is_hint(line: list[str]) -> bool:
    """Whether the row only says which separator is used, as some programs write first."""
    return line[0].lower().startswith("sep=")


def _lines(path: Path) -> list[list[str]]:
    text = _text(path)
    heads = (head for head in text.splitlines() if head.strip() and not _is_hint([head]))
    head = next(heads, "")
    separator = max(SEPARATORS, key=head.count)
    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    except csv.Error as error:
        raise PhrasingError(
            f"{path}: cannot be read as a table ({error}); save it as CSV."
        ) from error
    return [[" ".join(cell.split()) for cell in line] for line in lines]


def _text(path: Path) -> str:
    try:
        too_large = path.stat().st_size > TABLE_BYTES
        content = b"" if too_large else path.read_bytes()
    except OSError as error:
        raise PhrasingError(
            f"{path}: cannot be read ({error.strerror}); name a marks table saved as CSV."
        ) from error
    if too_large:
        raise PhrasingError(f"{path}: is far too large to be a marks table.")
    if content.startswith(WORKBOOK):
        raise PhrasingError(f"{path}: is a spreadsheet workbook; save the table as CSV.")
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


# Reading an edited marks table: what is to be played.
#
# The table is the CSV that ``marks_csv`` writes, after a round through a spreadsheet: rows in
# any order, some missing, columns added. ``mark`` is the column to edit, and what it says is
# played. A mark is the author's where it differs from the column ``rules say``, or where the
# ``rule`` column says so; a cell that was left as it was written stays so, whatever the rules
# would say today. The style and the rules that were left out come with the table. Notes whose
# rows are missing are left to the score and the rules. A table without ``rules say`` is the
# author's in every row.

NOTE, BAR, BEAT, PITCH = "note", "bar", "beat", "pitch"
MARK, RULES_SAY, RULE = "mark", "rules say", "rule"
OTHER, STYLE, LEFT_OUT = "second reading", "style", "left out"
LINE = "line"
OWN = {"level": "own level", "gate": "own gate"}
AUTHORS = "author"
"""What the ``rule`` column says of a mark that is the author's."""
NO_MARK = ("", "-", "–", "—", "none")
ROUNDED = 0.011
"""Beats by which a place that a spreadsheet rounded may differ."""
QUOTED = 20
"""Characters of a place in the table that a message repeats."""
SURELY = 4
"""Rows from which a table at another pitch is known as the same melody, transposed."""


@dataclass(frozen=True)
class MarksTable:
    """What an edited table says.

    ``marks``: the mark to be played by note index, None where there is to be none, for each
    row; ``changed``: those of them that are the author's. ``style`` and ``left_out``: the name
    of the style and the rules that the table was written with (None and none where it does
    not say). ``lines``: the slurs, decrescendos and phrase ends that the teacher drew; ``own``:
    the sound that the teacher wants of single notes.
    """

    marks: Mapping[int, str | None]
    changed: Mapping[int, str | None]
    style: str | None = None
    left_out: tuple[str, ...] = ()
    lines: tuple[OwnLine, ...] = ()
    own: Mapping[int, OwnSound] = field(default_factory=dict)


def read_marks_table(path: Path, melody: Melody) -> MarksTable:
    """The marks in an edited table.

    The table of an excerpt or of a transposition of the melody fits too. Raises
    ``PhrasingError`` naming the file, the row and the remedy.

    >>> from phrasing.marking.precedence import mark
    >>> tune = melody("C5:2 D5:2")
    >>> zeros = np.zeros(2)
    >>> table = folder / "marks.csv"
    >>> _ = table.write_text(marks_csv(tune, mark(tune), zeros, zeros))
    >>> read_marks_table(table, tune).marks
    {0: 'marcato', 1: 'marcato'}
    """
    rows = read_rows(path, (NOTE, MARK))
    marks: dict[int, str | None] = {}
    changed: dict[int, str | None] = {}
    seen: dict[int, Row] = {}
    for row, i in zip(rows, _notes_of(path, rows, melody), strict=True):
        mark = _mark(path, row)
        if i in seen and marks[i] != mark:
            raise PhrasingError(
                f"{path}, rows {seen[i].number} and {row.number}: two marks for note "
                f"{row.text(NOTE)}; delete one of the rows."
            )
        seen[i], marks[i] = row, mark
        if _is_authors(row, mark):
            changed[i] = mark
    lines = tuple(_own_lines(path, seen, len(melody)))
    sounds = {i: _own_sound(path, row) for i, row in seen.items()}
    own = {i: sound for i, sound in sounds.items() if sound != OwnSound()}
    return MarksTable(marks, changed, *_settings(path, rows), lines, own)


def _own_sound(path: Path, row: Row) -> OwnSound:
    """What the row wants of its note's sound."""
    return OwnSound(**{what: _own_number(path, row, what) for what in OWN})


def _own_number(path: Path, row: Row, what: str) -> float | None:
    said = row.text(OWN[what])
    if said in NO_MARK:
        return None
    value = row.value(OWN[what])
    try:
        return checked_sound(what, math.nan if value is None else value)
    except ValueError as error:
        raise PhrasingError(
            f"{path}, row {row.number}: “{said}” is no {OWN[what]}; {error}, or leave the cell "
            "empty."
        ) from None


def _own_lines(path: Path, rows: Mapping[int, Row], count: int) -> Iterator[OwnLine]:
    """The lines in the rows of these notes; their numbers count from the table's first note."""
    for i, row in rows.items():
        moved = i - _counted(path, row)
        try:
            lines = lines_in(row.text(LINE), i - moved)
        except ValueError as error:
            raise PhrasingError(
                f"{path}, row {row.number}: “{error}” is no line; write “slur to 8”, “softer "
                "to 12” with the number of a later note, or “phrase ends”."
            ) from None
        for line in lines:
            if line.last + moved >= count:
                raise PhrasingError(
                    f"{path}, row {row.number}: there is no note {line.last + 1} for a line to "
                    "go to."
                )
            yield replace(line, first=i, last=line.last + moved)


def _settings(path: Path, rows: list[Row]) -> tuple[str | None, tuple[str, ...]]:
    """The style and the rules left out that the table was written with, from its first row."""
    style = next((row.text(STYLE) for row in rows if row.text(STYLE)), None)
    names = next((row.text(LEFT_OUT) for row in rows if row.text(LEFT_OUT)), "")
    left_out = tuple(name.strip() for name in names.split(",") if name.strip())
    try:
        return (style_named(style).name if style else None), checked_rules(left_out)
    except PhrasingError as error:
        raise PhrasingError(f"{path}: {error}") from None


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
    if count is None or not 1 <= count <= NOTES or count != int(count):
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
            said = ", ".join(f"{name} {row.text(name)[:QUOTED]}" for name in (BAR, BEAT, PITCH))
            raise PhrasingError(
                f"{path}, row {row.number}: says {said}, but note {i + 1} of this melody is "
                f"bar {melody.bar_number[i]}, beat {float(melody.beat[i]):g}, pitch "
                f"{melody.pitch[i]}. Is this the table of another melody?"
            )


COLUMNS = (
    NOTE, "place", BAR, BEAT, PITCH, "length", MARK, RULES_SAY, RULE, "why", "level", "gate",
    "slurred", OWN["level"], OWN["gate"], LINE, OTHER, STYLE, LEFT_OUT,
)  # fmt: skip
"""The CSV's columns. ``mark`` is the one to edit; ``length`` is in quarter notes, ``level`` in
dB against the plain note, ``gate`` the fraction of the swung written length that sounds,
``slurred`` whether the note is slurred into the next. ``own level`` and ``own gate``: what the
teacher wants of this note alone (see ``ownsounds``). ``line``: the teacher's own slurs,
decrescendos and phrase ends (see ``ownlines``). ``second reading``: the mark that it
has in another reading by schooled players, where there is one. ``style`` and ``left out`` say
with what style and without which rules the table was made, and hold when it is read again."""
ASCII = str.maketrans({"♯": "#", "♭": "b", "𝄪": "x", "“": "'", "”": "'", "’": "'"})


def marks_json(
    melody: Melody,
    marking: Marking,
    level: Floats,
    gate: Floats,
    why: Sequence[str | None] | None = None,
    read: Melody | None = None,
) -> dict[str, Any]:
    """The marks as one object, ready for ``json.dumps``.

    ``level`` (dB against the plain note), ``gate`` (fraction of the swung written length that
    sounds) and ``why`` (the reasons; worked out where not given, as an excerpt must not) have
    one entry a note. ``read``: the melody as its player reads it, after which notes are named.

    >>> from phrasing.marking.precedence import mark
    >>> tune = melody("C5:2 D5:2")
    >>> zeros = np.zeros(2)
    >>> marks_json(tune, mark(tune), zeros, zeros)["notes"][0]["mark"]
    'marcato'
    """
    return {
        "title": melody.title,
        "style": marking.style.name,
        "decrescendos": [{"from": s.first + 1, "to": s.last + 1} for s in marking.swells],
        "tempo": _number(melody.tempos.tempos[0]),
        "meter": str(melody.meter),
        "pickup": _number(melody.pickup / TICKS),
        "notes": _notes(melody, marking, level, gate, why, read or melody),
    }


def marks_csv(
    melody: Melody,
    marking: Marking,
    level: Floats,
    gate: Floats,
    why: Sequence[str | None] | None = None,
    read: Melody | None = None,
) -> str:
    """The marks as CSV, one row a note, to be edited in a spreadsheet and read again.

    Arguments as in ``marks_json``.

    >>> from phrasing.marking.precedence import mark
    >>> tune = melody("C5:2 D5:2")
    >>> zeros = np.zeros(2)
    >>> marks_csv(tune, mark(tune), zeros, zeros).splitlines()[0][:28]
    'note,place,bar,beat,pitch,le'
    """
    text = io.StringIO()
    table = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    table.writeheader()
    read = read or melody
    for i, note in enumerate(_notes(melody, marking, level, gate, why, read)):
        said = _word(int(marking.by_rules[i]))
        row = {
            NOTE: i + 1,
            "place": where_read(read, melody, i),
            RULES_SAY: said,
            OWN["level"]: _wanted(marking.own_level[i], 2),
            OWN["gate"]: _wanted(marking.own_gate[i], 3),
            LINE: words_for(melody.lines, i),
            OTHER: _other(marking, i),
            STYLE: marking.style.name,
            LEFT_OUT: ", ".join(marking.left_out),
            **note,
        }
        table.writerow({name: _cell(value) for name, value in row.items()})
    return text.getvalue()


def _notes(
    melody: Melody,
    marking: Marking,
    level: Floats,
    gate: Floats,
    why: Sequence[str | None] | None,
    read: Melody,
) -> list[dict[str, Any]]:
    why = reasons(read, marking) if why is None else why
    return [
        {
            BAR: int(melody.bar_number[i]),
            BEAT: _number(melody.beat[i]),
            PITCH: int(melody.pitch[i]),
            "length": _number(melody.length[i] / TICKS),
            MARK: _word(int(marking.mark[i])),
            RULE: _rule(int(marking.rule[i])),
            "why": why[i],
            "level": _number(level[i], 2),
            "gate": _number(gate[i], 3),
            "slurred": bool(marking.joined[i] and i + 1 < len(melody)),
        }
        for i in range(len(melody))
    ]


def _number(value: float, places: int = 6) -> int | float:
    """A number as a person would write it: whole where it is whole."""
    rounded = round(float(value), places)
    return int(rounded) if rounded == int(rounded) else rounded


def _wanted(value: float, places: int) -> int | float | None:
    return None if math.isnan(value) else _number(value, places)


def _word(mark: int) -> str | None:
    return None if mark == UNMARKED else MARK_NAMES[mark]


def _rule(rule: int) -> str | None:
    if rule == AUTHOR:
        return AUTHORS
    return None if rule == NO_RULE else RULES[rule].name


def _other(marking: Marking, i: int) -> str | None:
    """The mark in the second reading and what that is called: "accent (both held)"."""
    if marking.reading[i] == NONE:
        return None
    word = _word(int(marking.other[i])) or "none"
    return f"{word} ({READINGS[int(marking.reading[i])].name})"


def _cell(value: Any) -> Any:
    return value.translate(ASCII) if isinstance(value, str) else value
