"""The scale of a chord: from its key, from its kind, and from where it leads."""

import pytest

from phrasing.backing.harmony import scale_of
from phrasing.chords import parse_chord


def scale(text: str, key: int | None = None, toward: str | None = None) -> list[int]:
    """Semitones above the root."""
    chord = parse_chord(text)
    found = scale_of(chord, key, parse_chord(toward) if toward else None)
    return sorted((pitch - chord.root) % 12 for pitch in found)


@pytest.mark.parametrize(
    "text,semitones",
    [
        ("Cmaj7", [0, 2, 4, 5, 7, 9, 11]),
        ("Cm7", [0, 2, 3, 5, 7, 9, 10]),
        ("C7", [0, 2, 4, 5, 7, 9, 10]),
        ("Cø7", [0, 1, 3, 5, 6, 8, 10]),
        ("C°7", [0, 2, 3, 5, 6, 8, 9, 11]),
        ("Cm(maj7)", [0, 2, 3, 5, 7, 9, 11]),
        ("C7alt", [0, 1, 3, 4, 6, 8, 10]),
        ("Cmaj7#11", [0, 2, 4, 6, 7, 9, 11]),
        ("C7#11", [0, 2, 4, 6, 7, 9, 10]),
    ],
)
def test_the_usual_scale_of_each_kind(text, semitones):
    found = scale(text)
    wanted = [s for s in semitones if text != "C°7" or s != 8]
    assert set(wanted) <= set(found)
    assert set(found) <= set(semitones)


def test_the_third_degree_of_a_major_key_takes_the_keys_notes():
    assert scale("Em7", key=0) == [0, 1, 3, 5, 7, 8, 10]
    assert scale("Em7") == [0, 2, 3, 5, 7, 9, 10]
    assert 6 in scale("Fmaj7", key=0)


def test_a_chord_from_outside_the_key_keeps_the_scale_of_its_kind():
    assert scale("Db7", key=0) == scale("Db7")


def test_a_dominant_darkens_on_its_way_to_a_minor_chord():
    assert {1, 8} <= set(scale("G7", toward="Cm7"))
    assert {2, 9} <= set(scale("G7", toward="Cmaj7"))
    assert {2, 9} <= set(scale("G7", toward="Dm7"))


def test_a_slash_chords_bass_belongs_to_it():
    assert 10 in scale("C/Bb")
