"""From a melody to its marks: what a schooled player would do with each note, and why.

The rules are loaded when they are first used; a performance needs the types alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from phrasing.marking.marking import AUTHOR, NO_RULE, Link, Marking, Phrase, Swell

if TYPE_CHECKING:
    from phrasing.marking.precedence import RULE_NAMES as RULE_NAMES
    from phrasing.marking.precedence import mark as mark

__all__ = [
    "AUTHOR",
    "NO_RULE",
    "RULE_NAMES",
    "Link",
    "Marking",
    "Phrase",
    "Swell",
    "mark",
]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from phrasing.marking import precedence

    return getattr(precedence, name)
