from pathlib import Path

import numpy as np
import pytest

from phrasing.errors import PhrasingError
from phrasing.reading.midi.melody import read_midi
from phrasing.reading.midi.tracks import Sounded, one_line, paired
from tests.smf import midi_file, track


def line_of(*notes: tuple[float, float | None, int], end: float = 9600):
    return one_line([Sounded(on, off, pitch, 80) for on, off, pitch in notes], end)


def rows(line) -> list[tuple[float, float, int]]:
    return list(
        zip(line.onset.tolist(), line.release.tolist(), line.pitch.tolist(), strict=True)
    )


def test_notes_pair_with_their_ends():
    found = paired([(0, 60, 80), (10, 62, 80), (20, 60, 0), (30, 62, 0)])
    assert [(n.onset, n.release, n.pitch) for n in found] == [(0, 20, 60), (10, 30, 62)]


def test_an_end_belongs_to_the_note_of_its_pitch_that_began_last():
    found = paired([(0, 60, 80), (100, 60, 80), (110, 60, 0), (480, 60, 0)])
    assert [(n.onset, n.release) for n in found] == [(0, 480), (100, 110)]


def test_a_grace_note_whose_end_comes_before_its_beginning_has_no_length():
    found = paired([(480, 61, 0), (480, 61, 80), (480, 62, 80), (960, 62, 0)])
    assert [(n.onset, n.release, n.pitch) for n in found] == [(480, 480, 61), (480, 960, 62)]


def test_a_repeated_note_is_no_grace_note():
    found = paired([(0, 60, 80), (480, 60, 0), (480, 60, 80), (960, 60, 0)])
    assert [(n.onset, n.release) for n in found] == [(0, 480), (480, 960)]


def test_a_note_without_an_end_stays_open():
    assert paired([(0, 60, 80)])[0].release is None


def test_a_chord_keeps_its_top_note():
    line = line_of((0, 900, 60), (0, 900, 67), (0, 900, 64), (960, 1900, 62))
    assert rows(line) == [(0, 900, 67), (960, 1900, 62)]
    assert line.tidied.chord_notes == [0, 0]


def test_a_spread_chord_keeps_its_top_note_too():
    line = line_of((0, 900, 60), (15, 900, 64), (30, 900, 67), (960, 1900, 62))
    assert line.pitch.tolist() == [67, 62]


def test_a_low_note_under_a_held_high_one_is_left_out():
    line = line_of((0, 1900, 72), (480, 1000, 55), (960, 1400, 57), (1920, 2800, 74))
    assert line.pitch.tolist() == [72, 74]
    assert line.tidied.chord_notes == [480, 960]


def test_a_high_note_over_a_held_low_one_is_melody():
    line = line_of((0, 1900, 48), (480, 900, 72), (960, 1900, 74))
    assert line.pitch.tolist() == [48, 72, 74]


def test_legato_overlap_is_cut_and_not_told():
    line = line_of((0, 520, 62), (480, 1000, 60), (960, 1900, 59))
    assert rows(line) == [(0, 480, 62), (480, 960, 60), (960, 1900, 59)]
    assert line.tidied.overlaps == []


def test_a_long_overlap_is_told():
    line = line_of((0, 1000, 60), (480, 1000, 62))
    assert rows(line) == [(0, 480, 60), (480, 1000, 62)]
    assert line.tidied.overlaps == [0]


def test_a_note_there_twice_counts_once_and_lasts_as_long_as_the_longer():
    line = line_of((0, 300, 60), (0, 480, 60), (480, 960, 62))
    assert rows(line) == [(0, 480, 60), (480, 960, 62)]
    assert line.tidied.duplicates == [0]


def test_hung_notes_last_to_the_next_note_and_the_last_to_the_end():
    line = line_of((0, None, 60), (480, 900, 62), (960, None, 64), end=1920)
    assert rows(line) == [(0, 480, 60), (480, 900, 62), (960, 1920, 64)]
    assert line.tidied.hung == [960, 0]


def test_grace_notes_belong_to_the_next_note_in_playing_order():
    line = line_of((0, 400, 60), (480, 480, 61), (480, 480, 63), (480, 900, 62))
    assert rows(line) == [(0, 400, 60), (480, 900, 62)]
    assert line.graces == ((1, 61), (1, 63))


def test_grace_notes_after_the_last_note_have_none_to_belong_to():
    line = line_of((0, 400, 60), (480, 480, 61))
    assert line.graces == ()
    assert np.array_equal(line.pitch, [60])


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


@pytest.mark.parametrize("program", range(33, 41))
def test_a_bass_program_is_not_the_melody(tmp_path: Path, program: int):
    """General MIDI 1 has the basses at 33 to 40; the first track would be taken else."""
    line = [(on, length, pitch - 12) for on, length, pitch in MELODY]
    parts = track(*line, program=program), track(*line, program=1, channel=1)
    assert part_of(tmp_path, *parts) == "track 2 of 2"


@pytest.mark.parametrize("name", ["Bass", "Ac. Bass", "Rhythm Guitar", "Click", "Str. Pad"])
def test_a_part_that_says_it_is_behind_others_is_not_the_melody(tmp_path: Path, name: str):
    parts = track(*MELODY, name=name), track(*MELODY, name="Part 2", channel=1)
    assert part_of(tmp_path, *parts).startswith("Part 2")


@pytest.mark.parametrize("program", [57, 66, 72, 74, 80])
def test_a_wind_is_the_melody_where_all_else_is_alike(tmp_path: Path, program: int):
    parts = track(*MELODY, program=1), track(*MELODY, program=program, channel=1)
    assert part_of(tmp_path, *parts) == "track 2 of 2"


def test_of_two_lines_alike_the_higher_is_the_melody(tmp_path: Path):
    low = [(on, length, pitch - 5) for on, length, pitch in MELODY]
    assert part_of(tmp_path, track(*low), track(*MELODY, channel=1)) == "track 2 of 2"


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


def test_of_two_alike_parts_the_bass_is_not_the_melody(tmp_path):
    """The same notes for a bass, of each General MIDI program for one, and for a piano."""
    rows = [(i, 1, 60 + i % 5) for i in range(16)]
    for program in range(33, 41):
        path = tmp_path / f"{program}.mid"
        path.write_bytes(midi_file(track(*rows, program=program), track(*rows, program=1)))
        assert read_midi(path).reading.part.startswith("track 2"), program
