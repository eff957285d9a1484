import pytest

from phrasing.errors import PhrasingError
from phrasing.reading.midi.smf import looks_like_midi, parse
from tests.smf import chunk, header, meta, midi_file, number, track, track_bytes

ON = bytes([0x90, 60, 80])
OFF = bytes([0x80, 60, 0])
NOTE = number(0) + ON + number(480) + OFF
END = number(0) + meta(0x2F, b"")


def only_track(data: bytes, length: int | None = None):
    content = header(0, 1, 480) + chunk(data)
    if length is not None:
        content = header(0, 1, 480) + b"MTrk" + length.to_bytes(4, "big") + data
    return parse(content, "line.mid").tracks[0]


def test_notes_of_a_plain_track():
    read = only_track(NOTE + END)
    assert read.notes == [(0, 0, 60, 80), (480, 0, 60, 0)]
    assert not read.cut
    assert not read.oddities


def test_running_status_and_a_note_on_without_velocity():
    data = number(0) + ON + number(480) + bytes([60, 0]) + number(0) + bytes([62, 80])
    assert only_track(data + END).notes == [(0, 0, 60, 80), (480, 0, 60, 0), (480, 0, 62, 80)]


def test_running_status_goes_on_after_a_meta_event():
    data = number(0) + ON + number(1) + meta(1, b"la") + number(479) + bytes([60, 0])
    assert only_track(data + END).notes[1] == (480, 0, 60, 0)


def test_a_delta_of_several_bytes():
    assert only_track(number(100_000) + ON + END).notes[0][0] == 100_000


def test_unknown_events_are_passed_over():
    data = (
        number(0) + b"\xf0" + number(3) + b"\x01\x02\xf7"
        + number(0) + meta(0x60, b"whatever")
        + number(0) + bytes([0xB0, 7, 100])
        + number(0) + bytes([0xE0, 0, 64])
        + number(0) + bytes([0xD0, 5])
        + number(0) + bytes([0xF2, 1, 2])
        + number(0) + bytes([0xF6])
    )  # fmt: skip
    assert only_track(data + NOTE + END).notes == [(0, 0, 60, 80), (480, 0, 60, 0)]


def test_data_bytes_above_127_lose_their_top_bit_and_are_counted():
    read = only_track(number(0) + bytes([0x90, 60, 0xD0]) + number(480) + OFF + END)
    assert read.notes == [(0, 0, 60, 0x50), (480, 0, 60, 0)]
    assert read.oddities == {"data bytes above 127": 1}


def test_stray_bytes_before_the_first_status_are_passed_over():
    read = only_track(number(0) + b"\x05" + NOTE + END)
    assert len(read.notes) == 2
    assert read.oddities["stray bytes"]


def test_a_track_without_its_end_event_is_whole_if_its_length_is_right():
    assert not only_track(NOTE).cut


@pytest.mark.parametrize("length", [0, 3, 10_000, 2**32 - 1])
def test_a_wrong_length_does_not_matter_where_the_end_event_is_there(length: int):
    read = only_track(NOTE + END, length)
    assert len(read.notes) == 2
    assert not read.cut


def test_a_wrong_length_does_not_swallow_the_next_track():
    first = b"MTrk" + (9999).to_bytes(4, "big") + NOTE + END
    file = parse(header(1, 2, 480) + first + chunk(NOTE + NOTE + END), "line.mid")
    assert [len(t.notes) for t in file.tracks] == [2, 4]


def test_a_track_header_inside_a_text_is_no_track():
    data = number(0) + meta(1, b"MTrk\0\0\0\0") + NOTE + END
    assert len(parse(header(0, 1, 480) + chunk(data), "line.mid").tracks) == 1


def test_other_chunks_are_passed_over():
    other = b"XYZW" + (4).to_bytes(4, "big") + b"abcd"
    content = header(1, 2, 480) + other + chunk(NOTE + END) + other + chunk(NOTE + END) + other
    file = parse(content, "line.mid")
    assert [len(t.notes) for t in file.tracks] == [2, 2]
    assert not any(t.cut for t in file.tracks)


@pytest.mark.parametrize("left", [0, 1, 2, 3])
@pytest.mark.parametrize("length", [0, 2**32 - 1, len(NOTE) + 4])
def test_a_track_whose_length_counts_an_end_event_that_is_not_there_is_whole(left, length):
    read = only_track(NOTE + (number(0) + meta(0x2F, b""))[:left], length)
    assert not read.cut or (left and length != len(NOTE) + 4)


def test_a_track_of_unknown_length_whose_last_note_sounds_on_is_cut():
    assert only_track(NOTE + number(0) + b"\x90\x40\x40", 0).cut


def test_every_cut_of_a_file_that_loses_music_is_seen():
    whole = midi_file(track((0, 1, 60), (1, 1, 62), (2, 1, 64), name="Horn"))
    for size in range(whole.index(b"MTrk") + 8, len(whole) - 4):
        file = parse(whole[:size], "line.mid")
        assert file.missing or file.tracks[-1].cut, size


def test_missing_tracks_are_counted():
    assert parse(header(1, 3, 480) + chunk(NOTE + END), "line.mid").missing == 2


@pytest.mark.parametrize("wrapper", [b"RIFF\x30\0\0\0RMIDdata\x20\0\0\0", b"\0" * 128])
def test_a_wrapped_file_is_read(wrapper: bytes):
    content = wrapper + header(0, 1, 480) + chunk(NOTE + END) + b"\0"
    assert looks_like_midi(content)
    assert len(parse(content, "line.mid").tracks[0].notes) == 2


def test_a_longer_header_is_skipped_by_its_length():
    content = b"MThd" + (8).to_bytes(4, "big") + header(0, 1, 480)[8:] + b"ab"
    assert len(parse(content + chunk(NOTE + END), "line.mid").tracks[0].notes) == 2


@pytest.mark.parametrize(
    ("division", "frames"),
    [(480, None), (0xE728, 25.0), (0xE350, 30000 / 1001), (0xE250, 30.0), (0x9050, 0.0)],
)
def test_frames_of_a_division(division: int, frames: float | None):
    assert parse(header(0, 1, division) + chunk(END), "line.mid").frames == frames


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"MThd\0\0", "cut off in its header"),
        (b"RIFF....WAVE", "not a MIDI file"),
        (header(1, 1, 480), "holds no track"),
    ],
)
def test_what_is_no_midi_file_is_said(content: bytes, said: str):
    with pytest.raises(PhrasingError, match=f"line.mid: .*{said}"):
        parse(content, "line.mid")


def test_time_runs_on_when_the_event_is_not_understood():
    data = number(10) + bytes([0xF6]) + number(20) + ON + END
    assert only_track(data).notes == [(30, 0, 60, 80)]


def test_track_bytes_of_the_helper_put_events_in_order():
    assert track_bytes([(1, OFF), (0, ON)]) == NOTE + END
