"""Whether a melody lies on an instrument."""

from __future__ import annotations

from dataclasses import replace

import pytest

from phrasing.errors import PhrasingError
from phrasing.score.instruments import BY_KEY, INSTRUMENTS
from phrasing.score.melody import ChordSymbol, Grace, Key
from phrasing.score.transposing import Move, as_written, fit, move_of, moved_chord, transposed
from tests.lines import melody


def tune():
    return replace(
        melody("F4:2 G4:2 A4:2 Bb4:2"),
        keys=(Key(0, -1),),
        chords=(ChordSymbol(0, "F6/9"), ChordSymbol(1920, "B♭13/C"), ChordSymbol(2880, "N.C.")),
        graces=(Grace(1, (66,)),),
    )


@pytest.mark.parametrize(
    ("wish", "move"),
    [
        ("3", Move(3, -3)),
        ("+2", Move(2, 2)),
        ("-3", Move(-3, 3)),
        ("5 semitones", Move(5, -1)),
        ("up a fourth", Move(5, -1)),
        ("down a minor third", Move(-3, 3)),
        ("a major sixth down", Move(-9, -3)),
        ("Up An Octave", Move(12, 0)),
        ("down 2", Move(-2, -2)),
        ("to Eb", Move(-2, -2)),
        ("Eb", Move(-2, -2)),
        ("E♭ major", Move(-2, -2)),
        ("To Eb", Move(-2, -2)),
        ("to G", Move(2, 2)),
        ("to C", Move(-5, 1)),
        ("to B", Move(6, 6)),
        ("to F♯ major", Move(1, 7)),
        ("to D minor", Move(0, 0)),
    ],
)
def test_what_is_asked_for(wish: str, move: Move) -> None:
    assert move_of(wish, tune()) == move


def test_to_a_minor_key_where_the_melody_is_minor() -> None:
    line = replace(tune(), keys=(Key(0, 0, True),))
    assert move_of("to C", line) == Move(3, -3)


@pytest.mark.parametrize(
    "wish", ["sideways", "to H", "H", "Bb7", "to E flat", "up a lot", "up", "1.5"]
)
def test_what_cannot_be_read_is_an_error_with_examples(wish: str) -> None:
    with pytest.raises(PhrasingError, match=r"“.*say for example"):
        move_of(wish, tune())


def test_pitches_keys_chords_and_graces_move_together() -> None:
    up = transposed(tune(), "up a major sixth", octave=-1)
    assert up.pitch.tolist() == [62, 64, 66, 67]
    assert up.keys == (Key(0, 2),)
    assert [chord.text for chord in up.chords] == ["D6/9", "G13/A", "N.C."]
    assert up.graces == (Grace(1, (63,)),)


def test_there_and_back_is_where_it_was() -> None:
    for wish, back in (("up a tritone", "down a tritone"), ("7", "-7"), ("to Ab", "to F")):
        again = transposed(transposed(tune(), wish), back)
        assert again.pitch.tolist() == tune().pitch.tolist()
        assert (again.keys, again.chords) == (tune().keys, tune().chords)


@pytest.mark.parametrize(
    ("text", "fifths", "moved"),
    [
        ("Cmaj7", 3, "Amaj7"),
        ("F♯m7♭5/E", -3, "Am7♭5/G"),
        ("B♭7", 2, "C7"),
        ("D♭9", -5, "D9"),
        ("%", 1, "%"),
    ],
)
def test_chord_names(text: str, fifths: int, moved: str) -> None:
    assert moved_chord(text, fifths) == moved


def test_beyond_midi_is_an_error() -> None:
    with pytest.raises(PhrasingError, match="range of MIDI"):
        transposed(tune(), octave=6)


def test_as_an_alto_player_reads_it() -> None:
    read = as_written(tune(), BY_KEY["alto-sax"])
    assert read.pitch.tolist() == [74, 76, 78, 79]
    assert read.keys == (Key(0, 2),)
    assert read.chords[0].text == "D6/9"


def test_within_the_range_there_is_nothing_to_say() -> None:
    for own in INSTRUMENTS:
        report = fit(melody("C4:2").transposed(own.low - 60), own)
        assert report.fits
        assert (report.octaves, report.message) == (0, "")


def test_each_edge_is_in_and_one_beyond_is_out() -> None:
    for own in filter(lambda own: own.is_named, INSTRUMENTS):
        for edge, beyond in ((own.low, -1), (own.high, 1)):
            assert fit(melody("C4:2").transposed(edge - 60), own).fits
            assert not fit(melody("C4:2").transposed(edge + beyond - 60), own).fits


def test_notes_out_of_range_are_named_as_they_are_read_with_their_place() -> None:
    report = fit(melody("G4:2 E3:2 F4:2 A3:2 C3:2"), BY_KEY["alto-sax"])
    assert report.outside == (4,)
    assert report.octaves == 1
    assert report.message == (
        "1 note is outside the range of the alto saxophone in E♭ (written B♭3 to F6): "
        "A3 (bar 2, beat 1). --octave +1 would fit."
    )


def test_many_notes_are_counted_and_no_octave_is_promised_that_does_not_fit() -> None:
    report = fit(melody(" ".join(["E2:1", "C6:1"] * 5)), BY_KEY["trumpet"])
    assert len(report.outside) == 10
    assert report.octaves is None
    assert "and 6 more" in report.message
    assert "No octave fits all of it" in report.message


def test_the_high_key_is_mentioned_where_it_is_all_that_lacks() -> None:
    assert "high F♯ key" in fit(melody("A5:2"), BY_KEY["alto-sax"]).message
    assert "high F♯ key" not in fit(melody("C6:2"), BY_KEY["alto-sax"]).message
