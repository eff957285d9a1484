"""What a file leaves open, so that the teacher can be asked instead of being surprised."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

About = Literal["track", "tempo", "meter", "pickup", "instrument", "octave"]
"""What can be in doubt: the options of a request that decide it, by name."""


@dataclass(frozen=True)
class Answer:
    """One way to read it: the option's value, and the words for it."""

    value: str | float
    words: str


@dataclass(frozen=True)
class Doubt:
    """A question that a file leaves open.

    ``answers``: the first is the one that is proposed.

    >>> straight = Answer(0.0, "no, bar 1 starts with the first note")
    >>> Doubt("pickup", "Is there a pickup?", (straight,)).proposed
    0.0
    """

    about: About
    question: str
    answers: tuple[Answer, ...]

    @property
    def proposed(self) -> str | float:
        """The value that holds where nobody says otherwise."""
        return self.answers[0].value


def counted(quarters: float) -> str:
    """So many quarter notes in words.

    >>> counted(1), counted(1.5)
    ('a quarter note', '1.5 quarter notes')
    """
    return "a quarter note" if quarters == 1 else f"{quarters:g} quarter notes"


def pickup_doubt(proposed: float, *others: float) -> Doubt:
    """Where bar 1 starts: after ``proposed`` quarter notes, or after others.

    >>> [answer.words for answer in pickup_doubt(1.0, 0.0).answers]
    ['a pickup of a quarter note', 'bar 1 starts with the first note']
    """
    return Doubt(
        "pickup",
        "Where does bar 1 start?",
        tuple(Answer(each, _starts(each)) for each in (proposed, *others)),
    )


def _starts(quarters: float) -> str:
    return (
        f"a pickup of {counted(quarters)}" if quarters else "bar 1 starts with the first note"
    )
