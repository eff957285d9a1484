"""Which style a melody is played in, and that each style is data."""

from dataclasses import replace

import pytest

from phrasing.errors import PhrasingError
from phrasing.feel import Feel
from phrasing.marking.explaining import why
from phrasing.marking.precedence import mark
from phrasing.performing.performance import perform
from phrasing.score.melody import Manner, Melody
from phrasing.style import (
    STYLE,
    STYLES,
    by_section,
    changes_sentence,
    chosen,
    double_time_in_words,
    sixteenths_in_words,
    style_in_words,
    usual_tempo,
)
from tests.lines import melody

EIGHTHS = "C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 B5:1 C6:1"
THIRD = "0.6666667"
LONG_SHORT = f"C5:1.3333333 D5:{THIRD} " * 4


def style_of(words=EIGHTHS, meter="4/4", tempo=120.0, asked=None, **changes):
    return chosen(replace(melody(words, meter, tempo), **changes), asked).style.name


def test_the_names_of_the_styles():
    assert list(STYLE) == ["swing", "ballad", "even", "shuffle"]


@pytest.mark.parametrize("tempo,name", [(50, "ballad"), (80, "ballad"), (81, "swing")])
def test_up_to_eighty_it_is_a_ballad(tempo, name):
    assert style_of(tempo=tempo) == name


def test_twelve_eight_and_beats_of_long_and_short_triplets_are_a_shuffle():
    assert style_of("C5:2 D5:1 " * 4, "12/8") == "shuffle"
    assert style_of(LONG_SHORT) == "shuffle"


def test_a_few_triplets_are_no_shuffle():
    assert style_of(f"C5:1.3333333 D5:{THIRD} {EIGHTHS} C5:6") == "swing"
    assert style_of(f"C5:{THIRD} D5:{THIRD} E5:{THIRD} " * 4) == "swing"


def test_twelve_eight_is_a_shuffle_however_slow_and_three_eighths_are_not():
    assert style_of("C5:3 D5:3 C5:3 D5:3", "12/8", tempo=60) == "shuffle"
    assert style_of("C5:3 D5:3 C5:3 D5:3", "6/8") == "swing"


@pytest.mark.parametrize(
    "text,name",
    [
        ("Medium Bossa Nova", "even"), ("Samba", "even"), ("latin feel", "even"),
        ("Straight 8ths", "even"), ("even eighths", "even"), ("No swing", "even"),
        ("Slow ballad", "ballad"), ("Shuffle", "shuffle"), ("Bright swing", "swing"),
        ("Straight-ahead", "swing"), ("straight ahead", "swing"),
        ("straight mute", None), ("Even though", None), ("even more", None), ("seventh", None),
        ("Funk", "even"), ("swung funk", "swing"), ("Rock shuffle", "shuffle"),
        ("rock", "even"), ("Cha-cha", "even"), ("Jazz waltz", "swing"),
        ("Latin (even 8ths)", "even"), ("", None),
    ],
)  # fmt: skip
def test_what_an_authors_words_ask_for(text, name):
    style = style_in_words(text)
    assert (style.name if style else None) == name


def test_the_authors_words_come_before_the_tempo_and_the_teachers_before_them():
    assert style_of(tempo=66, style_words="Slow swing") == "swing"
    assert style_of(tempo=150, style_words="Ballad") == "ballad"
    assert style_of(style_words="Ballad", asked="shuffle") == "shuffle"
    assert style_of(style_words="Ballad", asked="auto") == "ballad"


def test_straight_eighths_asked_for_in_the_score_are_even():
    assert style_of(swing=1.0, tempo=66) == "even"
    assert style_of(swing=2.0, tempo=66) == "ballad"


def test_an_unknown_style_is_named_with_the_nearest():
    with pytest.raises(PhrasingError, match=r"“balad”\. Did you mean “ballad”"):
        chosen(melody(EIGHTHS), "balad")


@pytest.mark.parametrize(
    "changes,sentence",
    [
        ({}, "At 66: a ballad; quarters are held, and the line is slurred."),
        (
            {"style_words": "Bossa nova"},
            "“Bossa nova”: even eighths; nothing swings, and quarters are held unless a rest "
            "follows.",
        ),
    ],
)
def test_what_was_chosen_is_said_in_one_sentence(changes, sentence):
    assert chosen(replace(melody(EIGHTHS, tempo=66), **changes)).sentence == sentence


@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
def test_every_row_can_be_played(style):
    assert isinstance(style.played(), Feel)
    tune = melody(EIGHTHS)
    part = perform(tune, mark(tune, style=style)).parts[0]
    assert len(part.onset) == len(tune)


