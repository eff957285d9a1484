"""Every mark has its reason, in a sentence that is true of that note."""

import re
from dataclasses import replace

from hypothesis import given, settings

from phrasing.marking.explaining import reasons, swell_reasons, trade_offs, why
from phrasing.marking.lines import LINE_RULES
from phrasing.marking.precedence import mark
from phrasing.marking.rules import RULES
from phrasing.score.melody import Key
from phrasing.score.words import INTERVALS
from tests.lines import melody
from tests.marking.lines import rules_of, words_of
from tests.marking.random_lines import melodies


def told(words, i, author=None, **changes):
    tune = replace(melody(words), **changes)
    return why(tune, mark(tune, author=author), i)


def test_a_ghost():
    assert told("G4:1 B4:1 C5:1 G4:1 D5:1 E5:1 F5:2", 3) == (
        "ghosted, because the rising line drops a fourth here and goes on up"
    )


def test_a_pair_tells_what_it_prepares_and_what_prepared_it():
    pair = "r:1 C5:2 D5:2 r:3"
    assert told(pair, 0) == (
        "marcato, because a quarter off the beat that runs straight into another note off the "
        "beat is usually played short with a firm start; it prepares the accent on the and of 2"
    )
    assert told(pair, 1).endswith("; the marcato on the and of 1 prepares it")


def test_a_link_over_the_bar_line():
    assert "prepares the accent on the and of 1 of the next bar" in told("r:5 C5:3 r:1 E5:3", 0)


def test_a_long_accent_is_told_with_its_length():
    assert told("r:1 C5:3", 0) == (
        "accented, because a long note off the beat, here a dotted quarter, is usually "
        "accented and sustained"
    )


def test_a_short_note_is_told_with_what_follows():
    assert told("r:1 C5:1 r:2 C5:1", 0).startswith(
        "clipped, because an eighth off the beat with a rest after it is usually"
    )
    assert told("r:1 C5:1 r:2 C5:1", 1).startswith(
        "staccato, because an eighth on the beat with nothing after it is usually"
    )


def test_an_enclosure_names_its_three_notes_in_the_key():
    line = "r:2 B4:1 G#4:1 A#4:4"
    assert "C♭5 and A♭4 close in on B♭4" in told(line, 1, keys=(Key(0, -3),))
    assert "B4 and G♯4 close in on A♯4" in told(line, 1, keys=(Key(0, 5),))


def test_a_turn_to_an_arrival_names_it():
    assert told("r:1 F4:1 A4:1 C#5:1 C5:2 r:2", 2) == (
        "tenuto, because the line turns at this top, up a major third, and steps down to the "
        "marcato on beat 3"
    )


def test_a_turn_whose_arrival_lost_its_mark_names_the_note_only():
    sentence = told("r:1 F4:1 A4:1 C#5:1 C5:2 r:2", 2, author={3: None})
    assert sentence.endswith("steps down to the note on beat 3")


def test_what_else_is_true_of_the_note_is_said_without_a_rules_name():
    sentence = told("C4:1 D4:1 G4:2 F4:1 E4:3", 2)
    assert sentence.endswith(
        "; also where the line turns, reached by a leap and the top of the phrase"
    )


def test_a_note_that_yields_to_its_neighbour_says_so():
    assert told("C4:1 G4:1 A4:1 G4:1 F4:4", 1) == (
        "plain beside the stressed A4, as only one of two neighbours stands out; alone it "
        "would be stressed, because the line leaps up a fifth to it"
    )


def test_the_teachers_mark_is_told_with_the_usual_one():
    quarter = "C5:2 r:6"
    assert told(quarter, 0, {0: "accent"}) == (
        "accented, marked by hand; the usual mark would be marcato"
    )
    assert told(quarter, 0, {0: "marcato"}) == ("marcato, marked by hand; usual here too")
    assert told(quarter, 0, {0: None}).startswith("plain, marked by hand; the usual")
    assert told("C5:4", 0, {0: "ghost"}) == (
        "ghosted, marked by hand; it would usually have no mark"
    )


