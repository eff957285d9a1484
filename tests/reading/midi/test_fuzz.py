"""Whatever the bytes, a MIDI file is read or refused in one line; and nothing takes long."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from phrasing.errors import PhrasingError
from phrasing.reading.midi.melody import read_midi
from phrasing.score.melody import Melody
from tests.smf import chunk, header, meta, midi_file, number, track

FUZZ = settings(
    max_examples=300,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
LINE = midi_file(
    track(*[(i / 3, 0.3, 60 + i % 12) for i in range(24)], name="Horn", program=57),
    track(*[(float(i), 1.0, 40 + i % 5) for i in range(8)], channel=1),
    meters={0: "1/4", 1: "4/4"},
    key=(-2, False),
    title="Kettle",
)

ticks = st.one_of(st.integers(0, 2000), st.sampled_from([0, 0, 1, 160, 240, 480, 2**28 - 1]))
byte = st.integers(0, 255)
note = st.builds(
    lambda kind, channel, pitch, velocity: bytes([kind | channel, pitch, velocity]),
    st.sampled_from([0x90, 0x90, 0x80]),
    st.sampled_from([0, 0, 0, 1, 9]),
    st.one_of(st.integers(55, 80), byte),
    st.sampled_from([0, 64, 100, 200]),
)
tempo = st.builds(
    lambda micros: meta(0x51, micros.to_bytes(3, "big")),
    st.sampled_from([0, 1, 300_000, 500_000, 2**24 - 1]),
)
meter = st.builds(lambda beats, unit: meta(0x58, bytes([beats, unit, 24, 8])), byte, byte)
usual_meter = st.sampled_from([meta(0x58, bytes([b, u, 24, 8])) for b, u in ((3, 2), (6, 3))])
key = st.builds(lambda fifths, minor: meta(0x59, bytes([fifths, minor])), byte, byte)
text = st.builds(meta, st.integers(0, 127), st.binary(max_size=12))
junk = st.binary(min_size=1, max_size=3)
event = st.one_of(note, note, note, note, tempo, meter, usual_meter, key, text, junk)
events = st.lists(st.tuples(ticks, event), max_size=40).map(
    lambda rows: b"".join(number(delta) + message for delta, message in rows)
)
a_chunk = st.one_of(
    events.map(lambda data: chunk(data + number(0) + meta(0x2F, b""))),
    events.map(chunk),
    st.builds(
        lambda data, n: b"MTrk" + n.to_bytes(4, "big") + data, events, st.integers(0, 99)
    ),
)
division = st.sampled_from(
    [1, 24, 96, 480, 480, 960, 0x7FFF, 0, 0x8000, 0xE728, 0xE350, 0xFFFF]
)
structured = st.builds(
    lambda kind, divided, chunks: header(kind, len(chunks), divided) + b"".join(chunks),
    st.sampled_from([0, 1, 1, 1, 2, 7]),
    division,
    st.lists(a_chunk, max_size=3),
)


def read_or_refused(path: Path, content: bytes) -> Melody | None:
    path.write_bytes(content)
    refused = ""
    try:
        melody = read_midi(path)
    except PhrasingError as error:
        refused = str(error)
    if refused:
        assert refused.startswith(str(path))
        assert "\n" not in refused
        assert refused.endswith(".")
        return None
    assert len(melody)
    assert melody.onset[0] >= 0
    last = melody.bars[-1]
    assert last.number <= 1 or last.onset < melody.onset[-1] + melody.length[-1]
    assert melody.bars[-1].number < 100_001
    for warning in melody.reading.warnings:
        assert warning[-1] in ".?"
        assert "\n" not in warning
    return melody


@pytest.mark.filterwarnings("error")
@FUZZ
@given(structured)
@example(header(1, 1, 480) + chunk(number(2**28 - 1) + bytes([0x90, 60, 80])))
@example(header(1, 1, 1) + chunk(b"".join(number(1) + bytes([0x90, 60, 80]) for _ in range(9))))
def test_any_structure_is_read_or_refused(tmp_path: Path, content: bytes):
    read_or_refused(tmp_path / "fuzz.mid", content)


@pytest.mark.filterwarnings("error")
@FUZZ
@given(st.binary(max_size=200))
def test_any_bytes_behind_a_header_are_read_or_refused(tmp_path: Path, data: bytes):
    read_or_refused(tmp_path / "fuzz.mid", header(1, 1, 480) + b"MTrk\0\0\0\x50" + data)


@pytest.mark.filterwarnings("error")
@FUZZ
@given(
    st.lists(st.tuples(st.integers(0, len(LINE) - 1), byte), max_size=12),
    st.integers(0, len(LINE)),
)
def test_a_file_with_wrong_bytes_and_a_cut_is_read_or_refused(
    tmp_path: Path, wrong: list[tuple[int, int]], size: int
):
    content = bytearray(LINE)
    for at, value in wrong:
        content[at] = value
    read_or_refused(tmp_path / "fuzz.mid", bytes(content[:size]) or b"\0")


@FUZZ
@given(
    st.lists(
        st.tuples(
            st.sampled_from([0, 0.25, 0.5, 1 / 3, 2 / 3, 0.75]),
            st.sampled_from([1 / 3, 0.5, 1.0]),
            st.integers(40, 90),
        ),
        min_size=1,
        max_size=30,
    )
)
def test_one_note_a_beat_on_a_grid_is_kept_to_the_tick(tmp_path: Path, rows):
    notes = [(2 * i + place, length, pitch) for i, (place, length, pitch) in enumerate(rows)]
    melody = read_or_refused(tmp_path / "fuzz.mid", midi_file(track(*notes), division=960))
    assert melody is not None
    off_grid = [o % 960 for o in melody.onset.tolist()]
    if melody.reading.swing_found is None:
        assert off_grid == [round(960 * (on % 1)) for on, _, _ in notes]
    assert melody.pitch.tolist() == [pitch for _, _, pitch in notes]
