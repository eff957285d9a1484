"""Chord symbols: every usual spelling, what it means, and the nearest to what is not known."""

import random

import pytest

from phrasing.errors import PhrasingError
from phrasing.score.chords import Chord, nearest_chord, parse_chord

SAME = {
    "C": "C CM Cmaj Cma",
    "Cmaj7": "Cmaj7 Cmajor7 CMaj7 CM7 CΔ CΔ7 C△7 C∆ Cma7 CMA7 C(maj7)",
    "Cm": "Cm C- C− C– Cmin Cmi CMIN",
    "Cm7": "Cm7 Cminor7 C-7 Cmin7 Cmi7 CMI7 Cm(7)",
    "Cø7": "Cø Cø7 CØ7 Cm7b5 Cm7♭5 C-7b5 Cmin7b5 Cm7(b5) C-7-5",
    "C°": "Co Cdim C°",
    "C°7": "Co7 Cdim7 C°7 Cº7",
    "C+": "C+ Caug C+5",
    "C7♯5": "C7#5 C7♯5 C+7 Caug7 C7+ C7+5 C7aug",
    "C6/9": "C6/9 C69 C6(9) C6,9 CM6/9",
    "Cm6/9": "Cm6/9 Cm69 C-69",
    "C7♭9": "C7b9 C7♭9 C7(b9) C7-9",
    "C7♯9": "C7#9 C7♯9 C7(#9) C7+9",
    "C7♯11": "C7#11 C7(#11) C7#4 C7+11",
    "C7♭13": "C7b13 C7b6",
    "C7alt": "C7alt Calt C7(alt)",
    "Csus4": "Csus Csus4 C4",
    "C7sus4": "C7sus C7sus4 Csus7 C7(sus4)",
    "C(add9)": "Cadd9 Cadd2 C2 C(add9)",
    "Cm(maj7)": "CmMaj7 CmM7 C-Δ C-Δ7 CmΔ Cm(maj7) Cminmaj7 Cmi(ma7)",
    "Cmaj7♯5": "Cmaj7#5 CM7#5 C+maj7 C+M7 Caug(maj7)",
    "C7♭9♭13": "C7b9b13 C7(b9,b13) C7(b9, b13) C7b13b9",
    "N.C.": "N.C. N.C NC n.c. nc",
}
MEANS = {
    "C": {0, 4, 7},
    "Cm": {0, 3, 7},
    "Cmaj7": {0, 4, 7, 11},
    "C7": {0, 4, 7, 10},
    "Cm7": {0, 3, 7, 10},
    "Cm(maj7)": {0, 3, 7, 11},
    "Cø7": {0, 3, 6, 10},
    "C°": {0, 3, 6},
    "C°7": {0, 3, 6, 9},
    "C°(maj7)": {0, 3, 6, 11},
    "C+": {0, 4, 8},
    "C7♯5": {0, 4, 8, 10},
    "C6": {0, 4, 7, 9},
    "Cm6": {0, 3, 7, 9},
    "C6/9": {0, 2, 4, 7, 9},
    "C9": {0, 2, 4, 7, 10},
    "C11": {0, 2, 4, 5, 7, 10},
    "C13": {0, 2, 4, 7, 9, 10},
    "Cmaj9": {0, 2, 4, 7, 11},
    "Cm11": {0, 2, 3, 5, 7, 10},
    "C7♭9": {0, 1, 4, 7, 10},
    "C7♯9": {0, 3, 4, 7, 10},
    "C13♯11": {0, 2, 4, 6, 7, 9, 10},
    "C13♭9": {0, 1, 4, 7, 9, 10},
    "C7alt": {0, 1, 3, 4, 6, 8, 10},
    "C7♭5": {0, 4, 6, 10},
    "Csus2": {0, 2, 7},
    "Csus4": {0, 5, 7},
    "C9sus4": {0, 2, 5, 7, 10},
    "C7sus4(♭9)": {0, 1, 5, 7, 10},
    "C(add9)": {0, 2, 4, 7},
    "C5": {0, 7},
    "C7(no5)": {0, 4, 10},
    "N.C.": set(),
}


@pytest.mark.parametrize("normal", SAME)
def test_spellings_of_one_chord_are_one_chord(normal):
    for spelling in SAME[normal].replace(", ", ",").split():
        assert parse_chord(spelling).text == normal, spelling
        assert parse_chord(spelling) == parse_chord(normal)


@pytest.mark.parametrize("text", MEANS)
def test_a_chord_means_these_notes(text):
    chord = parse_chord(text)
    assert chord.pitch_classes == MEANS[text]
    assert chord.text == text
    assert chord.sounds == bool(MEANS[text])


