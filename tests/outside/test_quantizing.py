"""The quantizer against written music: folk and fiddle tunes from music21's collections.

music21 (BSD licence) carries some thousands of tunes as ABC text. Each is exported by music21
as MIDI, played more or less loosely at 120 quarter notes a minute, read back, and compared
with the score that music21 holds. The figures are printed.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import mido
import numpy as np
import pytest

from phrasing.reading.midi.melody import read_midi
from phrasing.score.keys import guessed_key
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, bars_of_meters
from tests.outside.kept import kept
from tests.smf import midi_file, track

pytestmark = pytest.mark.outside
music21 = pytest.importorskip("music21")

CORPUS = Path(find_spec("music21").origin).parent / "corpus"
TEMPO = 120.0
SPEED = TEMPO / 60
"""Quarter notes a second."""
PER_COLLECTION = 42
LONGEST_TEXT = 450
"""Characters of ABC text at most: music21 takes long over long tunes."""
TUNES = 150
"""Tunes at least."""

Row = tuple[float, float, int]


@dataclass(frozen=True)
class Tune:
    """``exported``: music21's MIDI file. ``rows``: (onset, length, pitch) in quarter notes,
    from its score. ``meters`` by quarter note, from the file. ``pickup``: quarter notes in the
    score before its first full bar. ``fifths``: its key signatures."""

    name: str
    exported: bytes
    rows: list[Row]
    meters: dict[float, str]
    pickup: float = 0.0
    fifths: tuple[int, ...] = ()


def texts() -> Iterator[tuple[str, str]]:
    """Names and ABC texts of the shorter tunes, evenly from four collections."""
    for collection in ("ryansMammoth", "oneills1850", "airdsAirs", "essenFolksong"):
        found = [
            (f"{path.stem} {i}", text)
            for path in sorted((CORPUS / collection).glob("*.abc"))
            for i, text in enumerate(
                re.split(r"(?m)^(?=X:)", path.read_text("utf-8", "replace"))
            )
            if text.startswith("X:") and len(text) <= LONGEST_TEXT
        ]
        yield from found[:: len(found) // PER_COLLECTION][:PER_COLLECTION]


def score_rows(score) -> list[Row]:
    """The top line of music21's own score, repeats played out, ties merged."""
    top: dict[float, Row] = {}
    for note in score.expandRepeats().flatten().stripTies().notes:
        length = float(note.quarterLength)
        if note.duration.isGrace or not length:
            continue
        onset, pitch = float(note.offset), max(p.midi for p in note.pitches)
        if onset not in top or pitch > top[onset][2]:
            top[onset] = (onset, length, pitch)
    rows = [top[onset] for onset in sorted(top)]
    ends = [row[0] for row in rows[1:]] + [np.inf]
    return [(on, min(le, end - on), p) for (on, le, p), end in zip(rows, ends, strict=True)]


def pickup_of(score) -> float:
    """Quarter notes in a first bar that is shorter than its meter."""
    first = next(iter(score.recurse().getElementsByClass("Measure")))
    length, full = first.duration.quarterLength, first.barDuration.quarterLength
    return float(length) if length < full else 0.0


def meters_of(exported: bytes) -> dict[float, str]:
    meters: dict[float, str] = {}
    file = mido.MidiFile(file=io.BytesIO(exported))
    for events in file.tracks:
        tick = 0
        for event in events:
            tick += event.time
            if event.type == "time_signature":
                at = tick / file.ticks_per_beat
                meters[at] = f"{event.numerator}/{event.denominator}"
    return meters


@cache
def tunes() -> tuple[Tune, ...]:
    return kept(__file__, exported_tunes)


def exported_tunes() -> tuple[Tune, ...]:
    made: list[Tune] = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, text in texts():
            try:
                score = music21.converter.parse(text, format="abc")
                exported = music21.midi.translate.streamToMidiFile(score).writestr()
                rows, pickup = score_rows(score), pickup_of(score)
                keys = score.recurse().getElementsByClass("KeySignature")
                fifths = tuple({key.sharps for key in keys})
            except (music21.exceptions21.Music21Exception, music21.abcFormat.ABCTokenException):
                continue  # repeats or bars that music21 itself cannot make sense of
            if len(rows) > 8:
                made.append(Tune(name, exported, rows, meters_of(exported), pickup, fifths))
    assert len(made) >= TUNES
    return tuple(made)


def played(tune: Tune, noise: float, rng: np.random.Generator) -> list[Row]:
    """The tune with normally distributed noise (seconds) on every beginning and end; a key is
    let go before it is struck again."""
    onset, length, pitch = np.array(tune.rows).T
    begin = np.maximum(onset + rng.normal(0, noise, len(onset)) * SPEED, 0)
    end = onset + length + rng.normal(0, noise, len(onset)) * SPEED
    again = np.append(begin[1:], np.inf) - 0.01
    end = np.where(np.append(pitch[1:] == pitch[:-1], False), np.minimum(end, again), end)
    end = np.maximum(end, begin + 0.01)
    return list(zip(begin.tolist(), end - begin, pitch.astype(int).tolist(), strict=True))


def same(tune: Tune, content: bytes, path: Path, with_length: bool) -> int:
    """How many notes of the tune are read as they are written."""
    path.write_bytes(content)
    melody = read_midi(path)
    columns = [melody.onset, melody.pitch, melody.length]
    found = set(zip(*(column.tolist() for column in columns[: 2 + with_length]), strict=True))
    wanted = (
        (round(on * TICKS), pitch, round(length * TICKS))[: 2 + with_length]
        for on, length, pitch in tune.rows
    )
    return sum(row in found for row in wanted)


