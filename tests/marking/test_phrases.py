"""Where the line is going: phrase ends, lead-ins, targets, statements, each tested alone."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from phrasing.marking import phrases
from phrasing.marking.columns import Columns
from phrasing.marking.rules import arrival, statement, target
from phrasing.score.melody import ChordSymbol
from phrasing.style import STYLE
from tests.lines import melody
from tests.marking.random_lines import melodies

FIGURE = "C5:1 E5:1 D5:1 G4:1 r:4 "


def columns(words, meter="4/4", pickup=0, style="swing", **changes):
    return Columns(replace(melody(words, meter, pickup=pickup), **changes), STYLE[style])


def found(mask):
    return np.flatnonzero(mask).tolist()


class TestPhraseEnds:
    def ends(self, words, **changes):
        return found(phrases.ends_phrase(columns(words, **changes)))

    def test_at_a_rest_of_a_quarter_and_at_the_end(self):
        assert self.ends("C5:1 D5:1 r:2 E5:1 r:1 F5:1") == [1, 3]

    def test_where_the_author_breathes(self):
        assert self.ends("C5:1 D5:1 E5:1 F5:1", phrase_ends=(1,)) == [1, 3]

    def test_on_a_half_note_that_the_line_comes_to_rest_on(self):
        assert self.ends("C5:4 D5:1 E5:1 F5:2") == [0, 3]

    def test_not_on_a_half_note_on_the_way_to_a_longer_one(self):
        assert self.ends("C5:4 D5:4 E5:8") == [2]

    def test_not_on_one_that_the_author_slurs_on(self):
        assert self.ends("C5:4 D5:1 E5:3", slurs=((0, 2),)) == [2]

    def test_a_lead_in_belongs_to_what_it_leads_to(self):
        assert self.ends("C5:3 r:1 G4:1 A4:1 B4:1 C5:1 D5:3 r:5") == [0, 5]

    @pytest.mark.parametrize("lead", ["r:1 G4:1 A4:1 B4:1 r:1", "r:1 G4:2 A4:1 B4:1"])
    def test_what_stops_before_the_bar_line_or_is_no_short_note_is_no_lead_in(self, lead):
        assert self.ends(f"C5:3 {lead} D5:3 r:5") == [len(lead.split()) - lead.count("r:") + 1]


class TestTargets:
    def of(self, words, **changes):
        return found(target(columns(words, **changes)))

    def test_an_arrival_and_a_longer_note_on_the_beat(self):
        assert self.of("C5:1 D5:1 E5:3 D5:1 C5:1 D5:1 E5:1 r:1") == [2, 6]

    def test_a_chord_tone_on_which_a_chord_begins(self):
        line = "C5:1 B4:1 A4:1 F#4:1 G4:1 A4:1 F4:1 D4:1 C4:2 r:6"
        chord = (ChordSymbol(4 * 480, "G7"),)
        assert 4 not in self.of(line)
        assert 4 in self.of(line, chords=chord)
        assert 4 not in self.of(line, chords=(ChordSymbol(4 * 480, "F7"),))

    def test_not_a_note_that_a_scale_passes_through(self):
        line = "C4:1 D4:1 E4:1 F4:1 G4:1 A4:1 B4:1 C5:1 r:8"
        assert 4 not in self.of(line, chords=(ChordSymbol(4 * 480, "G7"),))

    def test_not_a_note_that_a_sequence_passes_through(self):
        line = "C4:1 E4:1 D4:1 F4:1 E4:1 G4:1 F4:1 A4:1 G4:4 r:4"
        assert 4 not in self.of(line, chords=(ChordSymbol(4 * 480, "C"),))

    def test_the_last_of_a_phrase(self):
        assert self.of("C5:0.5 D5:0.5 E5:0.5 r:6.5")[-1] == 2

    def test_in_a_ballad_a_quarter_on_the_beat_is_no_arrival(self):
        assert found(arrival(columns("C5:2 D5:2 E5:4", style="ballad"))) == []


class TestStatements:
    def places(self, words, **changes):
        return statement(columns(words, **changes)).tolist()

    def test_a_bar_that_comes_again_has_the_same_places(self):
        places = self.places(FIGURE * 2)
        assert places[:4] == places[4:]
        assert len({*places}) == 4

    def test_at_any_pitch_and_with_other_intervals_the_same_way(self):
        places = self.places(FIGURE + "F4:1 B4:1 A4:1 E4:1 r:4")
        assert places[:4] == places[4:]

    @pytest.mark.parametrize(
        "other", ["C5:1 E5:1 D5:1 E5:1 r:4", "C5:1 E5:2 G4:1 r:4", "C5:1 E5:1 D5:1 r:5"]
    )
    def test_another_contour_or_rhythm_is_another_figure(self, other):
        assert set(self.places(FIGURE + other)) == {-1}

    def test_half_bars_too(self):
        places = self.places("C5:1 E5:1 D5:1 G4:1 D5:1 F5:1 E5:1 A4:1 r:8 G4:8")
        assert places[1:3] == places[5:7] != [-1, -1]

    def test_not_farther_than_eight_bars_apart(self):
        assert -1 not in self.places(FIGURE + "r:8 " * 7 + FIGURE)
        assert set(self.places(FIGURE + "r:8 " * 8 + FIGURE)) == {-1}

    def test_two_notes_are_no_figure(self):
        assert set(self.places("C5:1 D5:1 r:6 " * 2)) == {-1}

    @given(melodies())
    @settings(max_examples=100, deadline=None)
    def test_notes_at_one_place_have_the_same_length_and_place_in_the_bar(self, tune):
        places = statement(Columns(tune))
        for place in set(places.tolist()) - {-1}:
            same = places == place
            assert same.sum() > 1
            assert len(set(tune.length[same].tolist())) == 1
            beats = tune.in_bar[same] % (tune.meter.bar_length // 2)
            assert len(set(tune.in_bar[same].tolist())) == 1 or len(set(beats.tolist())) == 1


class TestPatterns:
    """A line that goes up and down in turn, as in thirds."""

    ZIGZAG = ("C5", "E5", "D5", "F5", "E5", "G5", "F5", "A5")

    @pytest.mark.parametrize("notes", range(3, 9))
    def test_five_moves_up_and_down_are_one_and_all_its_notes_belong_to_it(self, notes):
        line = " ".join(f"{name}:1" for name in self.ZIGZAG[:notes])
        whole = list(range(notes)) if notes >= 6 else []
        assert found(phrases.is_pattern(columns(f"{line} r:4"))) == whole

    def test_what_comes_before_and_after_does_not(self):
        line = " ".join(f"{name}:1" for name in self.ZIGZAG)
        mask = found(phrases.is_pattern(columns(f"G4:1 A4:1 B4:1 {line} B5:1 C6:1 D6:1")))
        assert {3 + i for i in range(8)} <= set(mask)
        assert not set(mask) & {0, 1, 12, 13}
