"""What must hold for an input of each kind, whatever is in it.

It is read or refused in one line. What was read can be marked, performed, written and read
back, and is the same then.
"""

from __future__ import annotations

import json
import math
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from phrasing.band.band import accompany
from phrasing.desk.changes import checked
from phrasing.desk.server import _step
from phrasing.desk.told import told
from phrasing.desk.work import Work, changed, kept_reading, laid_out
from phrasing.errors import NoSoundError, PhrasingError
from phrasing.feelfile import load_feel
from phrasing.lesson.handout import write_handout
from phrasing.lesson.lesson import Lesson, lesson_on
from phrasing.lesson.optionsfile import with_options
from phrasing.lesson.request import Request
from phrasing.marking.table import marks_csv, marks_json, read_marks_table
from phrasing.paper.annotating import annotated_score
from phrasing.paper.musicxml import new_score
from phrasing.performing.performance import Performance
from phrasing.reading import START, read
from phrasing.reading.midi.melody import _line_in
from phrasing.reading.midi.smf import looks_like_midi
from phrasing.reading.musicxml.file import open_score
from phrasing.reading.source import bytes_of
from phrasing.score.melody import Melody
from phrasing.sound import probing
from phrasing.sound.midi import write_midi
from phrasing.sound.soundfonts import Soundfont, check_soundfont
from phrasing.sound.synthesizer import STEP, Synthesizer
from tests.fuzzing import grammars
from tests.fuzzing.draws import Draws
from tests.fuzzing.held import held

EXAMPLES = Path(__file__).parents[2] / "examples"
LONGEST_MESSAGE = 1000
SMALL_FEEL = b"strength = 0.8\n[swing]\nby_tempo = [[120, 2.0], [200, 1.5]]\n"
NO_ANSWERS = b'{"notes": {}, "keys": {}}'
PAGE = 100
"""Notes that go on a page or two."""
LARGE = 400
"""Notes from which a melody is only marked and performed: writing it takes long."""
TAKEN_APART, READ, PLAYED, WRITTEN, ENGRAVED = range(5)
"""How far an input goes: its bytes taken apart (of a MIDI file to the line in it, of a
score to its elements), read, marked and performed, written and read back,
put on a page."""
MUSIC = (1, 1, 64, 512, 8192)
NO_MUSIC = (1, 1)


@dataclass(frozen=True)
class Kind:
    """A kind of input: how its file is called, what to begin with, what is tried with it.

    ``attempt`` takes the file, and how far to go with it; it raises ``PhrasingError`` where the
    file is refused. ``once_in``: once in so many inputs goes so far, for each depth.
    ``named``: whether what refuses it names the file; what a page asks for has no name.
    """

    name: str
    suffix: str
    grammar: Callable[[Draws], bytes]
    seeds: Sequence[bytes]
    attempt: Callable[[Path, int], None]
    once_in: Sequence[int] = NO_MUSIC
    on_disk: bool = False
    named: bool = True

    def depth_of(self, content: bytes) -> int:
        """How far this input goes: the same always as far."""
        number = zlib.crc32(content)
        return max(depth for depth, often in enumerate(self.once_in) if number % often == 0)


def tried(kind: Kind, content: bytes, folder: Path, depth: int) -> bool:
    """Whether the input was accepted; any other error than the project's own is a fault."""
    path = folder / f"fuzz{kind.suffix}"
    if kind.on_disk or depth >= WRITTEN:
        path.write_bytes(content)
    else:
        path = held(path, content)
    try:
        kind.attempt(path, depth)
    except PhrasingError as error:
        _is_a_line(error, str(path) if kind.named else "")
        return False
    return True


def _is_a_line(error: PhrasingError, name: str = "") -> None:
    text = str(error)
    assert name in text, text
    assert "\n" not in text
    assert text[-1] in ".?", text
    assert len(text) < LONGEST_MESSAGE, text


def input_of(kind: Kind, data: bytes) -> bytes:
    """The input that a fuzzer's bytes mean: a file as it is, or one by the grammar."""
    if data[:1] and data[0] % 2:
        return kind.grammar(Draws(data[1:]))
    return data[1:]


def _midi(path: Path, depth: int) -> None:
    if depth >= READ:
        _music(path, depth)
    elif looks_like_midi(start := bytes_of(path, START)):
        _line_in(path)
    else:
        assert start
        raise PhrasingError(f"{path}: is no MIDI file.")


def _score(path: Path, depth: int) -> None:
    if depth >= READ:
        _music(path, depth)
    else:
        open_score(path)


def _music(path: Path, depth: int) -> None:
    melody = read(path)
    _is_whole(melody)
    if depth < PLAYED:
        return
    lesson = lesson_on(melody, path, Request())
    if len(melody):
        for performance in (lesson.plain(), lesson.shaped()):
            _is_playable(performance)
        if depth >= WRITTEN and len(melody) <= LARGE:
            _comes_back(lesson)
        if depth >= ENGRAVED and len(melody) <= PAGE:
            write_handout(lesson, path.with_name("again.svg"))
    if melody.chords and depth >= WRITTEN:
        _is_playable(accompany(melody, count_in=1, seed=1).performance(melody.title))


