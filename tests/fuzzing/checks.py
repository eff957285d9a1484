"""What must hold for an input of each kind, whatever is in it.

It is read or refused in one line. What was read can be marked, performed, written and read
back, and is the same then.
"""

from __future__ import annotations

import math
import zipfile
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pretty_midi

from phrasing.band.band import accompany
from phrasing.errors import NoSoundError, PhrasingError
from phrasing.feelfile import load_feel
from phrasing.lesson.handout import write_handout
from phrasing.lesson.lesson import Lesson, lesson_on
from phrasing.lesson.request import Request
from phrasing.marking.table import marks_csv, marks_json, read_marks_table
from phrasing.paper.annotating import annotated_score
from phrasing.paper.musicxml import new_score
from phrasing.performing.performance import Performance
from phrasing.reading import read
from phrasing.score.melody import Melody
from phrasing.sound import probing
from phrasing.sound.midi import write_midi
from phrasing.sound.soundfonts import Soundfont, check_soundfont
from phrasing.sound.synthesizer import STEP, Synthesizer
from tests.fuzzing import grammars
from tests.fuzzing.draws import Draws

EXAMPLES = Path(__file__).parents[2] / "examples"
LONGEST_MESSAGE = 1000
SMALL_FEEL = b"strength = 0.8\n[swing]\nby_tempo = [[120, 2.0], [200, 1.5]]\n"
NO_ANSWERS = b'{"notes": {}, "keys": {}}'
SMALL = Path(pretty_midi.__file__).with_name("TimGM6mb.sf2")
KEPT = 65_536
"""Bytes of sound that are left in a soundfont, so that it can be tried often."""
RARELY = 13
"""Of those looked at thoroughly, one in so many is engraved, too."""
PAGE = 100
"""Notes that go on a page or two."""
LARGE = 400
"""Notes from which a melody is only marked and performed: writing it takes long."""


@dataclass(frozen=True)
class Kind:
    """A kind of input: how its file is called, what to begin with, what is tried with it.

    ``attempt`` takes the file, and how thoroughly to look (once in a while); it raises
    ``PhrasingError`` where the file is refused.
    """

    name: str
    suffix: str
    grammar: Callable[[Draws], bytes]
    seeds: Sequence[bytes]
    attempt: Callable[[Path, bool], None]


def tried(kind: Kind, content: bytes, folder: Path, *, thorough: bool) -> bool:
    """Whether the input was accepted; any other error than the project's own is a fault."""
    path = folder / f"fuzz{kind.suffix}"
    path.write_bytes(content)
    try:
        kind.attempt(path, thorough)
    except PhrasingError as error:
        text = str(error)
        assert str(path) in text, text
        assert "\n" not in text
        assert text[-1] in ".?", text
        assert len(text) < LONGEST_MESSAGE, text
        return False
    return True


def input_of(kind: Kind, data: bytes) -> bytes:
    """The input that a fuzzer's bytes mean: a file as it is, or one by the grammar."""
    if data[:1] and data[0] % 2:
        return kind.grammar(Draws(data[1:]))
    return data[1:]


def _music(path: Path, thorough: bool) -> None:
    melody = read(path)
    _is_whole(melody)
    lesson = lesson_on(melody, path, Request())
    if len(melody):
        for performance in (lesson.plain(), lesson.shaped()):
            _is_playable(performance)
        if thorough and len(melody) <= LARGE:
            _comes_back(lesson)
        if thorough and len(melody) <= PAGE and is_thorough(path.read_bytes(), RARELY):
            write_handout(lesson, path.with_name("again.svg"))
    if melody.chords and thorough:
        _is_playable(accompany(melody, count_in=1, seed=1).performance(melody.title))


def _is_whole(melody: Melody) -> None:
    last = melody.bars[-1]
    ends = [bar.onset + bar.length for bar in melody.bars]
    assert melody.bars[0].onset == 0
    assert all(bar.length > 0 for bar in melody.bars)
    assert ends[:-1] == [bar.onset for bar in melody.bars[1:]]
    if len(melody):
        assert melody.onset[0] >= 0
        assert melody.onset[-1] < last.onset + last.length, "a note after the last bar"
        assert 0 <= melody.pitch.min() <= melody.pitch.max() <= 127
    assert all(0 <= p <= 127 for grace in melody.graces for p in grace.pitches)
    assert all(0 <= grace.note < len(melody) for grace in melody.graces)
    assert all(0 <= i < len(melody) for i in melody.marks)
    for warning in melody.reading.warnings:
        assert "\n" not in warning
        assert warning[-1] in ".?"


def _is_playable(performance: Performance) -> None:
    for part in performance.parts:
        assert (part.release > part.onset).all()
        assert (part.onset[:1] >= 0).all()
        assert ((part.velocity >= 1) & (part.velocity <= 127)).all()
        assert np.isfinite(np.asarray(part.velocity, float)).all()


