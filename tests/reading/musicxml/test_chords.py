"""Chord symbols of a score, at concert pitch and where they sound."""

from __future__ import annotations

import pytest

from phrasing.reading.musicxml.chords import KINDS
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.chords import parse_chord
from tests.reading.scores import (
    DIVISIONS,
    END,
    FOUR,
    QUARTER,
    bar,
    degree,
    harmony,
    notes,
    part,
    read,
    saved,
    score,
)


def symbols(melody) -> list[tuple[float, str]]:
    return [(c.onset / QUARTER, c.text) for c in melody.chords]


def symbol(tmp_path, *of_harmony, **more) -> str:
    """The text of one chord symbol."""
    melody = read(tmp_path, harmony(*of_harmony, **more) + notes("C5:4"))
    return melody.chords[0].text


@pytest.mark.parametrize(
    ("root", "kind", "text"),
    [
        ("D", "minor-seventh", "Dm7"),
        ("Bb", "dominant-13th", "B♭13"),
        ("F#", "half-diminished", "F♯m7♭5"),
        ("C", "major", "C"),
        ("C", "none", "N.C."),
        ("Eb", "major-minor", "E♭m(maj7)"),
    ],
)
def test_roots_and_kinds(tmp_path, root, kind, text):
    assert symbol(tmp_path, root, kind) == text


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_is_written_so_that_it_is_understood(tmp_path, kind):
    assert parse_chord(symbol(tmp_path, "C", kind)).sounds


@pytest.mark.parametrize(
    ("kind", "degrees", "text"),
    [
        ("dominant", [(9, 1, "add")], "C7(♯9)"),
        ("dominant", [(11, 1, "add"), (9, -1, "add")], "C7(♭9♯11)"),
        ("dominant", [(5, -1, "alter")], "C7(♭5)"),
        ("minor-seventh", [(5, -1, "alter")], "Cm7(♭5)"),
        ("major", [(9, 0, "add")], "C(add9)"),
        ("suspended-fourth", [(7, 0, "add"), (9, -1, "add")], "C7sus4(♭9)"),
        ("suspended-fourth", [(7, 0, "add"), (9, 0, "add"), (13, -1, "add")], "C9sus4(♭13)"),
        ("suspended-fourth", [(7, 0, "add"), (9, -1, "add"), (13, 0, "add")], "C13sus4(♭9)"),
        ("major-sixth", [(9, 0, "add")], "C6/9"),
        ("major", [(3, 0, "subtract")], "C(no3)"),
        ("suspended-fourth", [(7, 0, "add")], "C7sus4"),
        ("suspended-fourth", [(7, -1, "add"), (9, 0, "add")], "C9sus4"),
        ("dominant-ninth", [(3, 0, "subtract"), (4, 0, "add")], "C9sus4"),
        ("major", [(3, 0, "subtract"), (2, 0, "add")], "Csus2"),
        ("minor", [(7, 1, "add")], "Cm(maj7)"),
    ],
)
def test_degrees(tmp_path, kind, degrees, text):
    extra = "".join(degree(*each) for each in degrees)
    assert symbol(tmp_path, "C", kind, extra=extra) == text


@pytest.mark.parametrize(
    ("kind", "printed", "degrees", "text"),
    [
        ("minor-seventh", "-7", [], "C-7"),
        ("major-seventh", "Maj7", [(11, 1, "add")], "CMaj7(♯11)"),
        ("dominant", "7#9", [], "C7♯9"),
        ("dominant", "7#9", [(9, 1, "add")], "C7♯9"),
        ("dominant", "7#5", [], "C7♯5"),
        ("other", "7alt", [], "C7alt"),
        ("suspended-fourth", "7sus4", [(7, -1, "add")], "C7sus4"),
        ("half-diminished", "7", [], "Cm7♭5"),
        ("suspended-fourth", "11", [], "Csus4"),
        ("augmented-seventh", "7", [], "C7♯5"),
        ("minor", "moll", [], "Cm"),
        ("major", "", [], "C"),
    ],
)
def test_the_authors_spelling_is_kept_where_it_says_no_less(
    tmp_path, kind, printed, degrees, text
):
    """Some programs print the symbol ø by itself and give only "7" as the text."""
    extra = "".join(degree(*each) for each in degrees)
    assert symbol(tmp_path, "C", kind, text=printed, extra=extra) == text


def test_a_bass_note(tmp_path):
    bass = "<bass><bass-step>E</bass-step><bass-alter>-1</bass-alter></bass>"
    assert symbol(tmp_path, "C", "minor-seventh", extra=bass) == "Cm7/E♭"


