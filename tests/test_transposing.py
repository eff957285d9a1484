"""Melodies moved with their keys and chords."""

from __future__ import annotations

from dataclasses import replace

import pytest

from phrasing.errors import PhrasingError
from phrasing.instruments import BY_KEY
from phrasing.melody import ChordSymbol, Grace, Key
from phrasing.transposing import Move, as_written, move_of, moved_chord, transposed
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