def test_a_mark_of_the_score_is_told_as_such():
    assert told("C5:2 r:6", 0, marks={0: "accent"}) == (
        "accented, as the score has it; the usual mark would be marcato"
    )


def test_no_reason_has_the_short_name_of_a_rule():
    names = [rule.name for rule in (*RULES, *LINE_RULES) if "-" in rule.name]
    line = "C4:1 D4:1 G4:2 F4:1 E4:3 r:1 C5:2 D5:2 r:1 A4:1 B4:1 [D5:1 C5:1 B4:1 A4:1 F4:2"
    tune = melody(line.replace("[", ""))
    said = " ".join(filter(None, reasons(tune, mark(tune))))
    assert not [name for name in names if name in said]


class TestWhatThePhraseSays:
    def test_a_mark_taken_over_from_a_statement_says_from_where(self):
        twice = "A4:1 E4:1 A4:1 G4:1 r:4 A4:1 F4:1 A4:1 G4:1 r:4"
        assert told(twice, 6) == (
            "stressed, like the same place of this figure on beat 2 of the bar before"
        )

    def test_a_note_of_an_approach(self):
        line = "r:4 Bb4:1 A4:1 F#4:1 G4:1 G#4:4 r:4"
        assert told(line, 0).startswith("plain as G4 has the weight of this approach; alone")

    def test_a_note_too_many(self):
        line = "C4:1 F4:1 D4:1 G4:1 E4:1 A4:1 F4:1 Bb4:1 A4:4 r:4"
        assert told(line, 3).startswith("plain as enough notes around it stand out; alone")

    def test_a_repetition_that_grows(self):
        line = "A4:2 A4:2 A4:2 r:2"
        assert told(line, 0).endswith(
            "; each of these three is a little stronger than the one before"
        )
        assert "stronger" not in told(line, 1)

    def test_a_second_reading_says_what_it_gains(self):
        tune = melody("r:1 C5:2 D5:2 r:3")
        assert why(tune, mark(tune, second=True), 0) == (
            "accented, as in the second reading (both held): Holding both is smoother and "
            "heavier; the first one short gives the second more lift."
        )
        assert trade_offs(tune, mark(tune)) == (
            "both held (bar 1, and of 1, C5): Holding both is smoother and heavier; the first "
            "one short gives the second more lift.",
        )


def test_an_unmarked_note_to_which_no_rule_applies_has_no_reason():
    assert told("C5:4", 0) is None


def test_a_swell_is_told_with_its_ends():
    tune = melody("r:4 C6:1 B5:1 A5:1 G5:1 F5:1 E5:1 D5:2")
    assert swell_reasons(tune, mark(tune)) == (
        "bar 1, beat 3 to bar 2, and of 1: get softer down this run, six notes that fall a "
        "minor sixth",
    )


@given(melodies())
@settings(max_examples=150, deadline=None)
def test_every_mark_has_a_reason_whose_intervals_are_the_notes_own(tune):
    marking = mark(tune)
    named = {name: size for size, name in enumerate(INTERVALS)}
    around = [0, *abs(tune.pitch[1:] - tune.pitch[:-1]).tolist(), 0]
    rows = zip(words_of(marking), rules_of(marking), reasons(tune, marking), strict=True)
    for i, (word, rule, sentence) in enumerate(rows):
        assert (sentence is None) == (int(marking.applied[i]) == 0 and not word)
        if word:
            assert rule
            assert "because" in sentence or "same place" in sentence
        if sentence:
            assert not re.search(r"[{}]|None|  ", sentence)
            ends = r"\b(?:up|drops|down) ((?:an? )[a-z ]+?)(?: to | here|,|;|$)"
            for name in re.findall(ends, sentence):
                assert named.get(name) in around[i : i + 2], sentence
