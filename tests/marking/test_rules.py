"""Each rule where it applies, where it does not, and at its edge.

Lines are written in eighths: ``C5:1`` is an eighth, ``C5:2`` a quarter, ``r:1`` a rest.
"""

from dataclasses import replace

import pytest

from phrasing.marking.precedence import mark
from phrasing.marking.rules import RULES
from tests.lines import melody
from tests.marking.lines import applied, marked, words_of

PAIR_1, PAIR_2 = "marcato by syncopated-pair", "accent by syncopated-pair"


def test_the_rules_stand_in_their_order_of_strength():
    assert [rule.name for rule in RULES] == [
        "syncopated-pair", "off-beat-quarter", "off-beat-long", "on-beat-quarter",
        "clipped-eighth", "short-eighth", "enclosure", "turn", "dip", "leap-up", "phrase-peak",
    ]  # fmt: skip


class TestSyncopatedPair:
    def test_the_first_is_marcato_and_the_second_accented(self):
        assert marked("r:1 C5:2 C5:2 r:3") == [PAIR_1, PAIR_2]

    def test_in_a_chain_every_one_but_the_last_is_marcato(self):
        assert marked("r:1 C5:2 C5:2 C5:2 r:1") == [PAIR_1, PAIR_1, PAIR_2]

    def test_a_chain_goes_on_over_the_bar_line(self):
        assert marked("r:5 C5:2 C5:2 C5:2 r:5") == [PAIR_1, PAIR_1, PAIR_2]

    def test_quarters_parted_by_a_rest_are_no_pair(self):
        assert marked("r:1 C5:2 r:2 C5:2 r:1") == ["accent by off-beat-quarter"] * 2

    def test_a_quarter_and_a_longer_note_are_a_pair(self):
        assert marked("r:1 C5:2 C5:3 r:2") == [PAIR_1, PAIR_2]

    def test_a_longer_note_and_a_quarter_are_none(self):
        assert marked("r:1 C5:4 C5:2 r:1") == [
            "accent by off-beat-long",
            "accent by off-beat-quarter",
        ]

    def test_on_beat_quarters_are_no_pair(self):
        assert marked("C5:2 C5:2") == ["marcato by on-beat-quarter"] * 2


class TestOffBeatQuarter:
    def test_it_is_accented(self):
        assert marked("C5:1 C5:2 C5:1 C5:4")[1] == "accent by off-beat-quarter"

    def test_two_tied_eighths_are_a_quarter_over_the_bar_line_too(self):
        assert marked("r:7 C5:2 r:7") == ["accent by off-beat-quarter"]

    def test_a_quarter_inside_a_beat_is_not_off_the_beat(self):
        assert marked("C5:0.5 C5:2 C5:1.5 C5:4")[1] == ""

    def test_an_off_beat_dotted_eighth_is_no_quarter(self):
        assert marked("C5:1 C5:1.5 C5:1.5 C5:4")[1] == ""


class TestOffBeatLong:
    @pytest.mark.parametrize("eighths", [2.5, 3, 4, 7])
    def test_it_is_accented(self, eighths):
        assert marked(f"r:1 C5:{eighths}") == ["accent by off-beat-long"]

    def test_a_long_note_on_the_beat_is_not(self):
        assert marked("C5:3 r:1 C5:4") == ["", ""]


class TestOnBeatQuarter:
    def test_it_is_marcato(self):
        assert marked("C5:2 r:2 C5:2 r:2") == ["marcato by on-beat-quarter"] * 2

    def test_longer_and_shorter_notes_on_the_beat_are_not(self):
        assert marked("C5:3 C5:1 C5:1.5 C5:0.5 C5:4") == [""] * 5

    @pytest.mark.parametrize("meter", ["2/2", "3/2", "2/4", "3/4", "5/4", "6/4"])
    def test_the_beat_is_a_quarter_in_meters_of_halves_and_quarters(self, meter):
        assert marked("r:2 C5:2", meter) == ["marcato by on-beat-quarter"]

    def test_the_beat_is_a_dotted_quarter_in_compound_meters(self):
        assert marked("C5:1 C5:2 C5:2 r:1", "6/8") == ["", "", "marcato by on-beat-quarter"]

    def test_the_long_note_of_a_shuffle_is_not_struck_at_every_beat(self):
        assert marked("C5:2 D5:1 C5:2 D5:1", "6/8") == ["", "", "", ""]

    def test_one_that_leads_to_the_first_downbeat_has_no_weight(self):
        assert marked("C5:2 C5:4", pickup=2) == ["staccato by on-beat-quarter", ""]

    def test_a_quarter_that_the_author_slurs_into_the_next_is_not_cut_off(self):
        tune = replace(melody("C5:2 D5:2 E5:2 r:2"), slurs=((0, 2),))
        assert words_of(mark(tune)) == [None, None, "marcato"]


