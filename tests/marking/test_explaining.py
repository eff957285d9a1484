"""Every mark has its reason, in a sentence that is true of that note."""

import re
from dataclasses import replace

from hypothesis import given, settings

from phrasing.marking.explaining import reasons, swell_reasons, why
from phrasing.marking.precedence import mark
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
        "marcato, because this off-beat quarter runs straight into another one, so it is hit "
        "and let go; off-beat-quarter applies as well; it prepares the accent on the and of 2"
    )
    assert told(pair, 1).endswith("; the marcato on the and of 1 prepares it")


def test_a_link_over_the_bar_line():
    assert "prepares the accent on the and of 1 of the next bar" in told("r:5 C5:3 r:1 E5:3", 0)


def test_a_long_accent_is_told_with_its_length():
    assert "lasts a dotted quarter" in told("r:1 C5:3", 0)


def test_a_short_note_is_told_with_what_follows():
    assert told("r:1 C5:1 r:2 C5:1", 0).endswith("a rest after it: the line is cut off here")
    assert told("r:1 C5:1 r:2 C5:1", 1).endswith("on the beat with nothing after it")


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


def test_weaker_rules_are_named():
    sentence = told("C4:1 D4:1 G4:2 F4:1 E4:3", 2)
    assert sentence.endswith("; turn, leap-up and phrase-peak apply as well")


def test_a_note_that_yields_to_its_neighbour_says_so():
    assert told("C4:1 G4:1 A4:1 G4:1 F4:4", 1) == (
        "plain beside the stressed A4; alone it would be stressed, because the line leaps up a "
        "fifth to it"
    )


def test_the_authors_mark_tells_what_the_rules_would_have_done():
    quarter = "C5:2 r:6"
    assert told(quarter, 0, {0: "accent"}) == (
        "accented, as the author wants; the rules would have it marcato, because a quarter on "
        "the beat is struck and let go"
    )
    assert told(quarter, 0, {0: "marcato"}) == (
        "marcato, as the author wants; and the rules agree, because a quarter on the beat is "
        "struck and let go"
    )
    assert told(quarter, 0, {0: None}).startswith("unmarked, as the author wants; the rules")
    assert told("C5:4", 0, {0: "ghost"}) == (
        "ghosted, as the author wants; the rules would leave it plain"
    )


def test_an_unmarked_note_to_which_no_rule_applies_has_no_reason():
    assert told("C5:4", 0) is None


def test_a_swell_is_told_with_its_ends():
    tune = melody("r:4 C6:1 B5:1 A5:1 G5:1 F5:1 E5:1 D5:2")
    assert swell_reasons(tune, mark(tune)) == (
        "bar 1, beat 3 to bar 2, beat 2: decrescendo, because seven notes fall a minor seventh "
        "in one direction",
    )


@given(melodies())
@settings(max_examples=150, deadline=None)
def test_every_mark_has_a_reason_whose_intervals_are_the_notes_own(tune):
    marking = mark(tune)
    named = {name: size for size, name in enumerate(INTERVALS)}
    around = [0, *abs(tune.pitch[1:] - tune.pitch[:-1]).tolist(), 0]
    rows = zip(words_of(marking), rules_of(marking), reasons(tune, marking), strict=True)
    for i, (word, rule, sentence) in enumerate(rows):
        assert (sentence is None) == (int(marking.applied[i]) == 0)
        if word:
            assert rule
            assert "because" in sentence
        if sentence:
            assert not re.search(r"[{}]|None|  ", sentence)
            ends = r"\b(?:up|drops|down) ((?:an? )[a-z ]+?)(?: to | here|,|;|$)"
            for name in re.findall(ends, sentence):
                assert named.get(name) in around[i : i + 2], sentence