def _engraved(path: Path, depth: int) -> None:
    """What is read goes on a page as its author wrote it, and does not end the process."""
    melody = read(path)
    if len(melody) <= PAGE:
        write_handout(lesson_on(melody, path, Request()), path.with_name("page.svg"))


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


def _marks(path: Path, depth: int) -> None:
    read_marks_table(path, _line().melody)


def _feel(path: Path, depth: int) -> None:
    feel = load_feel(path)
    if depth >= PLAYED:
        lesson = lesson_on(_line().melody, path, Request(feel=path))
        _is_playable(lesson.shaped())
    if depth >= WRITTEN:
        _is_playable(accompany(_chords(), feel, count_in=1).performance(""))


def _options(path: Path, depth: int) -> None:
    asked = with_options(Request(options=path))
    if depth >= PLAYED:
        try:
            _is_playable(lesson_on(_line().melody, _line().source, asked).shaped())
        except PhrasingError as error:
            _is_a_line(error)


def _asked(path: Path, depth: int) -> None:
    """What a page asks of the desk is refused, or done, and what it then says can be sent."""
    try:
        wish = json.loads(path.read_bytes())
    except (ValueError, RecursionError) as error:
        raise PhrasingError("A change is written as JSON.") from error
    step = _step(wish)
    if depth >= PLAYED or not wish.keys() & {"set", "back", "again"}:
        json.dumps(told(step(_on_the_desk())), allow_nan=False)
    elif "set" in wish:
        checked(wish["set"], len(_on_the_desk().read))


def _answers(path: Path, depth: int) -> None:
    content = path.read_text(encoding="latin-1")
    again = held(path, f"{probing._checksum(content)}\n{content}".encode())
    for answer in probing._remembered(again).notes.values():
        assert all(map(math.isfinite, (*answer.levels, *answer.highs, *answer.rises)))


def _soundfont(path: Path, depth: int) -> None:
    """A soundfont is refused, or plays what it plays; it must not end the process."""
    check_soundfont(path)
    font = Soundfont("fuzz", path, "", "")
    block = np.zeros((2, 4 * STEP), np.float32)
    try:
        with Synthesizer(font, 44_100) as synthesizer:
            synthesizer.program(0, 57)
            synthesizer.note_on(0, 60, 80)
            synthesizer.pull(block, 0, 4 * STEP)
    except NoSoundError as error:
        raise PhrasingError(f"{path}: {error}") from error


@cache
def _line() -> Lesson:
    """A melody of few notes, as most of a table's or a feel's faults need no more."""
    path = EXAMPLES / "late_bus_home.mid"
    return lesson_on(read(path), path, Request(only="1-2"))


@cache
def _on_the_desk() -> Work:
    """A melody with a step and a reading, so that there is something to take back."""
    work = laid_out(EXAMPLES / "late_bus_home.mid", Request(only="1-2"))
    return kept_reading(changed(work, {"mark:0": "accent"}), "mine")


@cache
def _chords() -> Melody:
    return read(EXAMPLES / "kettle_blues.chart")


def _files(pattern: str) -> list[bytes]:
    return [file.read_bytes() for file in sorted(EXAMPLES.glob(pattern))]


def kinds() -> dict[str, Kind]:
    """Every kind of input that something reads, by name."""
    scores = _files("*.musicxml")
    table = marks_csv(*_line().table).encode()
    plain, packed = (grammars.font(compressed=yes) for yes in (False, True))
    made = (
        Kind("midi", ".mid", grammars.midi, _files("*.mid"), _midi, (1, 192, 768, 3072, 24576)),
        Kind(
            "score", ".musicxml", grammars.score, scores, _score, (1, 4, 64, 512, 8192),
        ),
        Kind(
            "zipped score", ".mxl", grammars.zipped_score, list(map(grammars.zipped, scores)),
            _score, (1, 8, 64, 512, 8192),
        ),
        Kind("engraved score", ".musicxml", grammars.score, scores, _engraved, on_disk=True),
        Kind("chart", ".chart", grammars.chart, _files("*.chart"), _music, MUSIC),
        Kind("marks", ".csv", grammars.table_of(table), [table], _marks),
        Kind("feel", ".toml", grammars.feel, [SMALL_FEEL], _feel, (1, 1, 16, 256)),
        Kind(
            "options", ".toml", grammars.options, [b"tempo = 96"], _options, (1, 1, 16),
        ),
        Kind(
            "desk", ".json", grammars.asked, [b'{"set": {"mark:1": "ghost"}}'], _asked,
            (1, 1, 64), named=False,
        ),
        Kind("cache", ".json", grammars.answers, [NO_ANSWERS], _answers),
        Kind("soundfont", ".sf2", grammars.soundfont, [plain], _soundfont, on_disk=True),
        Kind(
            "compressed soundfont", ".sf3", grammars.compressed, [packed], _soundfont,
            on_disk=True,
        ),
    )  # fmt: skip
    return {kind.name: kind for kind in made}
