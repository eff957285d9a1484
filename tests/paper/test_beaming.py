"""Files without beams are beamed as new scores are."""

from __future__ import annotations

import pytest
from lxml import etree

from phrasing.paper.beaming import add_beams
from phrasing.paper.musicxml import new_score
from tests.lines import melody


def beams_of(part: etree._Element) -> list[list[str]]:
    return [
        [f"{beam.get('number')} {beam.text}" for beam in note.findall("beam")]
        for note in part.iter("note")
    ]


@pytest.mark.parametrize(
    "notes,options",
    [
        ("C5:1 D5:1 E5:1 F5:1 G5:2 A5:1 B4:1 C5:1 r:1 D5:1 E5:1 F5:4", {}),
        ("C5:0.5 D5:0.5 E5:1 F5:1.5 G5:0.5 A5:1 B4:0.5 C5:0.5 r:2", {}),
        ("C5:0.66667 D5:0.66667 E5:0.66667 F5:2 G5:0.66667 A5:0.66667 B4:0.66667 C5:2", {}),
        ("C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 C5:2 D5:1 E5:3", {"meter": "6/8"}),
        ("C5:1 D5:1 E5:1 F5:1 G5:1 A5:1", {"meter": "3/4"}),
        ("G4:1 A4:1 C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 B5:1 C6:1", {"pickup": 1}),
    ],
)
def test_beams_are_those_of_a_new_score(notes: str, options: dict) -> None:
    part = etree.fromstring(new_score(melody(notes, **options))).find("part")
    wanted = beams_of(part)
    for beam in list(part.iter("beam")):
        beam.getparent().remove(beam)
    add_beams(part)
    assert beams_of(part) == wanted
    assert any(wanted)


def test_a_part_with_beams_is_left_alone() -> None:
    part = etree.fromstring(new_score(melody("C5:1 D5:1 E5:1 F5:1 G5:4"))).find("part")
    for beam in list(part.iter("beam"))[:2]:
        beam.getparent().remove(beam)
    before = etree.tostring(part)
    add_beams(part)
    assert etree.tostring(part) == before
