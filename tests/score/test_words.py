"""Notes, places and intervals are named as musicians name them."""

from dataclasses import replace

import pytest
from lxml import etree

from phrasing.marking.explaining import where
from phrasing.paper.musicxml import new_score
from phrasing.score.melody import Key
from phrasing.score.meters import Bar, Meter
from phrasing.score.words import beat_name, interval, length_name, name_at, on_place
from tests.lines import melody

THIRD = "0.6666667"


def names(words, fifths):
    tune = replace(melody(words), keys=(Key(0, fifths),))
    return [name_at(tune, i) for i in range(len(tune))]


def test_notes_of_the_key_have_its_names():
    assert names("A#4:1 D#5:1 E5:1", 5) == ["A♯4", "D♯5", "E5"]
    assert names("A#4:1 D#5:1 F5:1", -5) == ["B♭4", "E♭5", "F5"]


def test_a_note_that_leads_up_is_sharp_and_one_that_leads_down_is_flat():
    assert names("A4:1 Ab4:1 A4:2", -1) == ["A4", "G♯4", "A4"]
    assert names("D5:1 C#5:1 C5:2", -1) == ["D5", "D♭5", "C5"]


def test_the_name_is_that_on_the_sheet():
    tune = replace(melody("A4:1 Ab4:1 A4:2"), keys=(Key(0, -1),))
    score = etree.fromstring(new_score(tune))
    printed = [note.findtext("pitch/step") for note in score.iter("note")]
    assert printed[:3] == [name_at(tune, i)[0] for i in range(3)]


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
    "ticks, name",
    [(960, "a quarter"), (1440, "a dotted quarter"), (2400, "a note of 2.5 beats")],
)
def test_lengths_have_their_names(ticks, name):
    assert length_name(ticks) == name


def test_the_eighths_of_a_dotted_beat_are_counted_and_those_of_a_triplet_called_so():
    dotted = melody("C5:1 " * 12, meter="12/8")
    assert [beat_name(dotted, i) for i in range(4)] == [
        "beat 1", "the second eighth of 1", "the third eighth of 1", "beat 2",
    ]  # fmt: skip
    thirds = melody("C5:0.6666666 " * 6)
    assert [beat_name(thirds, i) for i in range(3)] == [
        "beat 1", "the second triplet of 1", "the third triplet of 1",
    ]  # fmt: skip