def share(of: Callable[[Tune], int]) -> float:
    notes = sum(len(tune.rows) for tune in tunes())
    return 100 * sum(of(tune) for tune in tunes()) / notes


def tell(capsys: pytest.CaptureFixture[str], line: str) -> None:
    with capsys.disabled():
        print(f"\n  quantizing, {len(tunes())} tunes: {line}", end="")


def test_tunes_come_back_exactly_from_the_files_of_a_notation_program(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    exact = share(lambda tune: same(tune, tune.exported, tmp_path / "tune.mid", True))
    tell(capsys, f"{exact:.3f} % of notes exact (onset, length, pitch) without noise")
    assert exact >= 99.9


def test_keys_are_found_where_no_signature_says_them(capsys: pytest.CaptureFixture[str]):
    right = []
    for tune in tunes():
        onset, length, pitch = np.array(tune.rows).T
        ticks = [np.maximum(np.rint(column * TICKS), 1) for column in (onset, length)]
        line = Melody(ticks[0], ticks[1], pitch, bars_of_meters({}, int(ticks[0][-1]) + 1))
        if len(tune.fifths) == 1:
            right.append(guessed_key(line).fifths == tune.fifths[0])
    tell(capsys, f"the key signature is found in {sum(right)} of {len(right)}")
    assert len(right) > 100
    assert np.mean(right) >= 0.9


def test_pickups_are_found_without_a_hint(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """A MIDI file has no notion of a pickup; where none is written, none must be found."""
    right: dict[bool, list[bool]] = {True: [], False: []}
    for tune in tunes():
        path = tmp_path / "tune.mid"
        path.write_bytes(tune.exported)
        right[tune.pickup > 0].append(read_midi(path).pickup == round(tune.pickup * TICKS))
    with_one, without = right[True], right[False]
    tell(
        capsys,
        f"the pickup is right in {sum(with_one)} of {len(with_one)} that have one (counting "
        f"from the first note: 0), none is found in {sum(without)} of {len(without)} without",
    )
    assert sum(with_one) >= 0.73 * len(with_one)
    assert sum(without) >= 0.9 * len(without)


@pytest.mark.parametrize(("noise", "least"), [(0.010, 99.7), (0.015, 99.0), (0.020, 98.0)])
def test_tunes_played_to_a_click_come_back_as_meant(
    noise: float, least: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    rng = np.random.default_rng(20)
    ends = np.random.default_rng(20)

    def right(tune: Tune) -> int:
        rows = played(tune, noise, rng)
        content = midi_file(track(*rows), tempo=TEMPO, meters=tune.meters, division=960)
        return same(tune, content, tmp_path / "tune.mid", False)

    def right_by_rounding(tune: Tune) -> int:
        rows = played(tune, noise, ends)
        return sum(
            round(at * 12) == round(written * 12)
            for (at, _, _), (written, _, _) in zip(rows, tune.rows, strict=True)
        )

    found, rounded = share(right), share(right_by_rounding)
    tell(
        capsys,
        f"{found:.2f} % of onsets right at {noise * 1000:.0f} ms of noise "
        f"({rounded:.2f} % if each were rounded to a twelfth of a beat)",
    )
    assert found >= least
    assert 100 - found < (100 - rounded) / 4


def eighth_tunes() -> list[Tune]:
    """Tunes of quarters and eighths, in quarter or half-note meters, that can be swung."""
    chosen = []
    for tune in tunes():
        places = np.array([on for on, _, _ in tune.rows]) % 1
        quarters = all(meter.endswith(("/4", "/2")) for meter in tune.meters.values())
        if quarters and set(places.tolist()) == {0.0, 0.5} and (places == 0.5).sum() >= 12:
            chosen.append(tune)
    return chosen


# Soloists' ratios: about 1.3 over 456 solos (Corcoran & Frieler 2021, Music Perception 38(4)),
# about 1.6 for one cornetist (Collier & Collier 2002, Music Perception 19(3):463), and 2.0, the
# upper end of the soloists' range. The off-beat lies at r / (1 + r) of its beat (computed).
@pytest.mark.parametrize(("ratio", "off_beat"), [(1.3, 0.565), (1.6, 0.615), (2.0, 0.667)])
def test_tunes_swung_as_soloists_swing_are_read_as_eighths(
    ratio: float, off_beat: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    assert ratio / (1 + ratio) == pytest.approx(off_beat, abs=0.0005)
    rng = np.random.default_rng(21)
    chosen = eighth_tunes()
    right = notes = 0
    for tune in chosen:
        late = [(on + (off_beat - 0.5) * (on % 1 == 0.5), le, p) for on, le, p in tune.rows]
        rows = played(Tune(tune.name, b"", late, {}), 0.008, rng)
        content = midi_file(track(*rows), tempo=TEMPO, meters=tune.meters, division=960)
        right += same(tune, content, tmp_path / "tune.mid", False)
        notes += len(tune.rows)
        found = read_midi(tmp_path / "tune.mid").reading.swing_found
        assert found == pytest.approx(ratio, abs=0.2), tune.name
    tell(capsys, f"{100 * right / notes:.2f} % of onsets right in {len(chosen)} of them, swung")
    assert len(chosen) >= 10
    assert right / notes >= 0.995
