"""The marks of a melody as a table: CSV for a spreadsheet, JSON for programs.

No cell holds text from the input file, so that none can act as a spreadsheet's formula. The
CSV is plain ASCII, which every program opens alike.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from phrasing.marking.explaining import reasons, where
from phrasing.marking.marking import AUTHOR, NO_RULE, Marking
from phrasing.marking.rules import RULES
from phrasing.marking.table import AUTHORS, BAR, BEAT, MARK, NOTE, PITCH, RULE, RULES_SAY
from phrasing.marks import MARK_NAMES, UNMARKED
from phrasing.melody import Melody
from phrasing.tempo import TICKS, Floats

COLUMNS = (
    NOTE, "place", BAR, BEAT, PITCH, "length", MARK, RULES_SAY, RULE, "why", "level", "gate",
)  # fmt: skip
"""The CSV's columns. ``mark`` is the one to edit; ``length`` is in quarter notes, ``level`` in
dB against the plain note, ``gate`` the fraction of the swung written length that sounds."""
ASCII = str.maketrans({"♯": "#", "♭": "b", "𝄪": "x", "“": "'", "”": "'", "’": "'"})


def marks_json(
    melody: Melody,
    marking: Marking,
    level: Floats,
    gate: Floats,
    why: Sequence[str | None] | None = None,
) -> dict[str, Any]:
    """The marks as one object, ready for ``json.dumps``.

    ``level`` (dB against the plain note), ``gate`` (fraction of the swung written length that
    sounds) and ``why`` (the reasons; worked out where not given, as an excerpt must not) have
    one entry a note.
    """
    return {
        "title": melody.title,
        "tempo": _number(melody.tempos.tempos[0]),
        "meter": str(melody.meter),
        "pickup": _number(melody.pickup / TICKS),
        "notes": _notes(melody, marking, level, gate, why),
    }


def marks_csv(
    melody: Melody,
    marking: Marking,
    level: Floats,
    gate: Floats,
    why: Sequence[str | None] | None = None,
) -> str:
    """The marks as CSV, one row a note, to be edited in a spreadsheet and read again.

    Arguments as in ``marks_json``.
    """
    text = io.StringIO()
    table = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    table.writeheader()
    for i, note in enumerate(_notes(melody, marking, level, gate, why)):
        said = _word(int(marking.by_rules[i]))
        row = {NOTE: i + 1, "place": where(melody, i), RULES_SAY: said, **note}
        table.writerow({name: _cell(value) for name, value in row.items()})
    return text.getvalue()


def _notes(
    melody: Melody,
    marking: Marking,
    level: Floats,
    gate: Floats,
    why: Sequence[str | None] | None,
) -> list[dict[str, Any]]:
    why = reasons(melody, marking) if why is None else why
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
        }
        for i in range(len(melody))
    ]


def _number(value: float, places: int = 6) -> int | float:
    """A number as a person would write it: whole where it is whole."""
    rounded = round(float(value), places)
    return int(rounded) if rounded == int(rounded) else rounded


def _word(mark: int) -> str | None:
    return None if mark == UNMARKED else MARK_NAMES[mark]


def _rule(rule: int) -> str | None:
    if rule == AUTHOR:
        return AUTHORS
    return None if rule == NO_RULE else RULES[rule].name


def _cell(value: Any) -> Any:
    return value.translate(ASCII) if isinstance(value, str) else value
