"""A performance becomes a MIDI file that says the same."""

from dataclasses import replace
from pathlib import Path

import mido
import pytest

from phrasing.errors import PhrasingError
from phrasing.performing.performance import DRUMS
from phrasing.score.meters import Bar, Meter, TempoMap, bars_of_meters
from phrasing.sound.midi import signature_of, write_midi
from tests.sound.playing import curve, part, performance


def events(path: Path, track: int) -> list[tuple[int, mido.Message]]:
    """The messages of a track with their absolute ticks."""
    now, found = 0, []
    for message in mido.MidiFile(path, charset="utf-8").tracks[track]:
        now += message.time
        found.append((now, message))
    return found


def written(tmp_path: Path, played, track: int = 1) -> list[tuple[int, mido.Message]]:
    write_midi(played, tmp_path / "a.mid")
    return events(tmp_path / "a.mid", track)


def of_kind(found, kind: str) -> list[tuple[int, mido.Message]]:
    return [(tick, message) for tick, message in found if message.type == kind]


def test_every_note_is_on_its_own_tick(tmp_path):
    found = written(tmp_path, performance(part((0, 0.9, 60), (2 / 3, 1.25, 67, 5))))
    ons = [(tick, m.note, m.velocity) for tick, m in of_kind(found, "note_on")]
    offs = [(tick, m.note) for tick, m in of_kind(found, "note_off")]
    assert ons == [(0, 60, 80), (640, 67, 107)]
    assert offs == [(864, 60), (1200, 67)]


def test_a_note_ends_before_its_own_pitch_comes_again(tmp_path):
    found = written(tmp_path, performance(part((0, 1.02, 60), (1, 2, 60))))
    kinds = [(t, m.type) for t, m in found if m.type.startswith("note") and t == 960]
    assert kinds == [(960, "note_off"), (960, "note_on")]
    assert len(of_kind(found, "note_off")) == 2


def test_a_slurred_note_overlaps_the_next(tmp_path):
    found = written(tmp_path, performance(part((0, 1.02, 60), (1, 2, 62))))
    assert [t for t, _ in of_kind(found, "note_off")] == [979, 1920]


def test_two_notes_that_start_together_on_one_pitch_are_one(tmp_path):
    found = written(tmp_path, performance(part((0, 1, 60), (0, 2, 60), (0, 2, 64))))
    assert len(of_kind(found, "note_on")) == len(of_kind(found, "note_off")) == 2


def test_tempos_are_in_the_first_track(tmp_path):
    played = replace(performance(part((0, 8, 60))), tempos=TempoMap((0, 960), (120.0, 133.0)))
    found = of_kind(written(tmp_path, played, 0), "set_tempo")
    assert [(tick, m.tempo) for tick, m in found] == [(0, 500000), (960, round(60e6 / 133))]


def test_a_pickup_is_a_bar_of_its_own_length(tmp_path):
    played = performance(part((0, 7, 60)), meter=Meter(3, 4), pickup=0.5)
    found = of_kind(written(tmp_path, played, 0), "time_signature")
    assert [(t, m.numerator, m.denominator) for t, m in found] == [(0, 1, 8), (480, 3, 4)]


def test_meters_are_written_where_they_change(tmp_path):
    played = performance(part((0, 9, 60)))
    played = replace(played, bars=bars_of_meters({0: Meter(), 3840: Meter(5, 4)}, 8640))
    found = of_kind(written(tmp_path, played, 0), "time_signature")
    assert [(t, m.numerator, m.denominator) for t, m in found] == [(0, 4, 4), (3840, 5, 4)]


@pytest.mark.parametrize(
    "length, expected",
    [(3840, (4, 4)), (1440, (3, 8)), (2880, (3, 4)), (320, None), (240, (1, 16))],
)
def test_the_meter_that_fits_a_bar(length, expected):
    assert signature_of(Bar(0, length, 0, Meter())) == expected


def test_a_title_in_any_script(tmp_path):
    found = written(tmp_path, performance(part((0, 1, 60)), title="Blå mandag ♭ 月"), 0)
    assert of_kind(found, "track_name")[0][1].name == "Blå mandag ♭ 月"


def test_the_part_has_its_name_and_program(tmp_path):
    found = written(tmp_path, performance(part((0, 1, 60), name="Tenor", program=67)))
    assert of_kind(found, "track_name")[0][1].name == "Tenor"
    assert of_kind(found, "program_change")[0][1].program == 66


