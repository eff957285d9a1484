"""Names on the line of fifths."""

from __future__ import annotations

import pytest

from phrasing.score.pitches import (
    in_signatures,
    moved_signature,
    name_of,
    nearest_place,
    octave_of,
    pitch_class,
    pitch_name,
    place_of,
    read_name,
    step_and_alter,
)


@pytest.mark.parametrize(
    ("text", "name", "rest"),
    [
        ("Bb7", "B♭", "7"),
        ("F♯m7", "F♯", "m7"),
        ("Bbb", "B♭♭", ""),
        ("c", "C", ""),
        ("Db", "D♭", ""),
    ],
)
def test_a_name_is_read_and_written(text: str, name: str, rest: str) -> None:
    place, left = read_name(text)
    assert (name_of(place), left) == (name, rest)


def test_no_name_is_an_error() -> None:
    with pytest.raises(ValueError, match="no note name"):
        read_name("N.C.")


@pytest.mark.parametrize("place", range(-12, 17))
def test_a_place_is_a_step_and_its_alteration(place: int) -> None:
    assert place_of(*step_and_alter(place)) == place


def test_octaves_go_by_the_letter() -> None:
    assert octave_of(59, place_of("C", -1)) == 4  # C♭4 sounds as B3
    assert octave_of(60, place_of("B", 1)) == 3  # B♯3 sounds as C4
    assert [pitch_name(p) for p in (60, 70, 42)] == ["C4", "B♭4", "F♯2"]


def test_signatures_stay_within_six_signs_unless_written_so() -> None:
    assert [in_signatures(f) for f in (-6, 6, 7, 8, -7, -9)] == [-6, 6, -5, -4, 5, 3]
    assert moved_signature(-7, 0) == -7
    assert moved_signature(5, 3) == -4


@pytest.mark.parametrize("pitch", range(12))
def test_the_nearest_name_has_two_signs_at_most(pitch: int) -> None:
    for centre in range(-22, 27):
        place = nearest_place(pitch, centre)
        assert pitch_class(place) == pitch
        assert abs(step_and_alter(place)[1]) <= 2
        assert abs(place - centre) <= 6 or not -9 <= centre <= 13
