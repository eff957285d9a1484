"""Notes, places and intervals are named as musicians name them."""

from dataclasses import replace

import pytest

from phrasing.marking.explaining import note_name, where
from phrasing.marking.wording import interval, length_name, on_place
from phrasing.melody import Bar, Key, Meter
from tests.lines import melody

THIRD = "0.6666667"


@pytest.mark.parametrize(
    "pitch, fifths, name",
    [
        (60, 0, "C4"), (69, 0, "A4"), (70, 0, "B♭4"), (63, 0, "E♭4"), (66, 0, "F♯4"),
        (61, 0, "C♯4"), (68, 0, "A♭4"), (70, -2, "B♭4"), (66, -2, "G♭4"), (61, -5, "D♭4"),
        (68, 3, "G♯4"), (70, 5, "A♯4"), (63, 4, "D♯4"), (65, 4, "F4"), (65, 6, "E♯4"),
        (60, 7, "B♯3"), (59, -5, "B3"), (59, -6, "C♭4"), (59, -7, "C♭4"), (64, -7, "F♭4"),
        (0, 0, "C-1"), (127, 0, "G9"),
    ],
)  # fmt: skip
def test_a_pitch_is_spelled_by_its_key(pitch, fifths, name):
    assert note_name(pitch, fifths) == name


def test_a_minor_key_has_its_leading_note_sharp():
    assert note_name(66, -2, minor=True) == "F♯4"


@pytest.mark.parametrize("fifths", range(-7, 8))
def test_no_key_asks_for_double_signs_and_every_name_is_that_pitch(fifths):
    signs = {"♯": 1, "♭": -1}
    steps = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    for pitch in range(48, 84):
        name = note_name(pitch, fifths)
        sign = signs.get(name[1], 0)
        assert 12 * (int(name[-1]) + 1) + steps[name[0]] + sign == pitch
        assert len(name) == 2 + abs(sign)


class TestWhere:
    def words(self, line, meter="4/4", pickup=0):
        tune = melody(line, meter, pickup=pickup)
        return [where(tune, i) for i in range(len(tune))]

    def test_beats_and_off_beats(self):
        assert self.words("r:9 C5:1 D5:4 E5:2") == [
            "bar 2, and of 1, C5", "bar 2, beat 2, D5", "bar 2, beat 4, E5",
        ]  # fmt: skip

    def test_sixteenths_and_triplets(self):
        line = "C5:0.5 C5:0.5 C5:0.5 C5:0.5 " + f"C5:{THIRD} " * 3
        assert self.words(line) == [
            "bar 1, beat 1, C5", "bar 1, the “e” of 1, C5", "bar 1, and of 1, C5",
            "bar 1, the “a” of 1, C5", "bar 1, beat 2, C5",
            "bar 1, the second triplet of 2, C5", "bar 1, the third triplet of 2, C5",
        ]  # fmt: skip

    def test_finer_and_unusual_places(self):
        assert self.words("C5:0.25 C5:1.7 C5:0.05")[1:] == [
            "bar 1, the second thirty-second of 1, C5", "bar 1, beat 1.98, C5",
        ]  # fmt: skip

    def test_compound_beats_are_counted_in_their_eighths(self):
        assert self.words("C5:3 C5:1 C5:1.5 C5:0.5", "6/8") == [
            "bar 1, beat 1, C5", "bar 1, beat 2, C5", "bar 1, the second eighth of 2, C5",
            "bar 1, the sixth sixteenth of 2, C5",
        ]  # fmt: skip

    def test_a_pickup(self):
        assert self.words("C5:1 D5:8", pickup=1) == [
            "pickup, and of 4, C5", "bar 1, beat 1, D5",
        ]  # fmt: skip

    def test_a_repeat(self):
        tune = melody("C5:8 C5:8 C5:8")
        bars = tuple(Bar(k * 3840, 3840, 1, Meter(), passing=k + 1) for k in range(3))
        again = replace(tune, bars=bars)
        assert [where(again, i) for i in range(3)] == [
            "bar 1, beat 1, C5", "bar 1 the second time, beat 1, C5",
            "bar 1 the third time, beat 1, C5",
        ]  # fmt: skip

    def test_the_key_in_force(self):
        tune = replace(melody("A#4:8 A#4:8"), keys=(Key(0, -1), Key(3840, 5)))
        assert [where(tune, i)[-3:] for i in range(2)] == ["B♭4", "A♯4"]

    def test_a_place_seen_from_another_note(self):
        tune = melody("C5:1 C5:1 C5:6 C5:8 C5:8")
        assert [on_place(tune, i, 0) for i in range(1, 5)] == [
            "on the and of 1", "on beat 2", "on beat 1 of the next bar", "on beat 1 of bar 3",
        ]  # fmt: skip
        assert on_place(tune, 1, 3) == "on the and of 1 of the bar before"


@pytest.mark.parametrize(
    "semitones, name",
    [
        (1, "a half step"), (-2, "a whole step"), (-5, "a fourth"), (6, "a tritone"),
        (12, "an octave"), (-19, "a twelfth"), (24, "two octaves"), (31, "31 half steps"),
    ],
)  # fmt: skip
def test_intervals_have_their_names(semitones, name):
    assert interval(semitones) == name


@pytest.mark.parametrize(
    "ticks, name", [(960, "a quarter"), (1440, "a dotted quarter"), (2400, "2.5 beats")]
)
def test_lengths_have_their_names(ticks, name):
    assert length_name(ticks) == name