def test_drums_are_on_channel_ten_with_their_kit(tmp_path):
    played = performance(part((0, 1, 60)), part((0, 1, 51), program=DRUMS, kit=33))
    found = written(tmp_path, played, 2)
    channels = {m.channel for _, m in found if not m.is_meta}
    assert channels == {9}
    assert of_kind(found, "program_change")[0][1].program == 32


def test_parts_have_channels_of_their_own_and_none_has_ten(tmp_path):
    played = performance(*[part((0, 1, 60)) for _ in range(15)])
    write_midi(played, tmp_path / "a.mid")
    channels = [events(tmp_path / "a.mid", i)[1][1].channel for i in range(1, 16)]
    assert channels == [c for c in range(16) if c != 9]


def test_more_parts_than_channels_are_refused(tmp_path):
    with pytest.raises(ValueError, match="15 channels"):
        write_midi(performance(*[part((0, 1, 60)) for _ in range(16)]), tmp_path / "a.mid")
    assert list(tmp_path.iterdir()) == []


def test_expression_follows_the_law_of_controller_11(tmp_path):
    dip = curve("expression", (0, 0), (0.5, -4.8613), (0.75, -4.8613), (1, 0))
    found = of_kind(
        written(tmp_path, performance(part((0, 1, 60), curves=(dip,)))), "control_change"
    )
    values = [(tick, m.value) for tick, m in found if m.control == 11]
    assert values == [(0, 127), (0, 127), (480, 96), (960, 127)]


def test_bends_are_written_in_the_range_that_is_set(tmp_path):
    wave = curve("bend", (0, 0), (0.25, 0.5), (0.5, -2))
    found = written(tmp_path, performance(part((0, 1, 60), curves=(wave,))))
    assert [m.pitch for _, m in of_kind(found, "pitchwheel")] == [0, 2048, -8192]
    controls = [(m.control, m.value) for _, m in of_kind(found, "control_change")]
    at = controls.index((101, 0))
    assert controls[at : at + 3] == [(101, 0), (100, 0), (6, 2)]


def test_a_scoop_of_three_semitones_widens_the_range(tmp_path):
    scoop = curve("bend", (0, -3), (0.25, 0))
    found = written(tmp_path, performance(part((0, 1, 60), curves=(scoop,))))
    assert (6, 3) in [(m.control, m.value) for _, m in of_kind(found, "control_change")]
    assert [m.pitch for _, m in of_kind(found, "pitchwheel")] == [-8192, 0]


def test_brightness_is_written_where_it_changes(tmp_path):
    notes = part((0, 1, 60, 0, -1), (1, 2, 62, 0, -1), (2, 3, 64, 0, 0), (3, 4, 65, 0, 1))
    found = of_kind(written(tmp_path, performance(notes)), "control_change")
    assert [(t, m.value) for t, m in found if m.control == 74] == [
        (0, 1),
        (1920, 64),
        (2880, 127),
    ]


def test_the_gain_of_a_part_is_its_volume(tmp_path):
    found = of_kind(written(tmp_path, performance(part((0, 1, 60), gain=-6))), "control_change")
    assert [m.value for _, m in found if m.control == 7] == [round(100 * 10 ** (-6 / 40))]


def test_the_file_ends_where_the_last_bar_ends(tmp_path):
    played = performance(part((0, 1, 60)), end=4)
    write_midi(played, tmp_path / "a.mid")
    for track in (0, 1):
        assert events(tmp_path / "a.mid", track)[-1] == (
            3840,
            mido.MetaMessage(
                "end_of_track", time=events(tmp_path / "a.mid", track)[-1][1].time
            ),
        )


def test_the_same_performance_gives_the_same_bytes(tmp_path):
    played = performance(part((0, 0.9, 60), (1, 2, 62)), title="Twice")
    write_midi(played, tmp_path / "a.mid")
    write_midi(played, tmp_path / "b.mid")
    assert (tmp_path / "a.mid").read_bytes() == (tmp_path / "b.mid").read_bytes()


def test_a_performance_without_notes_is_a_file_all_the_same(tmp_path):
    found = written(tmp_path, performance(part(), end=4))
    assert of_kind(found, "note_on") == []
    assert found[-1][0] == 3840


def test_a_folder_that_is_not_there_gives_one_line(tmp_path):
    with pytest.raises(PhrasingError, match="cannot be written"):
        write_midi(performance(part((0, 1, 60))), tmp_path / "nowhere" / "a.mid")