@pytest.mark.parametrize(
    ("transpose", "written", "concert"),
    [
        ("<diatonic>-1</diatonic><chromatic>-2</chromatic>", "C", "B♭"),
        ("<diatonic>-1</diatonic><chromatic>-2</chromatic>", "F#", "E"),
        ("<diatonic>-5</diatonic><chromatic>-9</chromatic>", "A", "C"),
        ("<diatonic>-5</diatonic><chromatic>-9</chromatic>", "Db", "F♭"),
        ("<diatonic>-5</diatonic><chromatic>-9</chromatic>", "Gb", "A"),
        ("<chromatic>-9</chromatic>", "B", "D"),
        ("<chromatic>0</chromatic><octave-change>-1</octave-change>", "G#", "G♯"),
    ],
)
def test_chords_of_a_transposing_part_are_at_concert_pitch(
    tmp_path, transpose, written, concert
):
    """Seen from the concert key: no double flats where a plain name will do."""
    bass = "<bass><bass-step>C</bass-step></bass>" if written == "C" else ""
    given = f"{FOUR}<transpose>{transpose}</transpose>"
    melody = read(
        tmp_path, harmony(written, "dominant", extra=bass) + notes("C5:4"), attributes=given
    )
    assert melody.chords[0].text == f"{concert}7" + ("/B♭" if bass else "")


def test_chords_stand_where_they_sound(tmp_path):
    late = f"<offset>{DIVISIONS * 2}</offset>"
    melody = read(
        tmp_path,
        harmony("D", "minor-seventh")
        + notes("C5:1")
        + harmony("G", "dominant")
        + notes("D5:3"),
        harmony("C", "major-seventh") + harmony("A", "dominant", extra=late) + notes("E5:4"),
    )
    assert symbols(melody) == [(0, "Dm7"), (1, "G7"), (4, "Cmaj7"), (6, "A7")]


def test_chords_that_share_a_note_share_its_time(tmp_path):
    two = harmony("D", "minor-seventh") + harmony("G", "dominant")
    melody = read(tmp_path, two + notes("C5:4"))
    assert symbols(melody) == [(0, "Dm7"), (2, "G7")]


def test_the_same_chord_on_both_staves_is_one_chord(tmp_path):
    chord = harmony("C", "major")
    melody = read(tmp_path, chord + chord + notes("C5:4"))
    assert symbols(melody) == [(0, "C")]


def test_chords_come_again_with_their_bars(tmp_path):
    melody = read(
        tmp_path,
        harmony("C", "major") + notes("C5:4") + END,
        harmony("F", "major") + notes("C5:4"),
    )
    assert symbols(melody) == [(0, "C"), (4, "C"), (8, "F")]


def test_chords_may_stand_over_another_part(tmp_path):
    """The piano has the symbols, at its own pitch; the trumpet has the tune."""
    trumpet = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    content = score(
        part(notes("D5:4"), attributes=FOUR + trumpet),
        part(harmony("C", "major") + notes("C3:4")),
        names=("Trumpet", "Piano"),
    )
    melody = read_musicxml(saved(tmp_path, content))
    assert symbols(melody) == [(0, "C")]
    assert melody.pitch.tolist() == [72]


def test_an_alternative_chord_is_not_the_chord(tmp_path):
    alternative = harmony("E", "minor-seventh").replace(
        "<harmony>", '<harmony type="alternate">'
    )
    assert symbols(read(tmp_path, harmony("C", "major") + alternative + notes("C5:4"))) == [
        (0, "C")
    ]


@pytest.mark.parametrize(
    "nameless",
    [
        "<harmony><numeral><numeral-root>5</numeral-root></numeral><kind>dominant</kind></harmony>",
        "<harmony><function>V</function><kind>dominant</kind></harmony>",
        harmony("C", "Neapolitan"),
        harmony("C", "Tristan", text="T"),
    ],
)
def test_a_chord_that_no_root_names_is_left_out_and_named(tmp_path, nameless):
    melody = read(
        tmp_path, nameless + notes("C5:4"), bar(harmony("F", "major") + notes("F5:4"))
    )
    assert symbols(melody) == [(4, "F")]
    assert (
        "Bar 1 has a chord that no root names (a Roman numeral, say); it is left out."
        in melody.reading.warnings
    )


def test_a_chord_of_which_only_the_root_is_told_is_named(tmp_path):
    melody = read(tmp_path, harmony("A", "other") + notes("C5:4"))
    assert symbols(melody) == [(0, "A")]
    assert (
        "Bar 1 has a chord of which only the root is told; it is taken as a major triad."
        in melody.reading.warnings
    )
    told = read(tmp_path, harmony("A", "other", text="7alt") + notes("C5:4"))
    assert symbols(told) == [(0, "A7alt")]
    assert not any("root" in text for text in told.reading.warnings)


def test_a_chord_behind_the_last_note_of_a_bar_is_kept(tmp_path):
    late = harmony("F", "major") + notes("C5:4") + harmony("G", "dominant")
    melody = read(tmp_path, late, bar(notes("C5:4")))
    assert symbols(melody) == [(0, "F"), (4, "G7")]