def _comes_back(lesson: Lesson) -> None:
    """Everything that is written of a lesson can be read again, and says the same."""
    melody, folder = lesson.melody, lesson.source.parent
    write_midi(lesson.shaped(), folder / "again.mid")
    table = folder / "again.csv"
    table.write_text(marks_csv(*lesson.table), encoding="utf-8")
    assert not set(read_marks_table(table, melody).changed) - set(melody.marks)
    assert all(math.isfinite(n["level"]) for n in marks_json(*lesson.table)["notes"])
    score = folder / "again.musicxml"
    score.write_bytes(new_score(melody, lesson.marking, instrument=lesson.instrument))
    _is_the_same(read(score), melody)
    if melody.ids:
        score.write_bytes(annotated_score(lesson.source, melody, lesson.marking, swing=(2, 1)))
        _is_the_same(read(score), melody)


def _is_the_same(again: Melody, melody: Melody) -> None:
    assert again.pitch.tolist() == melody.pitch.tolist()
    assert again.onset.tolist() == melody.onset.tolist()


def _marks(path: Path, thorough: bool) -> None:
    read_marks_table(path, _line().melody)


def _feel(path: Path, thorough: bool) -> None:
    feel = load_feel(path)
    if thorough:
        lesson = lesson_on(_line().melody, path, Request(feel=path))
        _is_playable(lesson.shaped())
        _is_playable(accompany(_chords(), feel, count_in=1).performance(""))


def _answers(path: Path, thorough: bool) -> None:
    content = path.read_text(encoding="latin-1")
    path.write_text(f"{probing._checksum(content)}\n{content}", encoding="utf-8")
    answers = probing._remembered(path)
    for answer in answers.notes.values():
        assert all(map(math.isfinite, (*answer.levels, *answer.highs, *answer.rises)))


def _soundfont(path: Path, thorough: bool) -> None:
    """A soundfont is refused, or plays what it plays; it must not end the process."""
    check_soundfont(path)
    font = Soundfont("fuzz", path, "", "")
    block = np.zeros((2, 4 * STEP), np.float32)
    try:
        with Synthesizer(font, 44_100) as synthesizer:
            synthesizer.program(0, 56)
            synthesizer.note_on(0, 60, 80)
            synthesizer.pull(block, 0, 4 * STEP)
    except NoSoundError as error:
        raise PhrasingError(f"{path}: {error}") from error


def _small_soundfont() -> bytes:
    """The small soundfont's own structure, with little sound in it."""
    content = SMALL.read_bytes()
    data = content.index(b"smpl") + 4
    size = int.from_bytes(content[data : data + 4], "little")
    kept, rest = content[data + 4 : data + 4 + KEPT], content[data + 4 + size :]
    head = content[:data] + KEPT.to_bytes(4, "little")
    lists = head.rindex(b"LIST", 0, data)
    sound = bytearray(head)
    sound[lists + 4 : lists + 8] = (4 + 8 + KEPT).to_bytes(4, "little")
    whole = bytes(sound) + kept + rest
    return whole[:4] + (len(whole) - 8).to_bytes(4, "little") + whole[8:]


@cache
def _line() -> Lesson:
    path = EXAMPLES / "late_bus_home.mid"
    return lesson_on(read(path), path, Request())


@cache
def _chords() -> Melody:
    return read(EXAMPLES / "kettle_blues.chart")


def _files(pattern: str) -> list[bytes]:
    return [file.read_bytes() for file in sorted(EXAMPLES.glob(pattern))]


def _zipped(content: bytes) -> bytes:
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>',
        )
        file.writestr("a.xml", content)
    return packed.getvalue()


def _zipped_score(draw: Draws) -> bytes:
    return _zipped(grammars.score(draw))


def kinds() -> dict[str, Kind]:
    """Every kind of input that something reads, by name."""
    scores = _files("*.musicxml")
    table = marks_csv(*_line().table).encode()
    made = (
        Kind("midi", ".mid", grammars.midi, _files("*.mid"), _music),
        Kind("score", ".musicxml", grammars.score, scores, _music),
        Kind("zipped score", ".mxl", _zipped_score, list(map(_zipped, scores)), _music),
        Kind("chart", ".chart", grammars.chart, _files("*.chart"), _music),
        Kind("marks", ".csv", grammars.table, [table], _marks),
        Kind("feel", ".toml", grammars.feel, [SMALL_FEEL], _feel),
        Kind("cache", ".json", grammars.answers, [NO_ANSWERS], _answers),
        Kind("soundfont", ".sf2", grammars.soundfont, [_small_soundfont()], _soundfont),
    )
    return {kind.name: kind for kind in made}


def is_thorough(content: bytes, once_in: int) -> bool:
    """Whether this input is looked at thoroughly; the same input always is, or never."""
    return zlib.crc32(content) % once_in == 0
