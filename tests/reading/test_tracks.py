from pathlib import Path

import pytest

from phrasing.errors import PhrasingError
from phrasing.reading.midi import read_midi
from tests.smf import midi_file, track

MELODY = [(i / 2, 0.5, 67 + (i * 5) % 9) for i in range(16)]
BASS = [(float(i), 1.0, 36 + (i * 7) % 12) for i in range(8)]
CHORDS = [(float(2 * i), 2.0, p + i) for i in range(4) for p in (52, 55, 59, 64)]
DRUMS = [(i / 2, 0.1, 42) for i in range(16)]


def part_of(tmp_path: Path, *tracks, chosen: str | None = None, **options) -> str:
    path = tmp_path / "band.mid"
    path.write_bytes(midi_file(*tracks, **options))
    return read_midi(path, track=chosen).reading.part


def band(melody_at: int):
    parts = [
        track(*BASS, name="Low", channel=1),
        track(*CHORDS, name="Middle", channel=2),
        track(*DRUMS, name="Kit", channel=9),
    ]
    parts.insert(melody_at, track(*MELODY, name="Top", channel=3))
    return parts


@pytest.mark.parametrize("at", range(4))
def test_the_melody_is_found_wherever_it_stands(tmp_path: Path, at: int):
    assert part_of(tmp_path, *band(at)) == f"Top (track {at + 1} of 4)"


def test_the_melody_is_found_among_the_channels_of_one_track(tmp_path: Path):
    assert part_of(tmp_path, *band(0), kind=0) == "channel 4 (track 3 of 4)"


def test_drums_are_never_the_melody(tmp_path: Path):
    high_drums = track(*MELODY, name="Melody", channel=9)
    assert part_of(tmp_path, high_drums, track(*BASS)) == "track 2 of 2"


def test_a_name_that_says_melody_counts(tmp_path: Path):
    quiet = track(*[(on, length, pitch - 12) for on, length, pitch in MELODY], name="Melody")
    assert part_of(tmp_path, track(*MELODY, name="Strings"), quiet).startswith("Melody")


def test_a_bass_program_is_not_the_melody(tmp_path: Path):
    line = [(on, length, pitch - 20) for on, length, pitch in MELODY]
    parts = track(*line, program=34), track(*line, program=66, channel=1)
    assert part_of(tmp_path, *parts) == "track 2 of 2"


def test_high_chords_are_not_the_melody(tmp_path: Path):
    chords = [(float(i), 1.0, p + i % 3) for i in range(16) for p in (72, 76, 79)]
    line = [(on, length, pitch - 12) for on, length, pitch in MELODY]
    assert part_of(tmp_path, track(*chords), track(*line, channel=1)) == "track 2 of 2"


def test_tracks_without_notes_are_not_counted(tmp_path: Path):
    assert part_of(tmp_path, track(name="Empty"), track(*MELODY)) == "track 1 of 1"


@pytest.mark.parametrize("chosen", ["1", "low", "LOW", " Low ", "lo"])
def test_a_track_is_chosen_by_number_name_or_part_of_its_name(tmp_path: Path, chosen: str):
    assert part_of(tmp_path, *band(3), chosen=chosen) == "Low (track 1 of 4)"


def test_even_drums_can_be_chosen(tmp_path: Path):
    assert part_of(tmp_path, *band(3), chosen="3") == "Kit (track 3 of 4)"


@pytest.mark.parametrize("chosen", ["5", "0", "Tuba", "", "o"])
def test_a_choice_that_is_not_there_lists_the_tracks(tmp_path: Path, chosen: str):
    with pytest.raises(PhrasingError) as caught:
        part_of(tmp_path, *band(3), chosen=chosen)
    listed = "1 Low (8 notes); 2 Middle (16 notes); 3 Kit (16 notes, drums); 4 Top (16 notes)."
    assert str(caught.value).endswith(f"has no track “{chosen}”; choose from {listed}")


@pytest.mark.parametrize(
    ("name", "program", "key"),
    [
        ("Part", 67, "tenor-sax"),
        ("Alto Saxophone 1", None, "alto-sax"),
        ("Trumpet in B♭", None, "trumpet"),
        ("Trumpet", 74, "flute"),
        ("Trumpet", 90, None),
        ("Part", None, None),
    ],
)
def test_the_instrument_is_told_by_program_or_else_by_name(
    tmp_path: Path, name: str, program: int | None, key: str | None
):
    path = tmp_path / "part.mid"
    path.write_bytes(midi_file(track(*MELODY, name=name, program=program)))
    melody = read_midi(path)
    assert melody.instrument == key
    assert melody.program == program


def test_the_program_is_the_last_one_before_the_first_note(tmp_path: Path):
    changes = [(0, bytes([0xC0, 0])), (0, bytes([0xC0, 65])), (2, bytes([0xC0, 70]))]
    path = tmp_path / "part.mid"
    path.write_bytes(midi_file(track(*MELODY, events=changes)))
    assert read_midi(path).program == 66
