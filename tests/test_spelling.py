"""Each pitch by its name."""

from __future__ import annotations

import pytest

from phrasing.pitchnames import name_of, pitch_class, read_name
from phrasing.spelling import spelled_line
from tests.lines import melody


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
