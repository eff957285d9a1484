"""The author's own marks, slurs, breaths and phrase marks."""

from __future__ import annotations

import pytest

from phrasing.score.marks import MARKS
from tests.reading.scores import END, FOUR, note, notes, read, slur


@pytest.mark.parametrize("mark", [m for m in MARKS if m.musicxml], ids=lambda m: m.name)
def test_each_mark_is_known_by_its_own_signs(tmp_path, mark):
    melody = read(
        tmp_path, note("C5", 1, articulations=" ".join(mark.musicxml)) + notes("D5:3")
    )
    assert dict(melody.marks) == {0: mark.name}


@pytest.mark.parametrize(
    ("signs", "mark"),
    [
        ("staccato accent", "clipped"),
        ("strong-accent staccato", "marcato"),
        ("strong-accent tenuto", "accent"),
        ("accent tenuto", "accent"),
        ("tenuto staccato", "tenuto"),
        ("detached-legato", "tenuto"),
        ("staccatissimo", "staccato"),
        ("spiccato", "staccato"),
        ("soft-accent", "stress"),
        ("stress", "stress"),
    ],
)
def test_signs_together_and_other_signs(tmp_path, signs, mark):
    melody = read(tmp_path, note("C5", 1, articulations=signs) + notes("D5:3"))
    assert dict(melody.marks) == {0: mark}


@pytest.mark.parametrize("signs", ["scoop", "doit", "falloff", "unstress", "breath-mark"])
def test_signs_that_are_no_mark(tmp_path, signs):
    melody = read(tmp_path, note("C5", 1, articulations=signs) + notes("D5:3"))
    assert dict(melody.marks) == {}


@pytest.mark.parametrize(
    "head",
    ['<notehead parentheses="yes">normal</notehead>', "<notehead>x</notehead>"],
)
def test_a_ghost_note_by_its_head(tmp_path, head):
    melody = read(tmp_path, notes("C5:1") + note("A4", 1, head=head) + notes("D5:2"))
    assert dict(melody.marks) == {1: "ghost"}


def test_an_ordinary_head_is_no_ghost(tmp_path):
    head = '<notehead parentheses="no">normal</notehead>'
    assert dict(read(tmp_path, note("C5", 4, head=head)).marks) == {}


def test_a_mark_on_the_main_note_of_a_chord_is_the_top_notes_mark(tmp_path):
    melody = read(tmp_path, note("C4", 4, articulations="accent") + note("G4", 4, chord=True))
    assert dict(melody.marks) == {0: "accent"}


def test_a_mark_where_a_tie_ends_is_not_struck(tmp_path):
    melody = read(
        tmp_path,
        note("C5", 4, tie="start", articulations="tenuto"),
        note("C5", 1, tie="stop", articulations="accent") + notes("D5:3"),
    )
    assert dict(melody.marks) == {0: "tenuto"}


def test_marks_come_again_with_a_repeat(tmp_path):
    melody = read(tmp_path, notes("C5:3") + note("D5", 1, articulations="staccato") + END)
    assert dict(melody.marks) == {1: "staccato", 3: "staccato"}


@pytest.mark.parametrize("sign", ["breath-mark", "caesura"])
def test_a_breath_ends_a_phrase(tmp_path, sign):
    melody = read(tmp_path, notes("C5:1") + note("D5", 1, articulations=sign) + notes("E5:2"))
    assert melody.phrase_ends == (1,)


def test_a_breath_after_a_tied_note_ends_the_phrase_with_it(tmp_path):
    melody = read(
        tmp_path,
        notes("C5:2") + note("D5", 2, tie="start"),
        note("D5", 1, tie="stop", articulations="breath-mark") + notes("E5:3"),
    )
    assert melody.phrase_ends == (1,)


def slurred(names: str, quarters: float, number: int = 1) -> str:
    """Notes of one length under one slur."""
    first, *middle, last = names.split()
    return (
        note(first, quarters, notations=slur("start", number))
        + "".join(note(name, quarters) for name in middle)
        + note(last, quarters, notations=slur("stop", number))
    )


def test_a_slur_over_two_notes_joins_them_and_is_no_phrase(tmp_path):
    melody = read(tmp_path, slurred("C5 D5", 2), slurred("E5 F5", 2))
    assert melody.slurs == ((0, 1), (2, 3))
    assert melody.phrase_ends == ()


def test_a_slur_over_a_bar_or_more_ends_a_phrase(tmp_path):
    melody = read(tmp_path, slurred("C5 D5 E5 F5", 1), notes("G5:1 F5:1 E5:1 D5:1"))
    assert melody.slurs == ((0, 3),)
    assert melody.phrase_ends == (3,)


def test_a_slur_over_a_triplet_is_no_phrase(tmp_path):
    melody = read(tmp_path, slurred("C5 D5 E5", 1 / 3) + notes("F5:3"))
    assert melody.slurs == ((0, 2),)
    assert melody.phrase_ends == ()


def test_a_slur_over_slurs_is_a_phrase_mark_and_joins_nothing(tmp_path):
    both = slur("start", 2) + slur("start", 1)
    melody = read(
        tmp_path,
        note("C5", 0.5, notations=both)
        + note("D5", 0.5, notations=slur("stop"))
        + note("E5", 0.5, notations=slur("start"))
        + note("F5", 0.5, notations=slur("stop") + slur("stop", 2))
        + notes("G5:2"),
    )
    assert melody.slurs == ((0, 1), (2, 3))
    assert melody.phrase_ends == (3,)


def test_a_line_slurred_on_from_its_last_note_does_not_end_there(tmp_path):
    turn = note("F5", 1, notations=slur("stop") + slur("start"))
    melody = read(
        tmp_path,
        note("C5", 1, notations=slur("start")) + notes("D5:1 E5:1") + turn,
        notes("G5:1 F5:1 E5:1") + note("D5", 1, notations=slur("stop")),
        notes("C5:4"),
    )
    assert melody.slurs == ((0, 3), (3, 7))
    assert melody.phrase_ends == (7,)


def test_a_slur_that_never_ends_is_none(tmp_path):
    melody = read(tmp_path, note("C5", 1, notations=slur("start")) + notes("D5:3"))
    assert melody.slurs == ()


def test_a_slur_over_a_bar_of_three(tmp_path):
    three = "<time><beats>3</beats><beat-type>4</beat-type></time>"
    melody = read(tmp_path, slurred("C5 D5 E5", 1), notes("F5:3"), attributes=three)
    assert melody.phrase_ends == (2,)
    assert three != FOUR


def test_a_slur_from_a_grace_note_begins_with_its_note(tmp_path):
    grace = note("B4", grace=True, notations=slur("start"))
    melody = read(tmp_path, grace + notes("C5:2") + note("D5", 2, notations=slur("stop")))
    assert melody.slurs == ((0, 1),)


def test_a_slur_comes_again_with_its_repeat(tmp_path):
    assert read(tmp_path, slurred("C5 D5", 2) + END).slurs == ((0, 1), (2, 3))
