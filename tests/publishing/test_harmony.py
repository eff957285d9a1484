"""Chord symbols as MusicXML."""

from __future__ import annotations

import pytest
from lxml import etree

from phrasing.publishing.score.harmony import add_harmony


def written(text: str, move: int = 0) -> etree._Element:
    parent = etree.Element("measure")
    add_harmony(parent, text, move)
    return parent[0]


@pytest.mark.parametrize(
    ("text", "root", "kind", "shown", "bass"),
    [
        ("C", "C", "major", "", None),
        ("Dm7", "D", "minor-seventh", "m7", None),
        ("G7", "G", "dominant", "7", None),
        ("Bbmaj7", "B-1", "major-seventh", "maj7", None),
        ("F♯m7♭5", "F1", "half-diminished", "m7♭5", None),
        ("E♭13", "E-1", "dominant-13th", "13", None),
        ("A7♭9", "A", "dominant", "7♭9", None),
        ("C6/9", "C", "major-sixth", "6/9", None),
        ("Gsus4", "G", "suspended-fourth", "sus4", None),
        ("B°7", "B", "diminished-seventh", "°7", None),
        ("Am9", "A", "minor-ninth", "m9", None),
        ("F/A", "F", "major", "", "A"),
        ("Cm7/B♭", "C", "minor-seventh", "m7", "B-1"),
    ],
)
def test_root_kind_text_and_bass(
    text: str, root: str, kind: str, shown: str, bass: str | None
) -> None:
    harmony = written(text)
    assert (
        harmony.findtext("root/root-step") + (harmony.findtext("root/root-alter") or "") == root
    )
    assert harmony.findtext("kind") == kind
    assert harmony.find("kind").get("text") == shown
    low = harmony.findtext("bass/bass-step")
    assert (low and low + (harmony.findtext("bass/bass-alter") or "")) == bass


def test_a_transposing_part_has_its_names_moved() -> None:
    harmony = written("B♭7/D", 3)
    assert harmony.findtext("root/root-step") == "G"
    assert harmony.findtext("bass/bass-step") == "B"


def test_no_chord_is_said_so() -> None:
    harmony = written("N.C.")
    assert (harmony.findtext("kind"), harmony.find("kind").get("text")) == ("none", "N.C.")


def test_what_is_no_chord_is_printed_as_it_stands() -> None:
    assert written("(break)").findtext("direction-type/words") == "(break)"
    assert written("Hdim♥").findtext("direction-type/words") == "Hdim♥"