class TestClippedEighth:
    def test_before_a_rest_of_an_eighth_and_at_the_end(self):
        assert marked("C5:1 C5:1 r:1 C5:1") == [
            "", "clipped by clipped-eighth", "clipped by clipped-eighth",
        ]  # fmt: skip

    def test_not_before_a_shorter_rest(self):
        assert marked("C5:1 C5:1 r:0.5 C5:1.5 C5:4")[1] == ""

    def test_nothing_is_off_the_beat_in_compound_meters(self):
        assert marked("C5:1 C5:1 r:1 C5:3", "6/8") == ["", "", ""]


class TestShortEighth:
    def test_before_a_rest_of_an_eighth_and_at_the_end(self):
        assert marked("C5:1 r:1 C5:1") == ["staccato by short-eighth"] * 2

    def test_not_when_the_line_goes_on(self):
        assert marked("C5:1 C5:1 C5:4") == ["", "", ""]

    def test_a_triplet_eighth_on_the_beat_is_no_eighth(self):
        assert marked("C5:0.6666667 r:1.3333333 C5:4") == ["", ""]


class TestEnclosure:
    @pytest.mark.parametrize("words", ["D5:1 B4:1", "C#5:1 Bb4:1", "Bb4:1 D5:1"])
    def test_two_notes_close_in_on_the_beat(self, words):
        assert marked(f"r:2 {words} C5:4") == ["", "tenuto by enclosure", ""]

    def test_the_note_before_the_target_may_be_short(self):
        assert marked("r:2 D5:1.5 B4:0.5 C5:4")[1] == "tenuto by enclosure"

    def test_not_from_one_side(self):
        assert marked("r:2 D5:1 C#5:1 C5:4") == ["", "", ""]

    def test_not_from_farther_than_a_whole_step(self):
        assert marked("r:2 Eb5:1 B4:1 C5:4")[1] == ""
        assert marked("r:2 D5:1 A4:1 C5:4")[1] == ""

    def test_not_onto_an_off_beat(self):
        assert marked("r:1 D5:1 B4:1 C5:1 C5:4")[1] == ""

    def test_not_onto_a_sixteenth(self):
        assert marked("r:2 D5:1 B4:1 C5:0.5 C5:1.5")[1] == ""

    def test_not_over_a_rest(self):
        assert "enclosure" not in applied("r:1 D5:1 B4:1 r:1 C5:4")[1]


class TestTurn:
    def test_the_top_of_a_rise_over_two_intervals(self):
        assert marked("A4:1 B4:1 C5:1 B4:1 D5:4")[2] == "stress by turn"

    def test_the_top_of_a_fall_over_two_intervals(self):
        assert marked("B4:1 C5:1 B4:1 A4:1 G#4:4")[1] == "stress by turn"

    def test_not_between_one_interval_up_and_one_down(self):
        assert marked("r:2 B4:1 C5:1 B4:1 C5:1 B4:4")[1:] == ["", "", "", ""]

    def test_tenuto_where_the_next_note_is_an_arrival_reached_by_step(self):
        assert marked("A4:1 B4:1 D5:1 C5:2")[2] == "tenuto by turn"

    def test_stress_where_the_arrival_is_reached_by_skip(self):
        assert marked("A4:1 B4:1 D5:1 B4:2")[2] == "stress by turn"

    def test_a_fall_into_a_dip_is_no_turn(self):
        line = marked("A4:1 B4:1 C5:1 A4:1 D5:1 E5:1 F5:4")
        assert line[2:4] == ["", "ghost by dip"]

    def test_a_fall_to_a_quarter_is_a_turn_as_no_quarter_is_a_dip(self):
        assert marked("r:1 A4:1 B4:1 C5:1 A4:2 D5:4")[2] == "stress by turn"

    def test_the_line_has_to_fall_before_a_rest(self):
        assert "turn" not in applied("A4:1 B4:1 C5:1 r:1 B4:4")[2]


