"""Chord symbols: what is raised, what is bracketed, what is stacked."""

from __future__ import annotations

import pytest

from phrasing.paper.chordsigns import Symbol, set_symbol, symbol_width, taken_apart
from phrasing.paper.drawing import Words, box_of, drawn, element

SIZE = 100.0


@pytest.mark.parametrize(
    "text,root,quality,changes,bass",
    [
        ("C", "C", "", (), ""),
        ("B♭maj7", "B♭", "maj7", (), ""),
        ("F♯m7♭5", "F♯", "m7", ("♭5",), ""),
        ("G7♭9♯11", "G", "7", ("♭9", "♯11"), ""),
        ("G7(♭9,♯11)", "G", "7", ("♭9", "♯11"), ""),
        ("A7b9", "A", "7", ("♭9",), ""),
        ("Bb6/9", "B♭", "6/9", (), ""),
        ("Cm(maj7)", "C", "m(maj7)", (), ""),
        ("Cadd9", "C", "", ("add9",), ""),
        ("D−7", "D", "−7", (), ""),
        ("D-9", "D", "-9", (), ""),
        ("C7sus4", "C", "7sus4", (), ""),
        ("C/E", "C", "", (), "E"),
        ("D7♯9/F♯", "D", "7", ("♯9",), "F♯"),
        ("B°7", "B", "°7", (), ""),
    ],
)
def test_a_symbol_is_taken_apart(text, root, quality, changes, bass) -> None:
    assert taken_apart(text) == Symbol(root, quality, changes, bass)


def test_no_chord_is_only_words() -> None:
    assert taken_apart("N.C.") is None


def words_of(text: str) -> dict[str, Words]:
    group = element("g")
    set_symbol(group, text, 0.0, 0.0, SIZE)
    return {item.text: item for item in drawn(group, {}) if isinstance(item, Words)}


def test_a_suffix_is_raised_and_smaller() -> None:
    words = words_of("Cm7")
    assert words["m7"].y < words["C"].y
    assert words["m7"].size < words["C"].size


def test_two_alterations_stand_one_over_the_other_and_do_not_touch() -> None:
    words = words_of("G7♭9♯5")
    nine, five = words["9"], words["5"]
    assert nine.y + 0.7 * nine.size <= five.y
    assert symbol_width("G7♭9♯5", SIZE) < symbol_width("G7♭9", SIZE) * 1.1


@pytest.mark.parametrize("text", ["C", "B♭maj7", "F♯m7♭5", "G7♭9♯11/D", "N.C."])
def test_a_symbol_is_as_wide_as_is_said(text: str) -> None:
    group = element("g")
    width = set_symbol(group, text, 0.0, 0.0, SIZE)
    box = box_of(drawn(group, {}))
    assert box is not None
    assert 0.75 * width <= box.right <= width * 1.001
