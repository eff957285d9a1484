"""Each pitch by its name."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from phrasing.score.keys import fifths_at, guessed_key, keys_of, spelled_line
from phrasing.score.melody import Key
from phrasing.score.pitches import name_of, pitch_class, read_name
from tests.band.charts import chart
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


@pytest.mark.parametrize(
    ("fifths", "minor", "line"),
    [
        (0, False, "C D E F G A B C"),
        (0, False, "C C♯ D D♯ E F F♯ G G♯ A"),  # up: sharps
        (0, False, "A A♭ G F♯ F E E♭ D D♭ C"),  # down: flats, but the usual F♯
        (0, False, "E F F♯ G B♭ A G"),
        (-1, False, "F A C E♭ D C B C"),  # B natural goes up to C
        (-3, False, "G F♯ G A♭ G F E F E♭"),
        (4, False, "E D♯ C♯ B A♯ B G♯ E"),
        (0, True, "A G♯ A E F G♯ A"),  # the leading tone of a minor key
        (5, True, "G♯ F♯♯ G♯ D♯ E D♯"),
        (-7, False, "C♭ D♭ E♭ F♭ G♭ A♭ B♭ C♭"),
        (6, False, "F♯ G♯ A♯ B C♯ D♯ E♯ F♯"),
    ],
)
def test_a_line_is_spelled_by_its_key_and_its_course(
    fifths: int, minor: bool, line: str
) -> None:
    names = line.split()
    classes = [pitch_class(read_name(name)[0]) for name in names]
    pitches = [60 + classes[0]]
    for pc in classes[1:]:
        step = (pc - pitches[-1] + 6) % 12 - 6
        pitches.append(pitches[-1] + step)
    found = spelled_line(pitches, [fifths] * len(pitches), minor)
    assert [name_of(place) for place in found] == names


def test_no_notes_have_no_names() -> None:
    assert spelled_line([], []) == []


def test_a_long_line_is_spelled_note_by_note() -> None:
    line = melody("C4:1 C#4:1 D4:1 E4:1").pitch.tolist() * 500
    assert len(spelled_line(line, [0] * len(line))) == 2000
