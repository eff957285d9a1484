"""Our MIDI files as others read them: mido, pretty_midi and music21 find the same notes.

Sources: Standard MIDI Files 1.0 (header MThd, length 6, big-endian format, track count and
division); General MIDI 1 (programs, channel 10 for drums, bend range by RPN 0).
"""

import struct

import mido
import numpy as np
import pretty_midi
import pytest

from phrasing.performing.performance import DRUMS
from phrasing.score.meters import Meter
from phrasing.sound.midi import write_midi
from tests.sound.playing import curve, part, performance

pytestmark = pytest.mark.outside

LINE = [
    (i / 2 + (1 / 6 if i % 2 else 0), i / 2 + 0.6, 60 + (i * 7) % 17, i % 9 - 4)
    for i in range(40)
]
PLAYED = performance(
    part(*LINE, name="Tenor saxophone", program=67, curves=(curve("bend", (0, 0), (1, 0.2)),)),
    part(*[(i, i + 0.9, 36 + i % 12) for i in range(20)], name="Bass", program=33),
    part(*[(i, i + 0.1, 51) for i in range(20)], name="Drums", program=DRUMS),
    tempo=143.0,
    meter=Meter(3, 4),
    title="Reading test",
)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("midi") / "test.mid"
    write_midi(PLAYED, path)
    return path


def expected(number: int) -> list[tuple[int, float, int]]:
    """Pitch, onset in quarter notes and velocity of a part's notes, in order."""
    notes = PLAYED.parts[number]
    rows = zip(notes.onset / 960, notes.pitch.tolist(), notes.velocity.tolist(), strict=True)
    return sorted((pitch, round(float(onset), 4), velocity) for onset, pitch, velocity in rows)


def test_the_header_is_the_standards(path):
    data = path.read_bytes()
    assert data[:4] == b"MThd"
    assert struct.unpack(">IHHH", data[4:14]) == (6, 1, 4, 960)
    assert data.count(b"MTrk") == 4


def test_mido_reads_the_same_notes(path):
    file = mido.MidiFile(path)
    for number in range(3):
        now, found = 0, []
        for message in file.tracks[number + 1]:
            now += message.time
            if message.type == "note_on":
                found.append((message.note, round(now / 960, 4), message.velocity))
        assert sorted(found) == expected(number)


def test_pretty_midi_reads_the_same_notes(path):
    file = pretty_midi.PrettyMIDI(str(path))
    names = [instrument.name for instrument in file.instruments]
    assert names == ["Tenor saxophone", "Bass", "Drums"]
    assert [i.program for i in file.instruments] == [66, 32, 0]
    assert [i.is_drum for i in file.instruments] == [False, False, True]
    for number, instrument in enumerate(file.instruments):
        quarter = 60 / 143.0
        found = [(n.pitch, round(n.start / quarter, 3), n.velocity) for n in instrument.notes]
        rounded = [(p, round(o, 3), v) for p, o, v in expected(number)]
        assert len(found) == len(rounded)
        assert np.array(sorted(found)) == pytest.approx(np.array(rounded), abs=0.002)
    assert file.get_tempo_changes()[1] == pytest.approx([143.0], abs=0.01)
    signature = file.time_signature_changes[0]
    assert (signature.numerator, signature.denominator) == (3, 4)


def test_music21_reads_the_same_pitches(path):
    from music21 import converter

    score = converter.parse(path, quantizePost=False, forceSource=True)
    for number, stream in enumerate(score.parts):
        notes = list(stream.stripTies().flatten().notes)
        rows = sorted((pitch, round(onset, 3)) for pitch, onset, _ in expected(number))
        if PLAYED.parts[number].is_drums:
            assert len(notes) == len(rows)
            continue
        found = sorted((p.midi, round(float(n.offset), 3)) for n in notes for p in n.pitches)
        assert [row[0] for row in found] == [row[0] for row in rows]
        assert np.array(found) == pytest.approx(np.array(rows), abs=0.01)
    first = score.recurse().getElementsByClass("TimeSignature")[0]
    assert first.ratioString == "3/4"
