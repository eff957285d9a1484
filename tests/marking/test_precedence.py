"""Which rule prevails, what the author's marks do, and what holds of every melody."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from phrasing.errors import PhrasingError
from phrasing.marking.columns import Columns
from phrasing.marking.marking import Cause
from phrasing.marking.precedence import RULE_NAMES, mark
from phrasing.marking.rules import RULES
from phrasing.score.marks import MARK_NAMES
from phrasing.score.melody import Melody
from phrasing.score.meters import Bar
from phrasing.style import STYLE, SWING
from tests.lines import melody
from tests.marking import note_by_note
from tests.marking.lines import applied, marked, rules_of, words_of
from tests.marking.random_lines import melodies

WEIGHTS = ("stress", "tenuto")


class TestOneMarkANote:
    def test_the_strongest_rule_has_it_and_the_others_are_known(self):
        line = "C4:1 D4:1 G4:2 F4:4"
        assert marked(line)[2] == "marcato by on-beat-quarter"
        assert applied(line)[2] == ["on-beat-quarter", "turn", "leap-up"]

    def test_left_out_the_next_one_has_it(self):
        line = "C4:1 D4:1 G4:2 F4:4"
        assert marked(line, leave_out=["on-beat-quarter"])[2] == "stress by turn"

    def test_an_arrival_stays_one_when_its_own_rule_is_left_out(self):
        line = "A4:1 B4:1 D5:1 C5:2"
        assert marked(line, leave_out=["on-beat-quarter"])[2] == "tenuto by turn"

    def test_leaving_out_the_dip_makes_no_turn_before_it(self):
        line = "A4:1 B4:1 C5:1 A4:1 D5:1 E5:1 F5:4"
        assert marked(line, leave_out=["dip"])[2:4] == ["", ""]


class TestNeighbours:
    def test_the_stronger_rule_keeps_its_mark(self):
        line = "C4:1 G4:1 A4:1 G4:1 F4:4"
        assert applied(line)[1] == ["leap-up"]
        assert marked(line)[1:3] == ["", "stress by turn"]

    def test_of_two_equal_rules_the_higher_note_does(self):
        assert marked("C4:1 F4:1 Bb4:1 B4:1 C5:4")[1:3] == ["", "stress by leap-up"]

    def test_of_a_chain_the_best_is_settled_first(self):
        line = marked("C4:1 F4:1 Bb4:1 Eb5:1 E5:1 F5:4")
        assert line[1:4] == ["stress by leap-up", "", "stress by leap-up"]

    def test_it_holds_for_shorter_notes_too(self):
        assert marked("r:0.5 C4:0.5 G4:0.5 A4:0.5 G4:0.5 F4:0.5 E4:1")[1:3] == [
            "", "stress by turn",
        ]  # fmt: skip

    def test_it_holds_over_a_rest_too(self):
        line = "C5:1.5 A5:1 r:2.5 G5:1 C5:1 D5:1 C5:1 D5:3"
        assert applied(line)[1:3] == [["leap-up"], ["phrase-peak"]]
        assert marked(line)[1:3] == ["stress by leap-up", ""]

    def test_it_holds_for_quarters_where_they_are_held(self):
        """An arpeggio in a ballad had weight on its leap and again on its top."""
        line = melody("A4:2 C4:2 F4:2 A4:2 G4:4", tempo=66)
        assert words_of(mark(line, style=STYLE["ballad"]))[2:4] == [None, "stress"]

    def test_arrivals_keep_theirs_beside_each_other(self):
        line = melody("C5:1 D5:2 E5:2 F5:3", tempo=66)
        marking = mark(line, style=STYLE["ballad"])
        assert words_of(marking)[1:3] == ["tenuto", "tenuto"]

    def test_a_longer_note_beside_an_eighth_yields_nothing(self):
        assert marked("C4:1 F4:1 Bb4:4 B4:2")[1:3] == [
            "stress by leap-up", "stress by leap-up",
        ]  # fmt: skip

    def test_a_written_tenuto_quiets_the_stress_beside_it(self):
        tune = replace(melody("C4:1 G4:1 A4:1 G4:1 F4:4"), marks={3: "tenuto"})
        assert words_of(mark(tune)) == [None, "stress", None, "tenuto", None]

    def test_two_of_the_authors_both_stay(self):
        tune = replace(melody("C4:1 D4:1 E4:1 F4:1"), marks={0: "stress", 1: "tenuto"})
        assert words_of(mark(tune))[:2] == ["stress", "tenuto"]

    def test_an_edited_table_is_followed_as_it_stands(self):
        tune = melody("C4:1 G4:1 A4:1 G4:1 F4:4")
        edited = mark(tune, author={1: "stress"})
        assert words_of(edited)[1:3] == ["stress", "stress"]


class TestTheAuthor:
    TUNE = melody("C4:1 D4:1 G4:2 F4:4")

    def test_a_mark_in_the_score_wins_over_every_rule(self):
        marking = mark(replace(self.TUNE, marks={2: "accent"}))
        assert words_of(marking)[2] == "accent"
        assert rules_of(marking)[2] == "author"

    def test_the_table_wins_over_the_score(self):
        scored = replace(self.TUNE, marks={2: "accent"})
        assert words_of(mark(scored, author={2: "ghost"}))[2] == "ghost"
        assert words_of(mark(scored, author={2: None}))[2] is None

    def test_what_the_rules_would_do_stays_known(self):
        marking = mark(self.TUNE, author={0: "accent", 2: None})
        assert marking.by_rules.tolist() == mark(self.TUNE).mark.tolist()
        assert rules_of(marking)[2] == "author"

    def test_a_short_mark_is_not_slurred_on(self):
        tune = melody("C5:1 D5:1 E5:1 F5:1 E5:4")
        assert mark(tune, author={1: "staccato"}).joined.tolist()[1] is False

    def test_a_beat_the_author_accents_is_tongued(self):
        tune = melody("C5:1 D5:1 E5:1 F5:1 E5:4")
        assert mark(tune, author={2: "accent"}).joined.tolist()[1] is False


class TestMistakes:
    TUNE = melody("C4:1 D4:1")

    def test_an_unknown_rule_is_named_with_its_nearest_and_all_others(self):
        with pytest.raises(PhrasingError, match=r"“turns”\. Did you mean “turn”") as error:
            mark(self.TUNE, leave_out=["turns"])
        assert all(name in str(error.value) for name in RULE_NAMES)

    def test_every_known_rule_may_be_left_out(self):
        assert mark(self.TUNE, leave_out=RULE_NAMES).left_out == RULE_NAMES
        assert set(words_of(mark(self.TUNE, leave_out=RULE_NAMES))) == {None}

    def test_an_unknown_mark_is_named_with_the_known_ones(self):
        with pytest.raises(PhrasingError, match=r"note 2: there is no mark “loud”.*ghost"):
            mark(self.TUNE, author={1: "loud"})
        with pytest.raises(PhrasingError, match="The score, note 1: there is no mark"):
            mark(replace(self.TUNE, marks={0: "sforzato"}))

    @pytest.mark.parametrize("index", [-1, 2])
    def test_a_mark_for_a_note_that_is_not_there(self, index):
        with pytest.raises(PhrasingError, match="the melody has 2 notes"):
            mark(self.TUNE, author={index: "ghost"})


def test_a_melody_without_notes_has_an_empty_marking():
    marking = mark(Melody([], [], [], (Bar(0, 3840, 1),)))
    assert len(marking) == 0
    assert marking.phrases == marking.swells == marking.links == ()


@pytest.mark.long
@given(melodies())
@settings(max_examples=400, deadline=None)
def test_the_columns_say_what_the_rules_say_note_by_note(tune):
    applied = mark(tune, style=SWING).applied.tolist()
    line = note_by_note.Line(tune)
    given = [rule.marks(Columns(tune)).tolist() for rule in RULES]
    for i, code in enumerate(applied):
        found = [
            (rule.name, MARK_NAMES[given[bit][i]])
            for bit, rule in enumerate(RULES)
            if code >> bit & 1
        ]
        assert found == line.rules(i), i


@given(melodies())
@settings(max_examples=200, deadline=None)
def test_what_the_phrase_changes_has_a_cause_and_arrivals_are_never_changed(tune):
    marking = mark(tune, style=SWING)
    for i, name in enumerate(rules_of(marking)):
        strongest = next(
            (r for r in RULES if int(marking.applied[i]) >> RULES.index(r) & 1), None
        )
        changed = name != (strongest.name if strongest else None)
        assert not (changed and strongest and strongest.arrives)
        assert changed <= (marking.cause[i] != Cause.RULE)


@given(melodies())
@settings(max_examples=150, deadline=None)
def test_neighbouring_eighths_never_both_have_stress_or_tenuto(tune):
    words = words_of(mark(tune))
    for i in range(len(tune) - 1):
        if tune.length[i] == tune.length[i + 1] == 480:
            assert not {words[i], words[i + 1]} <= set(WEIGHTS)


@given(melodies())
@settings(max_examples=150, deadline=None)
def test_no_ghost_is_a_quarter_and_no_stress_lies_inside_a_fall(tune):
    marking = mark(tune)
    words = words_of(marking)
    assert all(tune.length[i] < 960 for i, word in enumerate(words) if word == "ghost")
    for swell in marking.swells:
        assert "stress" not in words[swell.first + 1 : swell.last]


@given(melodies(), st.integers(1, 3), st.integers(-24, 24))
@settings(max_examples=100, deadline=None)
def test_marks_stay_when_the_melody_moves_by_bars_or_is_transposed(tune, bars, semitones):
    if tune.pickup == 0:
        by = bars * tune.meter.bar_length
        moved = [replace(bar, onset=bar.onset + by) for bar in tune.bars]
        front = [
            replace(tune.bars[0], onset=k * tune.meter.bar_length, number=1 + k)
            for k in range(bars)
        ]
        later = Melody(tune.onset + by, tune.length, tune.pitch, (*front, *moved))
        assert words_of(mark(later)) == words_of(mark(tune))
    assert words_of(mark(tune.transposed(semitones))) == words_of(mark(tune))


@pytest.mark.long
@given(melodies(), st.sampled_from([rule.name for rule in RULES]))
@settings(max_examples=200, deadline=None)
def test_leaving_out_a_rule_leaves_only_weaker_rules_in_its_place(tune, name):
    order = [rule.name for rule in RULES]
    whole, without = mark(tune), mark(tune, leave_out=[name])
    weaker = [None, *order[order.index(name) + 1 :]]
    bit = 1 << order.index(name)
    assert np.array_equal(without.applied, whole.applied & ~bit)
    for old, new, word in zip(rules_of(whole), rules_of(without), words_of(whole), strict=True):
        if old == name:
            assert new in weaker
        elif word not in (None, *WEIGHTS):
            assert new == old


@given(melodies())
@settings(max_examples=100, deadline=None)
def test_the_phrases_hold_every_note_once(tune):
    phrases = mark(tune).phrases
    held = [i for phrase in phrases for i in range(phrase.first, phrase.last + 1)]
    assert held == list(range(len(tune)))
    for phrase in phrases:
        assert phrase.peak is None or phrase.first <= phrase.peak <= phrase.last
        assert 0 <= phrase.pickup <= phrase.last - phrase.first