def test_even_eighths_do_not_swing_alone_or_over_a_band():
    tune = melody(EIGHTHS)
    even = mark(tune, style=STYLE["even"])
    for lay_back in (False, True):
        feel = STYLE["even"].played()
        feel = replace(feel, swing=replace(feel.swing, ride_by_tempo=feel.swing.by_tempo))
        part = perform(tune, even, feel, lay_back=lay_back).parts[0]
        assert part.onset.tolist() == tune.onset.tolist()


def test_a_shuffle_is_two_to_one_at_any_tempo():
    tune = melody(EIGHTHS, tempo=280)
    part = perform(tune, mark(tune, style=STYLE["shuffle"])).parts[0]
    assert part.onset[:2].tolist() == [0, 640]


@pytest.mark.parametrize(
    ("text", "sixteenths", "double"),
    [
        ("16th swing", True, None), ("Swing 16ths", True, None),
        ("swung sixteenths", True, None),
        ("Swing 8ths", None, None), ("Double-time feel", None, True),
        ("end double time", None, False), ("normal time", None, False), ("Swing", None, None),
    ],
)  # fmt: skip
def test_what_words_say_of_sixteenths(text, sixteenths, double):
    assert sixteenths_in_words(text) is sixteenths
    assert double_time_in_words(text) is double


@pytest.mark.parametrize(
    ("words", "tempo"),
    [
        ("Medium swing", 140),
        ("Med. bossa", 140),
        ("Medium-up swing", 180),
        ("Medium slow shuffle", 100),
        ("Up-tempo swing", 220),
        ("Bright samba", 220),
        ("Slow blues", 66),
        ("Ballad", 66),
        ("Slow swing", 84),
        ("Swing", None),
        ("Slow down", None),
        ("Pick up the brushes", None),
    ],
)
def test_the_tempo_that_words_for_a_feel_name(words: str, tempo: float | None):
    assert usual_tempo(words) == tempo


def in_sections(*manners: Manner) -> Melody:
    return replace(melody("C5:8 D5:8 E5:8"), manners=manners)


def test_each_section_has_its_style():
    piece = in_sections(Manner(3840, "Bossa"), Manner(7680, "Swing"))
    assert by_section(piece, STYLE["ballad"]) == (
        (0, STYLE["ballad"]),
        (3840, STYLE["even"]),
        (7680, STYLE["swing"]),
    )
    assert changes_sentence(piece, STYLE["ballad"]) == (
        "From bar 2 on: even eighths. From bar 3 on: swing."
    )


def test_where_nothing_is_said_any_more_the_first_style_comes_back():
    piece = in_sections(Manner(3840, "Bossa"), Manner(7680))
    assert by_section(piece, STYLE["swing"])[-1] == (7680, STYLE["swing"])


def test_a_ratio_alone_changes_a_style_only_where_it_contradicts_it():
    piece = in_sections(Manner(3840, swing=1.0), Manner(7680, swing=2.0))
    assert [style.name for _, style in by_section(piece, STYLE["shuffle"])] == [
        "shuffle",
        "even",
        "swing",
    ]
    kept = in_sections(Manner(3840, swing=1.5), Manner(7680, swing=1.5, sixteenths=True))
    assert by_section(kept, STYLE["ballad"])[-1][1].name == "ballad"
    assert changes_sentence(kept, STYLE["ballad"]) == (
        "From bar 2 on: a ballad, 1.5 : 1. From bar 3 on: a ballad, 1.5 : 1 in sixteenths."
    )


def test_a_section_in_another_style_is_marked_in_it():
    bar = "A4:2 F4:2 C5:1 G4:2 E4:1 "
    tune = melody(bar * 4)
    manner = Manner(3840 * 2, words="Bossa nova")
    both = mark(replace(tune, manners=(manner,)), style=STYLE["swing"])
    swing, even = (mark(tune, style=STYLE[name]) for name in ("swing", "even"))
    half = len(tune) // 2
    assert both.mark.tolist() == [*swing.mark[:half], *even.mark[half:]]
    assert not both.joined[half:].any()
    assert not both.flow[half:].any()
    assert (both.style_at(0).name, both.style_at(half).name) == ("swing", "even")
    assert all(why(tune, both, i) for i in range(len(tune)) if both.mark[i] >= 0)


def test_twelve_eighths_are_called_so():
    long_short = "C5:2 D5:1 " * 16
    found = chosen(melody(long_short, meter="12/8", tempo=80))
    assert found.style.name == "shuffle"
    assert found.sentence.startswith("12/8: ")
