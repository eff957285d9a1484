"""Text from a file or its name, made safe to show: nothing in it acts on the terminal."""

from __future__ import annotations

import re
import unicodedata

STRANGE = "\N{REPLACEMENT CHARACTER}"
JOINERS = "\N{ZERO WIDTH JOINER}\N{ZERO WIDTH NON-JOINER}"
"""Format characters that writing needs, and that do nothing to what stands around them."""
UNSAFE = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
"""Unicode's categories of what is no visible character: controls, changes of direction, halves
of surrogate pairs, private and unassigned ones, and other line ends."""
LONGEST_QUOTE = 60
"""Characters of what a message quotes that are shown at most."""
QUOTE = re.compile(f"“([^“”]{{{LONGEST_QUOTE + 1},}})”")


def printable(text: object) -> str:
    """The text on one line, with a sign in place of each character that is none.

    >>> printable("Blue\\x9b31m\\tBus\\u202e")
    'Blue�31m Bus�'
    """
    said = str(text)
    if said.isascii() and said.isprintable():
        return said
    return "".join(_shown(character) for character in said)


def _shown(character: str) -> str:
    if _is_safe(character):
        return character
    return " " if character.isspace() else STRANGE


def _is_safe(character: str) -> bool:
    return (
        character < "\x7f"
        or character in JOINERS
        or unicodedata.category(character) not in UNSAFE
    ) and character >= " "


def message(text: object) -> str:
    """The same for a message, in which long quotations are shortened, too.

    >>> message("There is no chord “" + "b" * 10_000 + "”.")
    'There is no chord “bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb…”.'
    """
    line = " ".join(printable(text).split())
    return QUOTE.sub(lambda quote: f"“{quote[1][:LONGEST_QUOTE]}…”", line)


def escaped(json: str) -> str:
    """JSON in which every character that is not safe to show is written as an escape.

    >>> print(escaped('{"title": "Bus\\x9b31m"}'))
    {"title": "Bus\\u009b31m"}
    """
    return "".join(c if _is_safe(c) or c in "\n\t" else _escape(c) for c in json)


def _escape(character: str) -> str:
    units = character.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[i : i + 2].hex()}" for i in range(0, len(units), 2))