class TestDip:
    RISING = "Bb3:1 Db4:1 {} F4:1 Gb4:1 Ab4:4"

    @pytest.mark.parametrize("low", ["Bb3", "F#3"])
    def test_a_skip_or_leap_down_inside_a_rising_line(self, low):
        assert marked(self.RISING.format(f"{low}:1"))[2] == "ghost by dip"

    def test_not_by_step(self):
        assert marked(self.RISING.format("B3:1"))[2] == ""

    def test_not_where_the_line_does_not_rise_above_where_it_was(self):
        assert marked("G4:1 B4:1 G4:1 B4:1 C5:1 D5:4")[2] == ""

    def test_not_where_the_note_before_was_reached_from_above(self):
        assert marked("D5:1 B4:1 G4:1 C5:1 D5:1 E5:4")[2] == ""

    def test_a_ghost_is_never_a_quarter(self):
        assert "dip" not in applied("r:1 G4:1 B4:2 G4:2 D5:2 E5:1")[2]
        assert "dip" in applied("r:1 G4:1 B4:2 G4:1.5 D5:2 E5:1")[2]


class TestLeapUp:
    def test_a_fourth_and_wider(self):
        assert marked("C4:1 F4:1 G4:1 A4:4")[1] == "stress by leap-up"

    def test_not_a_third(self):
        assert marked("C4:1 E4:1 F4:1 G4:4")[1] == ""

    def test_not_down(self):
        assert marked("F4:1 C4:1 B3:1 A3:4")[1] == ""

    def test_not_over_a_rest_as_a_new_line_is_reached_from_nowhere(self):
        assert "leap-up" not in applied("C4:1 r:1 F4:1 G4:1 A4:4")[1]


class TestPhrasePeak:
    def test_the_one_highest_of_five_notes(self):
        assert marked("E5:1 B4:1 C5:1 B4:1 C5:4")[0] == "stress by phrase-peak"

    def test_not_of_four(self):
        assert marked("E5:1 B4:1 C5:1 B4:5")[0] == ""

    def test_not_where_it_comes_again(self):
        assert "phrase-peak" not in applied("E5:1 C5:1 E5:1 C5:1 D5:4")[0]

    def test_a_rest_of_a_quarter_parts_phrases_and_an_eighth_does_not(self):
        assert "phrase-peak" in applied("E5:1 C5:1 r:1 D5:1 C5:1 D5:3")[0]
        assert "phrase-peak" not in applied("E5:1 C5:1 r:2 D5:1 C5:1 D5:2")[0]

    def test_the_authors_breath_parts_phrases(self):
        tune = melody("E5:1 C5:1 D5:1 C5:1 D5:3 G5:1 F5:1 G5:7")
        peak = 1 << [rule.name for rule in RULES].index("phrase-peak")
        assert not mark(tune).applied[0] & peak
        assert mark(replace(tune, phrase_ends=(4,))).applied[0] & peak


def test_triplets_and_sixteenths_take_contour_rules_only():
    third = "0.6666667"
    triplets = marked(f"C5:{third} D5:{third} E5:{third} C5:{third} B4:{third} A4:{third} G4:4")
    assert triplets == ["", "", "stress by turn", "", "", "", ""]
    assert marked("C5:0.5 D5:0.5 E5:0.5 C5:0.5 B4:0.5 A4:0.5 r:1 C5:4")[:6] == [
        "", "", "stress by turn", "", "", "",
    ]  # fmt: skip


def test_a_quarter_of_a_quarter_triplet_on_the_beat_is_no_quarter():
    third = "1.3333333"
    assert marked(f"C5:{third} C5:{third} C5:{third} C5:4") == [""] * 4


def test_the_first_beat_of_a_pickup_is_counted_back_from_the_bar_line():
    assert marked("C5:1 C5:2 C5:6", pickup=3) == [
        "", "staccato by on-beat-quarter", "",
    ]  # fmt: skip
    assert marked("C5:2 C5:1 C5:6", pickup=3)[0] == "accent by off-beat-quarter"
