"""The table of instruments."""

from __future__ import annotations

import pytest

from phrasing.errors import PhrasingError
from phrasing.score.instruments import (
    BY_KEY,
    INSTRUMENTS,
    instrument_in,
    instrument_named,
    instrument_of_program,
    instrument_of_sound,
    plain_words,
    written_like,
)


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda i: i.key)
def test_each_is_found_by_key_by_name_and_by_every_spelling(instrument) -> None:
    assert instrument_named(instrument.key) is instrument
    assert instrument_named(instrument.name.upper().replace("♭", "b")) is instrument
    for spelling in instrument.spellings:
        assert instrument_named(spelling.upper()) is instrument, spelling


def test_no_two_rows_share_a_key_a_name_or_a_spelling() -> None:
    said = [
        name
        for own in INSTRUMENTS
        for name in {plain_words(name) for name in (own.key, own.name, *own.spellings)}
    ]
    assert len(said) == len(set(said))


def test_a_program_means_its_first_row() -> None:
    assert instrument_of_program(57).key == "trumpet"
    assert instrument_of_program(58).key == "trombone"
    assert instrument_of_program(72).key == "clarinet"
    assert instrument_of_program(128) is None


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("alto", "alto-sax"),
        ("Bari Sax", "baritone-sax"),
        ("tenor_saxophone", "tenor-sax"),
        ("vibes", "vibraphone"),
        ("neutral", "voice"),
        ("  flute ", "flute"),
        ("A. Sx.", "alto-sax"),
        ("ASx1", "alto-sax"),
        ("Bari", "baritone-sax"),
        ("2nd B♭ Tpt.", "trumpet"),
        ("Tpt.3", "trumpet"),
        ("Trombones 1 & 2", "trombone"),
        ("Flügelhorn", "flugelhorn"),
        ("Horn in F 2", "horn"),
        ("Bass Clarinet in Bb", "bass-clarinet"),
        ("Electric Bass", "bass"),
        ("Euphonium T.C.", "euphonium-treble"),
        ("Euphonium (B.C.)", "euphonium"),
        ("Baritone (T.C.)", "euphonium-treble"),
        ("Trombone (treble clef)", "trombone-treble"),
        ("C Trumpet", "trumpet-in-c"),
        ("Clarinet in A", "clarinet-in-a"),
        ("Bb", "part-in-b-flat"),
        ("part in E♭", "part-in-e-flat"),
        ("concert", "part-in-c"),
        ("bass clef", "part-in-bass-clef"),
        ("Violin II", "violin"),
        ("Lead Alto", "alto-sax"),
    ],
)
def test_players_words_are_known(said: str, key: str) -> None:
    assert instrument_named(said).key == key


@pytest.mark.parametrize(
    "name", ["Bass Flute", "Alto Clarinet 2", "Melody", "Solo", "Bass drum", "Bagpipe", "", "1"]
)
def test_what_is_no_instrument_of_the_table_is_not_taken_for_one(name: str) -> None:
    assert instrument_in(name) is None


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("trupmet", "trumpet"), ("Claranet", "clarinet"), ("flugelhron", "flugelhorn")],
)
def test_an_unknown_name_gets_the_nearest_that_is_known(typed: str, meant: str) -> None:
    with pytest.raises(PhrasingError, match=rf"“{typed}”; did you mean “{meant}”\?"):
        instrument_named(typed)


def test_a_name_like_none_gets_the_list_of_all() -> None:
    with pytest.raises(PhrasingError, match=r"“kazoo”; choose one of .*alto-sax.*piano"):
        instrument_named("kazoo")


@pytest.mark.parametrize(
    ("sound", "key"),
    [
        ("wind.reed.saxophone.alto", "alto-sax"),
        ("wind.reed.clarinet.bflat", "clarinet"),
        ("wind.reed.clarinet.bass", "bass-clarinet"),
        ("brass.trombone.tenor", "trombone"),
        ("brass.trombone.bass", "bass-trombone"),
        ("pluck.bass.electric", "bass"),
        ("voice.female", "voice"),
        ("wind.flutes.flute.alto", None),
        ("voices.made-up", None),
        ("", None),
    ],
)
def test_a_standard_sound_names_an_instrument(sound: str, key: str | None) -> None:
    own = instrument_of_sound(sound)
    assert (own.key if own else None) == key


@pytest.mark.parametrize(
    ("key", "transposition", "row"),
    [
        ("trombone", -14, "trombone-treble"),
        ("trombone", 0, "trombone"),
        ("euphonium-treble", 0, "euphonium"),
        ("trumpet", 0, "trumpet-in-c"),
        ("clarinet", -3, "clarinet-in-a"),
        ("part-in-c", -9, "part-in-e-flat"),
        ("clarinet", 5, "clarinet"),
        ("horn", 0, "horn"),
    ],
)
def test_the_row_that_is_written_so(key: str, transposition: int, row: str) -> None:
    assert written_like(BY_KEY[key], transposition).key == row


def test_only_a_parts_rows_are_nobodys_instrument() -> None:
    nobodys = [own.key for own in INSTRUMENTS if not own.is_named]
    assert nobodys == ["part-in-c", "part-in-b-flat", "part-in-e-flat", "part-in-bass-clef"]


@pytest.mark.parametrize(
    ("key", "fifths", "steps", "semitones", "octaves"),
    [
        ("soprano-sax", 2, -1, -2, 0),
        ("alto-sax", 3, -5, -9, 0),
        ("tenor-sax", 2, -1, -2, -1),
        ("baritone-sax", 3, -5, -9, -1),
        ("guitar", 0, 0, 0, -1),
        ("flute", 0, 0, 0, 0),
        ("horn", 1, -4, -7, 0),
        ("bass-clarinet", 2, -1, -2, -1),
        ("bass", 0, 0, 0, -1),
        ("piccolo", 0, 0, 0, 1),
    ],
)
def test_a_transposition_is_an_interval_and_octaves(
    key: str, fifths: int, steps: int, semitones: int, octaves: int
) -> None:
    own = BY_KEY[key]
    assert (own.fifths, own.steps, own.semitones, own.octaves) == (
        fifths,
        steps,
        semitones,
        octaves,
    )
    assert own.semitones + 12 * own.octaves == own.transposition


@pytest.mark.parametrize("key", ["part-in-c", "part-in-b-flat", "part-in-e-flat"])
def test_a_part_that_nobody_in_particular_plays_has_every_note_of_midi(key):
    """MIDI 1.0 has the notes 0 to 127."""
    assert (BY_KEY[key].low, BY_KEY[key].high) == (0, 127)
