"""What is asked when a melody is opened: what its file leaves open, the octave that fits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from phrasing.desk.changes import ASK
from phrasing.desk.work import Work, changed
from phrasing.errors import PhrasingError
from phrasing.score.doubts import Answer, Doubt
from phrasing.score.transposing import fit


def doubts_of(work: Work) -> list[Doubt]:
    """The questions that nobody has answered, in the order in which one decides the next."""
    return [doubt for doubt in _doubts(work) if ASK + doubt.about not in work.held]


def _doubts(work: Work) -> Iterator[Doubt]:
    yield from work.read.reading.doubts
    if ASK + "transpose" in work.held:
        return
    lesson = work.lesson
    found = fit(lesson.melody, lesson.instrument)
    if found.octaves:
        yield _octave_doubt(len(found.outside), found.octaves, lesson.instrument.name)


def _octave_doubt(outside: int, octaves: int, instrument: str) -> Doubt:
    """Whether to move a melody to where its instrument can play it."""
    notes = "One note lies" if outside == 1 else f"{outside} notes lie"
    count = "an octave" if abs(octaves) == 1 else f"{abs(octaves)} octaves"
    side = "higher" if octaves > 0 else "lower"
    question = f"{notes} outside the range ({instrument}). Where is it played?"
    answers = (Answer(octaves, f"{count} {side}, where all fit"), Answer(0, "where it is"))
    return Doubt("octave", question, answers)


def answered(work: Work, answers: Any) -> Work:
    """The work with questions answered, as one step.

    ``answers``: a value for each question by what it is about. Behind one that is answered
    otherwise than proposed nothing is taken, since it may not be in question any more, or be
    another question. Raises ``PhrasingError`` for what is no answer.
    """
    if not isinstance(answers, dict):
        raise PhrasingError("A page answers with a value for each question; it is out of date.")
    taken = list(_taken(doubts_of(work), answers))
    if not taken:
        raise PhrasingError("Nothing is in question any more; the page is out of date.")
    sets = {ASK + doubt.about: answer.value for doubt, answer in taken}
    return changed(work, sets, "asked: " + "; ".join(answer.words for _, answer in taken))


def _taken(doubts: list[Doubt], answers: Mapping[str, Any]) -> Iterator[tuple[Doubt, Answer]]:
    for doubt in doubts:
        value = answers.get(doubt.about, doubt.proposed)
        found = next((each for each in doubt.answers if each.value == value), None)
        if found is None:
            raise PhrasingError(f"“{str(value)[:40]}” is no answer; the page is out of date.")
        yield doubt, found
        if value != doubt.proposed:
            return
