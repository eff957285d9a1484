"""Rows of a table that has been through a spreadsheet program.

Commas, semicolons or tabs; decimal points or commas; any line ends; UTF-8 with or without a
byte order mark, UTF-16 with one, or Windows Latin.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from phrasing.errors import PhrasingError

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
            return float(self.text(column).replace(",", "."))
        except ValueError:
            return None


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
        content = path.read_bytes()
    except OSError as error:
        raise PhrasingError(
            f"{path}: cannot be read ({error.strerror}); name a marks table saved as CSV."
        ) from error
    if content.startswith(WORKBOOK):
        raise PhrasingError(f"{path}: is a spreadsheet workbook; save the table as CSV.")
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")
