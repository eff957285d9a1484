"""The table of instruments."""

from __future__ import annotations

import pytest

from phrasing.errors import PhrasingError
from phrasing.score.instruments import (
    BY_KEY,
    INSTRUMENTS,
    instrument_named,
    instrument_of_program,
)


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda i: i.key)
def test_each_is_found_by_key_and_by_name(instrument) -> None:
    assert instrument_named(instrument.key) is instrument
    assert instrument_named(instrument.name.upper().replace("♭", "b")) is instrument
    assert instrument_of_program(instrument.program) is instrument


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("alto", "alto-sax"),
        ("Bari Sax", "baritone-sax"),
        ("tenor_saxophone", "tenor-sax"),
        ("vibes", "vibraphone"),
        ("neutral", "voice"),
        ("  flute ", "flute"),
    ],
)
def test_players_words_are_known(said: str, key: str) -> None:
    assert instrument_named(said).key == key


def test_an_unknown_instrument_is_an_error_that_lists_the_known() -> None:
    with pytest.raises(PhrasingError, match=r"“kazoo”.*alto-sax.*piano"):
        instrument_named("kazoo")


@pytest.mark.parametrize(
    ("key", "fifths", "steps", "semitones", "octaves"),
    [
        ("soprano-sax", 2, -1, -2, 0),
        ("alto-sax", 3, -5, -9, 0),
        ("tenor-sax", 2, -1, -2, -1),
        ("baritone-sax", 3, -5, -9, -1),
        ("guitar", 0, 0, 0, -1),
        ("flute", 0, 0, 0, 0),
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
