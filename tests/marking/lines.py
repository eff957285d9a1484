"""Marks of short lines, for tests to read at a glance; melodies as in ``tests.lines``."""

from __future__ import annotations

from phrasing.marking.marking import AUTHOR, NO_RULE, Marking
from phrasing.marking.precedence import mark
from phrasing.marking.rules import RULES
from phrasing.score.marks import MARK_NAMES, UNMARKED
from tests.lines import melody


def words_of(marking: Marking) -> list[str | None]:
    return [None if code == UNMARKED else MARK_NAMES[code] for code in marking.mark]


def rules_of(marking: Marking) -> list[str | None]:
    names = {NO_RULE: None, AUTHOR: "author"}
    return [names[i] if i in names else RULES[i].name for i in marking.rule.tolist()]


def marked(words: str, meter: str = "4/4", pickup: int = 0, **request) -> list[str]:
    """``["mark by rule", ...]``, empty where a note has no mark."""
    marking = mark(melody(words, meter, pickup=pickup), **request)
    pairs = zip(words_of(marking), rules_of(marking), strict=True)
    return [f"{word} by {rule}" if word else "" for word, rule in pairs]


def applied(words: str, meter: str = "4/4", pickup: int = 0) -> list[list[str]]:
    """The names of all rules that apply to each note, the strongest first."""
    marking = mark(melody(words, meter, pickup=pickup))
    return [
        [rule.name for bit, rule in enumerate(RULES) if code >> bit & 1]
        for code in marking.applied.tolist()
    ]
