import os
from pathlib import Path

import pytest

from phrasing.errors import PhrasingError
from phrasing.printable import printable
from phrasing.reading import read
from tests.smf import chunk, header, meta, midi_file, number, track, track_bytes

LINE = [(i / 2, 0.5, 60 + i) for i in range(8)]


def message(path: Path, **options) -> str:
    with pytest.raises(PhrasingError) as caught:
        read(path, **options)
    said = str(caught.value)
    assert said.startswith(printable(path))
    assert "\n" not in said
    return said


def of(tmp_path: Path, content: bytes, **options) -> str:
    path = tmp_path / "line.mid"
    path.write_bytes(content)
    return message(path, **options)


def test_a_folder(tmp_path: Path):
    assert "is a folder; name the file in it" in message(tmp_path)


def test_no_such_file(tmp_path: Path):
    assert "there is no such file; check its name" in message(tmp_path / "line.mid")


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path: Path):
    path = tmp_path / "line.mid"
    path.write_bytes(b"MThd")
    path.chmod(0)
    assert "cannot be read (Permission denied)" in message(path)


def test_a_reason_of_the_system_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = tmp_path / "line.mid"
    path.write_bytes(b"MThd")

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert "cannot be read (Permission denied); check that you may open it" in message(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_not_waited_for(tmp_path: Path):
    os.mkfifo(tmp_path / "line.mid")
    assert "no ordinary file" in message(tmp_path / "line.mid")


def test_a_name_with_a_zero_byte():
    assert "cannot be" in message(Path("a\0b.mid"))


def test_an_empty_file(tmp_path: Path):
    assert "is empty; export the melody again" in of(tmp_path, b"")


def test_a_file_far_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("phrasing.reading.midi.melody.MIDI_BYTES", 100)
    path = tmp_path / "line.mid"
    path.write_bytes(midi_file(track(*LINE)))
    assert "far too large to be a melody" in message(path)


def test_a_picture(tmp_path: Path):
    picture = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01"
    path = tmp_path / "line.png"
    path.write_bytes(picture)
    said = message(path)
    assert "is a picture: the notes in it cannot be read; export the score" in said


def test_format_2(tmp_path: Path):
    said = of(tmp_path, header(2, 1, 480) + midi_file(track(*LINE), kind=0)[14:])
    assert "format 2 (separate patterns); export it as format 0 or 1" in said


def test_no_notes(tmp_path: Path):
    assert "holds no notes" in of(tmp_path, midi_file(track(name="Horn")))


def test_ends_of_notes_alone_are_no_notes(tmp_path: Path):
    ends = [(0, bytes([0x90, 60, 0])), (1, bytes([0x80, 62, 0]))]
    assert "holds no notes" in of(tmp_path, midi_file(track(events=ends)))


def test_only_notes_without_length(tmp_path: Path):
    said = of(tmp_path, midi_file(track((0, 0, 60), (1, 0, 62))))
    assert "has no notes that last" in said


def test_only_drums(tmp_path: Path):
    assert "holds only drums" in of(tmp_path, midi_file(track(*LINE, channel=9)))


def test_cut_off_before_the_first_note(tmp_path: Path):
    content = midi_file(track(*LINE, name="Horn"))
    first = content.index(bytes([0x90, 60, 80]))
    for size in range(content.index(b"MTrk") + 8, first):
        said = of(tmp_path, content[:size])
        assert "cut off before its first note" in said, size


def test_cut_off_in_the_header(tmp_path: Path):
    for size in range(4, 14):
        assert "cut off in its header" in of(tmp_path, midi_file(track(*LINE))[:size])


@pytest.mark.parametrize("division", [0, 0x8000, 0xE200, 0x9050])
def test_ticks_of_no_length(tmp_path: Path, division: int):
    content = header(0, 1, division) + chunk(track_bytes(track(*LINE)))
    assert "does not say how long its ticks are" in of(tmp_path, content)


def test_a_rest_without_end(tmp_path: Path):
    said = of(tmp_path, midi_file(track(*LINE, (400_000, 1, 60))))
    assert "has a rest or a note of over 1000 bars at bar 1" in said


def test_a_note_without_end(tmp_path: Path):
    said = of(tmp_path, midi_file(track(*LINE, (8, 5_000, 60))))
    assert "has a rest or a note of over 1000 bars at bar 3" in said


def test_bars_without_number(tmp_path: Path):
    notes = [(900 * i, 1, 60 + i % 5) for i in range(20)]
    said = of(tmp_path, midi_file(track(*notes), meters={0: "1/64"}))
    assert "makes more than 10,000 bars of music" in said


@pytest.mark.parametrize("pickup", [-1, 16.5, float("nan"), float("inf")])
def test_a_pickup_that_cannot_be(tmp_path: Path, pickup: float):
    assert "a pickup of" in of(tmp_path, midi_file(track(*LINE)), pickup=pickup)


def test_a_last_note_that_hangs_over_a_long_end_does_not_make_bars(tmp_path: Path):
    path = tmp_path / "line.mid"
    hung = [(4, bytes([0x90, 72, 80])), (2000, meta(1, b"end"))]
    path.write_bytes(midi_file(track(*LINE, events=hung)))
    melody = read(path)
    assert melody.length[-1] <= 3840
    assert len(melody.bars) == 2


def test_the_input_is_not_touched(tmp_path: Path):
    path = tmp_path / "line.mid"
    content = midi_file(track(*LINE)) + number(5)
    path.write_bytes(content)
    path.chmod(0o444)
    read(path)
    assert path.read_bytes() == content
    assert os.listdir(tmp_path) == ["line.mid"]


def test_a_rest_of_a_thousand_bars_is_damage(tmp_path: Path):
    def resting(bars: int) -> bytes:
        return midi_file(track((0, 1, 60), (1, 1, 62), (4 * bars, 1, 64)))

    assert "a rest or a note of over 1000 bars at bar 1" in of(tmp_path, resting(1010))
    path = tmp_path / "line.mid"
    path.write_bytes(resting(990))
    assert len(read(path)) == 3
