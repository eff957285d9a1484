"""From a melody to its marks: what a schooled player would do with each note, and why."""

from phrasing.marking.marking import AUTHOR, NO_RULE, Link, Marking, Phrase, Swell
from phrasing.marking.precedence import RULE_NAMES, mark

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
