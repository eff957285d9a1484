"""Key signatures in force, and guessed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from phrasing.keys import fifths_at, guessed_key, keys_of
from phrasing.melody import Key
from tests.backing.charts import chart
from tests.lines import melody

F_MAJOR = "F4:2 G4:1 A4:1 Bb4:2 A4:1 G4:1 C5:2 D5:1 E5:1 F5:2 C5:2 A4:2 F4:6"


@pytest.mark.parametrize(
    ("up", "fifths"), [(0, -1), (1, 6 - 12), (2, 1), (5, -2), (-3, 2), (-1, 4)]
)
def test_a_tune_is_given_the_signature_that_holds_it(up: int, fifths: int) -> None:
    assert guessed_key(melody(F_MAJOR).transposed(up)).fifths == fifths


def test_a_tune_that_ends_on_the_sixth_step_is_minor() -> None:
    assert guessed_key(melody("A4:2 B4:1 C5:1 E5:2 D5:1 C5:1 B4:2 G4:2 A4:4")) == Key(
        0, 0, True
    )


def test_a_written_key_is_kept_and_holds_from_the_start() -> None:
    line = replace(melody(F_MAJOR), keys=(Key(960, -5, True), Key(3840, 2)))
    assert keys_of(line) == (Key(0, -5, True), Key(3840, 2))
    assert fifths_at(keys_of(line), np.array([0, 3839, 3840])).tolist() == [-5, -5, 2]


@pytest.mark.parametrize(
    "bars,key",
    [
        ("| F7 | Bb7 | F7 C7 | F7 |", Key(0, -1)),
        ("| F7 | Bb7 | F7 D7 | Gm7 C7 |", Key(0, -1)),
        ("| Dm7 G7 | Cmaj7 |", Key(0, 0)),
        ("| Cm7 | Fm7 | Cm7 | G7b9 |", Key(0, -3, True)),
        ("| N.C. | F#maj7 |", Key(0, 6)),
        ("| N.C. |", Key(0, 0)),
    ],
)
def test_a_chart_without_a_key_was_in_c_whatever_its_chords(bars: str, key: Key) -> None:
    assert keys_of(chart(bars)) == (key,)