@pytest.mark.parametrize(
    "name,pitch",
    [
        *(("C", 0), ("C#", 1), ("Db", 1), ("D♭", 1), ("F♯", 6), ("Gb", 6), ("Bb", 10)),
        *(("Cb", 11), ("B#", 0), ("E#", 5), ("F𝄪", 7), ("F##", 7), ("B𝄫", 9), ("Bbb", 9)),
    ],
)
def test_roots_with_every_accidental(name, pitch):
    assert parse_chord(name + "m7").root == pitch


def test_a_bass_note_after_a_slash_and_not_in_six_nine():
    chord = parse_chord("Gb6/9/Bb")
    assert (chord.root, chord.bass, chord.text) == (6, 10, "G♭6/9/B♭")
    assert parse_chord("C/Bb").pitch_classes == {0, 4, 7, 10}
    assert parse_chord("C6/9").bass == 0


def test_third_seventh_and_dominants():
    assert (parse_chord("Dm6").third, parse_chord("Dm6").seventh) == (3, 9)
    assert (parse_chord("D7sus4").third, parse_chord("D7sus4").seventh) == (5, 10)
    assert (parse_chord("D5").third, parse_chord("D").seventh) == (None, None)
    dominants = [t for t in ("D7", "D9sus4", "D7alt", "Dm7", "Dmaj7", "D", "D°7") if
                 parse_chord(t).is_dominant]  # fmt: skip
    assert dominants == ["D7", "D9sus4", "D7alt"]


def test_a_ninth_is_not_folded_into_the_octave():
    assert parse_chord("C9").intervals(9) == (14,)
    assert parse_chord("C7b9#9").intervals(9) == (13, 15)


def test_written_signs_are_kept_with_real_accidentals():
    assert parse_chord("Bb-7b5/Fb").written == "B♭-7♭5/F♭"
    assert parse_chord("F#o7").written == "F♯°7"
    assert parse_chord("Ebadd9").written == "E♭add9"


@pytest.mark.parametrize(
    "text,near",
    [
        *(("dm7", "Dm7"), ("Cmaj8", "Cmaj7"), ("bb7", "Bb7"), ("Ebmaj7#13", "Ebmaj7#11")),
        *(("Cm77", "Cm7"), ("F#majj7", "F#maj7"), ("N-C", "N.C."), ("C7b8", "C7b5")),
        *(("Cmja7/E", "Cmaj7/E"), ("Cmja7/x", "Cmaj7"), ("F7/zz", "F7"), ("Bb13x/D", "Bb13/D")),
    ],
)
def test_an_unknown_chord_names_the_nearest(text, near):
    assert nearest_chord(text) == near
    with pytest.raises(
        PhrasingError, match=r"“.*” is not known; the nearest .* “.*”\.$"
    ) as told:
        parse_chord(text)
    assert f"“{text}”" in str(told.value)
    assert f"“{near}”" in str(told.value)
    assert parse_chord(near)


@pytest.mark.parametrize(
    "text", ["", " ", "H7", "X", "/C", "7", "♭", "(", "CC", "Cm5", "Cmaj5"]
)
def test_what_is_no_chord_is_refused_in_one_line(text):
    with pytest.raises(PhrasingError) as told:
        parse_chord(text)
    assert "\n" not in str(told.value)


@pytest.mark.long
def test_every_chord_reads_its_own_normal_spelling_and_never_crashes():
    chance = random.Random(11)
    pieces = (
        "maj m 7 9 13 b9 #11 + - 5 4 2 6 69 sus sus4 alt add9 addb9 add no3 omit5 ( ) , Δ ø"
    )
    pieces += " o dim aug / /G /Bb b # dom 11 b13 6/9 ♭ ♯5 𝄫"
    read = 0
    for _ in range(20_000):
        text = chance.choice(["C", "Bb", "F#", "Abb"]) + "".join(
            chance.choice(pieces.split()) for _ in range(chance.randint(0, 4))
        )
        try:
            chord = parse_chord(text)
        except PhrasingError:
            continue
        read += 1
        assert parse_chord(chord.text) == chord, text
        assert parse_chord(chord.written) == chord, text
    assert read > 5000


def test_double_flats_are_not_confused_with_a_flat_ninth():
    assert parse_chord("Abb9").intervals(9) == (13,)
    assert parse_chord("A𝄫9").intervals(9) == (14,)
    assert parse_chord("Bbb7").root == 9


def test_a_chord_can_be_compared_whatever_its_spelling():
    assert parse_chord("C-7") == parse_chord("Cmin7")
    assert parse_chord("C-7") != parse_chord("C-7/Bb")
    assert isinstance(parse_chord("C"), Chord)
