"""The rules over the line: falls, flow, repetitions, phrases, pickups, links."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.marking.marking import Link, Phrase, Swell
from phrasing.marking.precedence import mark
from phrasing.score.melody import ChordSymbol
from tests.lines import melody
from tests.marking.lines import marked, words_of

FALL = "C5:1 B4:1 A4:1 G4:1 F4:1 E4:1 D4:2"


def of(words, meter="4/4", pickup=0, leave_out=(), **changes):
    return mark(replace(melody(words, meter, pickup=pickup), **changes), leave_out=leave_out)


def indices(column):
    return np.flatnonzero(column).tolist()


class TestDescendingRun:
    def test_a_decrescendo_from_the_first_note_to_the_last_before_the_arrival(self):
        assert of("B4:1 " + FALL).swells == (Swell("decrescendo", 1, 6),)

    def test_to_the_last_note_where_nothing_arrives(self):
        assert of("C5:1 B4:1 A4:1 E4:1 G4:4").swells == (Swell("decrescendo", 0, 3),)

    def test_four_notes_and_a_fifth_are_enough(self):
        assert of("C5:1 Bb4:1 G4:1 F4:4").swells == (Swell("decrescendo", 0, 2),)

    def test_a_quarter_ends_it_and_does_not_lie_inside(self):
        assert of("C5:1 Bb4:1 G4:1 F4:2 Eb4:1 D4:2").swells == (Swell("decrescendo", 0, 2),)
        assert of("C5:2 Bb4:1 G4:1 F4:1 C4:1 Eb4:2").swells == (Swell("decrescendo", 1, 4),)

    def test_a_syncopated_arrival_stops_it(self):
        assert of("D5:1 C5:1 Bb4:1 A4:2 G4:1 F4:1 E4:1").swells == ()

    def test_it_ends_before_a_weight_of_the_authors(self):
        tune = "C5:1 B4:1 A4:1 G4:1 F4:1 E4:1 D4:2"
        assert of(tune, marks={4: "tenuto"}).swells == (Swell("decrescendo", 0, 3),)
        assert of(tune, marks={2: "tenuto"}).swells == ()

    def test_three_notes_or_a_tritone_are_not(self):
        assert of("C5:1 G4:1 C4:4").swells == ()
        assert of("C5:1 B4:1 A4:1 Gb4:4").swells == ()

    def test_a_repeated_note_ends_it(self):
        assert of("C5:1 B4:1 A4:1 A4:1 G4:1 F4:1 E4:2").swells == ()

    @pytest.mark.parametrize("rest, swells", [("0.5", 1), ("1", 0)])
    def test_a_rest_of_an_eighth_ends_it_and_a_shorter_one_does_not(self, rest, swells):
        assert len(of(f"C5:1 B4:1 A4:{rest} r:{rest} G4:1 F4:1 E4:2").swells) == swells

    def test_the_authors_breath_ends_it(self):
        assert of("C5:1 B4:1 A4:1 G4:1 F4:1 E4:3", phrase_ends=(2,)).swells == ()

    def test_the_first_note_keeps_its_stress_and_the_arrival_its_mark(self):
        line = marked("A4:1 B4:1 D5:1 C5:1 B4:1 A4:1 F4:2")
        assert line[2:] == ["stress by turn", "", "", "", "marcato by on-beat-quarter"]

    def test_a_peak_after_the_authors_breath_begins_a_run_of_its_own(self):
        line = of("C6:1 B5:1 A5:1 G5:1 F5:1 E5:1 D5:1 C5:1 B4:8", phrase_ends=(1,))
        assert words_of(line)[2] == "stress"
        assert line.swells == (Swell("decrescendo", 2, 7),)

    def test_left_out_it_makes_no_decrescendo(self):
        assert of(FALL, leave_out=["descending-run"]).swells == ()


class TestLineFlow:
    def test_off_beats_are_slurred_into_the_beats_that_follow(self):
        flow = of("C5:1 D5:1 E5:1 F5:1 E5:4")
        assert indices(flow.flow) == indices(flow.joined) == [1, 3]

    def test_on_beats_are_tongued_into_the_off_beats(self):
        assert not of("C5:1 D5:1 E5:1 F5:1 E5:4").joined[[0, 2]].any()

    def test_not_over_a_rest(self):
        assert indices(of("C5:1 D5:0.5 r:0.5 E5:1 F5:1 G5:4").joined) == [3]

    def test_the_authors_breath_is_kept_free(self):
        assert indices(of("C5:1 D5:1 E5:1 F5:1 E5:4", phrase_ends=(1,)).joined) == [3]

    def test_a_hard_tongue_is_not_slurred_into(self):
        assert indices(of("C5:1 D5:1 E5:2 C5:1 D5:1 E5:4").joined) == [4]

    def test_a_note_is_not_slurred_into_itself(self):
        assert indices(of("C5:1 D5:1 D5:1 E5:1 F5:4").joined) == [3]

    def test_nothing_flows_where_nothing_is_off_the_beat(self):
        line = of("C5:1 D5:1 E5:1 F5:1 G5:1 A5:1", "6/8")
        assert not line.flow.any()
        assert not line.joined.any()

    def test_left_out_nothing_is_slurred_but_what_the_author_slurs(self):
        line = of("C5:1 D5:1 E5:1 F5:1 G5:4", leave_out=["line-flow"], slurs=((2, 4),))
        assert not line.flow.any()
        assert indices(line.joined) == [2, 3]


class TestTheAuthorsSlurs:
    WORDS = "C5:1 D5:1 E5:1 F5:1 G5:1 F5:1 E5:1 D5:1 C5:4"

    def test_all_notes_but_the_last_are_joined(self):
        assert {2, 3, 4} <= set(indices(of(self.WORDS, slurs=((2, 5),)).joined))

    def test_the_tongue_is_used_where_a_slur_begins_and_after_it_ends(self):
        assert indices(of(self.WORDS, slurs=((2, 5),)).joined) == [2, 3, 4, 7]

    def test_a_slurred_repetition_is_not_cut_short(self):
        tune = "C5:1 C5:1 D5:1 E5:5"
        assert indices(of(tune).repeated) == [0]
        assert indices(of(tune, slurs=((0, 2),)).repeated) == []

    def test_off_beat_quarters_under_a_slur_are_held_both(self):
        pair = of("r:1 C5:2 D5:2 r:3", slurs=((0, 1),))
        assert words_of(pair) == ["accent", "accent"]


class TestRepeatedNote:
    def test_the_first_of_two(self):
        assert indices(of("C5:1 C5:1 D5:1 D5:1 D5:4").repeated) == [0, 2, 3]

    def test_not_over_a_rest_of_an_eighth(self):
        assert indices(of("C5:1 r:1 C5:1 D5:1").repeated) == []

    def test_left_out(self):
        assert not of("C5:1 C5:1 D5:2", leave_out=["repeated-note"]).repeated.any()


class TestPhrases:
    WORDS = "C5:1 D5:1 E5:1 G5:1 E5:2 r:2 C5:1 D5:1 C5:4"

    def test_each_has_its_notes_and_its_peak(self):
        assert of(self.WORDS).phrases == (Phrase(0, 4, 3, 0), Phrase(5, 7, None, 0))

    def test_a_rest_of_an_eighth_parts_no_phrases(self):
        assert len(of("C5:1 D5:1 E5:1 r:1 E5:2 D5:2").phrases) == 1

    def test_the_authors_breath_does(self):
        first, second, third = of(self.WORDS, phrase_ends=(1,)).phrases
        assert (first.last, second.first, third.first) == (1, 2, 5)

    def test_without_the_arch_no_phrase_has_a_peak_to_rise_to(self):
        arch = of(self.WORDS, leave_out=["phrase-arch"])
        assert [phrase.peak for phrase in arch.phrases] == [None, None]
        assert words_of(arch) == words_of(of(self.WORDS))


class TestPickup:
    def pickups(self, words, meter="4/4", pickup=0, **changes):
        return [phrase.pickup for phrase in of(words, meter, pickup, **changes).phrases]

    def test_notes_before_bar_1_lead_to_its_downbeat(self):
        assert self.pickups("G4:1 A4:1 C5:8", pickup=2) == [2]

    def test_notes_before_the_bar_line_of_a_later_phrase_do(self):
        assert self.pickups("C5:4 r:2 G4:1 A4:1 C5:8") == [0, 2]

    def test_a_phrase_that_begins_on_the_downbeat_has_none(self):
        assert self.pickups("C5:1 D5:1 E5:6 C5:8") == [0]

    def test_a_phrase_that_stays_inside_its_bar_has_none(self):
        assert self.pickups("r:4 C5:1 D5:1 r:2 C5:8") == [0, 0]

    def test_notes_that_nearly_fill_a_bar_are_a_bar_of_their_own(self):
        assert self.pickups("r:1 C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 B5:1 C6:8") == [0]
        assert self.pickups("r:2 C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 C6:8") == [6]

    def test_a_note_that_anticipates_the_downbeat_is_no_pickup_itself(self):
        assert self.pickups("r:5 G4:1 A4:1 C5:5 D5:4") == [2, 0]

    def test_a_rest_on_the_downbeat_is_led_to_by_nothing(self):
        assert self.pickups("r:6 G4:1 A4:1 r:1 C5:7") == [0]

    def test_left_out(self):
        assert self.pickups("G4:1 A4:1 C5:8", pickup=2) != [0]
        assert of("G4:1 A4:1 C5:8", pickup=2, leave_out=["pickup"]).phrases[0].pickup == 0


class TestLinks:
    def test_a_syncopated_pair_is_linked_and_so_is_each_step_of_a_chain(self):
        assert of("r:1 C5:2 C5:2 C5:2 r:1").links == (Link(0, 1), Link(1, 2))

    def test_off_beat_notes_parted_by_one_eighth_on_the_beat(self):
        line = of("r:1 C5:3 D5:1 E5:3")
        assert line.links == (Link(0, 2),)
        assert words_of(line) == ["accent", None, "accent"]

    def test_off_beat_notes_parted_by_a_rest_of_an_eighth(self):
        line = of("r:1 C5:3 r:1 E5:3")
        assert line.links == (Link(0, 1),)
        assert words_of(line) == ["accent", "accent"]

    @pytest.mark.parametrize("between", ["r:3", "D5:0.5 D5:0.5", "r:1 D5:1 r:1", "D5:1 r:2"])
    def test_not_when_parted_by_more(self, between):
        assert of(f"r:1 C5:3 {between} E5:4 r:8").links == ()

    def test_a_quarter_and_a_longer_note_back_to_back_are_linked(self):
        assert of("r:1 C5:2 C5:3").links == (Link(0, 1),)

    def test_no_link_to_a_note_whose_accent_the_author_took_away(self):
        tune = melody("r:1 C5:2 C5:2 C5:2 r:1")
        assert mark(tune, author={2: None}).links == (Link(0, 1),)

    def test_left_out_with_the_pair(self):
        pair = of("r:1 C5:2 C5:2 r:3", leave_out=["syncopated-pair"])
        assert pair.links == ()
        assert words_of(pair) == ["accent", "accent"]


def test_a_chord_that_is_not_known_is_passed_over():
    tune = replace(melody("C5:2 D5:2 E5:4"), chords=(ChordSymbol(0, "E♭(♭6)(no1)"),))
    assert len(mark(tune)) == 3
