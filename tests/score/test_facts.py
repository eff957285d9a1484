"""Facts of the trade in the tables, against other people's tables.

Programs: General MIDI 1's names as pretty_midi has them. Lowest notes and transpositions:
music21's instruments. Intervals: music21's, and the line of fifths itself (a fifth up is one
place, and seven semitones).
"""

from __future__ import annotations

import pretty_midi
import pytest

from phrasing.score.chords import parse_chord
from phrasing.score.instruments import BY_KEY, INSTRUMENTS
from phrasing.score.marks import MARKS
from phrasing.score.transposing import BY_SEMITONES, INTERVALS, moved_chord

pytestmark = pytest.mark.outside

PROGRAMS = {
    "soprano-sax": "Soprano Sax", "alto-sax": "Alto Sax", "tenor-sax": "Tenor Sax",
    "baritone-sax": "Baritone Sax", "trumpet": "Trumpet", "clarinet": "Clarinet",
    "trombone": "Trombone", "flute": "Flute", "vibraphone": "Vibraphone",
    "guitar": "Electric Guitar (jazz)", "piano": "Acoustic Grand Piano", "voice": "Voice Oohs",
    "horn": "French Horn", "oboe": "Oboe", "english-horn": "English Horn",
    "bassoon": "Bassoon", "piccolo": "Piccolo", "violin": "Violin", "viola": "Viola",
    "cello": "Cello", "bass": "Acoustic Bass", "tuba": "Tuba",
}  # fmt: skip
LIKE = {"flugelhorn": "trumpet", "cornet": "trumpet", "bass-clarinet": "clarinet"}
"""Instruments that General MIDI does not have, and what stands in for them."""


@pytest.mark.parametrize("key", [*PROGRAMS, *LIKE])
def test_a_program_is_the_instrument_it_is_for(key):
    name = PROGRAMS[LIKE.get(key, key)]
    assert pretty_midi.program_to_instrument_name(BY_KEY[key].program - 1) == name


def test_every_program_is_a_wind_a_string_or_what_it_stands_for():
    for instrument in INSTRUMENTS:
        assert 1 <= instrument.program <= 128
        if instrument.family == "brass":
            family = pretty_midi.program_to_instrument_class(instrument.program - 1)
            assert family == "Brass"


CLASSES = {
    "soprano-sax": "SopranoSaxophone", "alto-sax": "AltoSaxophone",
    "tenor-sax": "TenorSaxophone", "trumpet": "Trumpet", "clarinet": "Clarinet",
    "trombone": "Trombone", "flute": "Flute", "oboe": "Oboe", "english-horn": "EnglishHorn",
    "bass-clarinet": "BassClarinet", "bassoon": "Bassoon", "piccolo": "Piccolo",
    "violin": "Violin", "viola": "Viola", "cello": "Violoncello", "bass": "Contrabass",
    "tuba": "Tuba", "bass-trombone": "BassTrombone",
}  # fmt: skip


@pytest.mark.parametrize("key", CLASSES)
def test_the_lowest_note_and_the_transposition_are_the_instruments_own(key):
    from music21 import instrument

    theirs = getattr(instrument, CLASSES[key])()
    move = theirs.transposition.semitones if theirs.transposition else 0
    assert BY_KEY[key].transposition == move
    assert BY_KEY[key].low == theirs.lowestNote.ps + move


def test_a_baritone_saxophone_may_have_a_low_a():
    """music21 has it down to the written B♭; today's go to the written A (common practice)."""
    from music21 import instrument

    theirs = instrument.BaritoneSaxophone()
    assert (
        BY_KEY["baritone-sax"].low == theirs.lowestNote.ps + theirs.transposition.semitones - 1
    )


@pytest.mark.parametrize("name", INTERVALS)
def test_an_intervals_place_on_the_line_of_fifths_is_its_size(name):
    semitones, fifths = INTERVALS[name]
    assert 7 * fifths % 12 == semitones % 12


def test_the_usual_interval_of_each_size_is_that_size():
    assert [7 * fifths % 12 for fifths in BY_SEMITONES] == list(range(12))
    assert all(-5 <= fifths <= 6 for fifths in BY_SEMITONES)


SIZES = {
    "minor second": "m2", "major second": "M2", "minor third": "m3", "major third": "M3",
    "perfect fourth": "P4", "augmented fourth": "A4", "diminished fifth": "d5",
    "perfect fifth": "P5", "minor sixth": "m6", "major sixth": "M6", "minor seventh": "m7",
    "major seventh": "M7", "octave": "P8",
}  # fmt: skip


@pytest.mark.parametrize("name", SIZES)
def test_an_interval_is_as_large_as_it_is_called(name):
    from music21 import interval

    assert INTERVALS[name][0] == interval.Interval(SIZES[name]).semitones


@pytest.mark.parametrize(
    "chord,fifths,moved",
    [("C#m7", 6, "Gm7"), ("F♯7", 4, "B♭7"), ("D♭maj7", -6, "Gmaj7"), ("C7/E", 2, "D7/F♯")],
)
def test_a_moved_chord_is_spelled_plainly(chord, fifths, moved):
    told = moved_chord(chord, fifths)
    shift = 7 * fifths % 12
    both = [parse_chord(text).pitch_classes for text in (chord, told)]
    assert {(pitch + shift) % 12 for pitch in both[0]} == set(both[1])
    assert told == moved


def test_no_mark_is_held_beyond_its_written_length_and_the_short_ones_are_called_so():
    """Tenuto and accent are held, staccato is half or less (common practice, no source)."""
    by_name = {mark.name: mark for mark in MARKS}
    assert max(mark.gate for mark in MARKS) == by_name["tenuto"].gate == 1.0
    assert 0.95 <= by_name["accent"].gate < 1.0
    assert by_name["staccato"].gate <= 0.5
    detached = {mark.name for mark in MARKS if mark.is_detached}
    assert detached == {"marcato", "staccato", "clipped"}
    assert {mark.name for mark in MARKS if mark.parenthesised} == {"ghost"}
    strong = {mark.name for mark in MARKS if mark.is_strong}
    assert strong <= {"marcato", "accent", "clipped"}


TONES = {
    "C": {0, 4, 7}, "Cm": {0, 3, 7}, "Cdim": {0, 3, 6}, "C°7": {0, 3, 6, 9},
    "Cø7": {0, 3, 6, 10}, "Cm7b5": {0, 3, 6, 10}, "C+": {0, 4, 8}, "Caug": {0, 4, 8},
    "C7": {0, 4, 7, 10}, "Cmaj7": {0, 4, 7, 11}, "Cm7": {0, 3, 7, 10}, "C6": {0, 4, 7, 9},
    "Cm6": {0, 3, 7, 9}, "C69": {0, 2, 4, 7, 9}, "CmMaj7": {0, 3, 7, 11}, "Csus4": {0, 5, 7},
    "C7sus4": {0, 5, 7, 10}, "C7b9": {0, 1, 4, 7, 10}, "C7#9": {0, 3, 4, 7, 10},
    "C7#11": {0, 4, 6, 7, 10}, "C7b13": {0, 4, 7, 8, 10}, "C9": {0, 2, 4, 7, 10},
}  # fmt: skip


@pytest.mark.parametrize("symbol", TONES)
def test_a_chord_has_the_tones_that_any_book_gives_it(symbol):
    """Common practice, no source; tests/outside/test_chords.py asks other libraries."""
    assert set(parse_chord(symbol).pitch_classes) == TONES[symbol]
