from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from phrasing.reading import read
from phrasing.reading.midi.melody import read_midi
from phrasing.score.melody import Grace, Key, Melody
from phrasing.score.meters import Bar, Meter
from tests.smf import chunk, header, meta, midi_file, note_events, track, track_bytes

EXAMPLE = Path(__file__).parents[3] / "examples" / "caretakers_keys.mid"
LINE = [(0, 1, 60), (1, 0.5, 62), (1.5, 0.5, 64), (2, 2, 65), (4, 1, 67), (5, 3, 60)]


def reading(tmp_path: Path, content: bytes, name: str = "line.mid", **options) -> Melody:
    path = tmp_path / name
    path.write_bytes(content)
    return read_midi(path, **options)


def rows(melody: Melody) -> list[tuple[float, float, int]]:
    """Onset and length in quarter notes, and pitch."""
    return [(n.onset / 960, n.length / 960, n.pitch) for n in melody.notes]


def test_a_plain_file_comes_back_as_it_is(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE)))
    assert rows(melody) == LINE
    assert melody.meter == Meter(4, 4)
    assert len(melody.bars) == 2
    told = melody.reading
    assert (told.format, told.part) == ("MIDI file, format 1", "track 1 of 1")
    assert (told.moved_median, told.moved_worst, told.moved_worst_bar) == (None, None, None)
    assert told.swing_found is None
    assert told.warnings == ()


def test_what_the_file_holds_decides_and_not_its_name(tmp_path: Path):
    path = tmp_path / "line.musicxml"
    path.write_bytes(midi_file(track(*LINE)))
    assert rows(read(path)) == LINE


@pytest.mark.parametrize("division", [24, 96, 120, 192, 220, 384, 480, 960, 1024, 15360, 25200])
def test_any_division(tmp_path: Path, division: int):
    triplets = [(8 + i / 3, 1 / 3, 60 + i) for i in range(3)]
    notes = [*LINE, *triplets, (9, 0.25, 60), (9.25, 0.75, 62)]
    melody = reading(tmp_path, midi_file(track(*notes), division=division))
    assert [(round(on * 12), round(le * 12), p) for on, le, p in rows(melody)] == [
        (round(on * 12), round(le * 12), p) for on, le, p in notes
    ]


def test_format_0(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE), kind=0, meters={0: "3/4"}))
    assert rows(melody) == LINE
    assert melody.reading.format == "MIDI file, format 0"
    assert melody.meter == Meter(3, 4)


def test_film_frames_are_turned_into_beats_by_the_tempo(tmp_path: Path):
    # 25 frames of 40 ticks: a thousand ticks a second, so 400 ticks a quarter at 150
    events = note_events([(on * 0.4, length * 0.4, pitch) for on, length, pitch in LINE])
    tempo = meta(0x51, (400_000).to_bytes(3, "big"))
    data = track_bytes([(0, tempo), *events], 1000)
    melody = reading(tmp_path, header(0, 1, 0xE728) + chunk(data))
    assert rows(melody) == LINE
    assert melody.tempos.tempos == (150.0,)
    assert melody.reading.warnings == ()


def test_film_frames_through_a_change_of_tempo(tmp_path: Path):
    # 4 quarters at 120 take 2000 ticks of a thousandth of a second, then 400 ticks each at 150
    ticks = [0, 500, 750, 1000, 2000, 2400, 3600]
    notes = [(a / 1000, (b - a) / 1000, 60 + i) for i, (a, b) in enumerate(pairwise(ticks))]
    change = (2.0, meta(0x51, (400_000).to_bytes(3, "big")))
    first = (0.0, meta(0x51, (500_000).to_bytes(3, "big")))
    data = track_bytes([first, change, *note_events(notes)], 1000)
    melody = reading(tmp_path, header(0, 1, 0xE728) + chunk(data))
    assert [on for on, _, _ in rows(melody)] == [0, 1, 1.5, 2, 4, 5]
    assert melody.tempos.onsets == (0, 3840)


def test_film_frames_without_a_tempo_are_told(tmp_path: Path):
    events = note_events([(on * 0.5, length * 0.5, pitch) for on, length, pitch in LINE])
    melody = reading(tmp_path, header(0, 1, 0xE728) + chunk(track_bytes(events, 1000)))
    assert rows(melody) == LINE
    assert "film frames" in melody.reading.warnings[0]


def test_tempo_changes(tmp_path: Path):
    change = (4, meta(0x51, (600_000).to_bytes(3, "big")))
    melody = reading(tmp_path, midi_file(track(*LINE, events=[change]), tempo=152))
    assert melody.tempos.onsets == (0, 3840)
    assert melody.tempos.tempos == (152.0, 100.0)


@pytest.mark.parametrize("tempo", [40, 63.5, 92, 117.25, 126, 152, 208, 300])
def test_a_tempo_comes_back_as_it_was_written(tmp_path: Path, tempo: float):
    assert reading(tmp_path, midi_file(track(*LINE), tempo=tempo)).tempos.tempos == (tempo,)


def test_no_tempo_is_120_and_is_told(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE), tempo=None))
    assert melody.tempos.tempos == (120.0,)
    assert melody.reading.warnings == ("The file gives no tempo; 120 is used.",)


@pytest.mark.parametrize("micros", [0, 1, 0xFFFFFF])
def test_a_tempo_that_no_music_has_is_passed_over_and_told(tmp_path: Path, micros: int):
    odd = (2, meta(0x51, micros.to_bytes(3, "big")))
    melody = reading(tmp_path, midi_file(track(*LINE, events=[odd]), tempo=90))
    assert melody.tempos.tempos == (90.0,)
    assert "passed over" in melody.reading.warnings[0]


def test_meter_changes(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE), meters={0: "3/4", 6: "2/4"}))
    bars = [(bar.onset, str(bar.meter)) for bar in melody.bars]
    assert bars == [(0, "3/4"), (2880, "3/4"), (5760, "2/4")]


@pytest.mark.parametrize(("beats", "power"), [(0, 2), (4, 9), (200, 2), (4, 255)])
def test_a_meter_that_no_music_has_is_passed_over_and_told(
    tmp_path: Path, beats: int, power: int
):
    odd = (0, meta(0x58, bytes([beats, power, 24, 8])))
    melody = reading(tmp_path, midi_file(track(*LINE, events=[odd])))
    assert melody.meter == Meter(4, 4)
    assert "was passed over" in melody.reading.warnings[0]


def test_the_key(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE), key=(-3, True)))
    assert melody.keys == (Key(0, -3, True),)


def test_a_key_of_eight_flats_does_not_stop_the_reading(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE), key=(-8, False)))
    assert melody.keys == ()
    assert melody.reading.warnings == ("The file has a key of 8 flats; it was passed over.",)


@pytest.mark.parametrize(
    ("title", "file", "read_as"),
    [
        ("Kettle on the Hob", "x.mid", "Kettle on the Hob"),
        ("Kettle on the Hob.mid", "x.mid", "Kettle on the Hob"),
        ("Für Minna".encode("latin-1"), "x.mid", "Für Minna"),
        ("夜のバス".encode("shift_jis"), "x.mid", "夜のバス"),
        ("Alto Sax", "kettle_on_the-hob.mid", "Kettle on the hob"),
        ("Track 1", "kettle.mid", "Kettle"),
        ("untitled", "Kettle  Song.mid", "Kettle Song"),
        (None, "04 kettle.mid", "04 kettle"),
        ("", "夜.mid", "夜"),
    ],
)
def test_the_title(tmp_path: Path, title: str | bytes | None, file: str, read_as: str):
    content = midi_file(track(*LINE), title=title)
    assert reading(tmp_path, content, file).title == read_as


def test_the_name_of_one_part_of_several_is_no_title(tmp_path: Path):
    content = midi_file(track(*LINE, name="Foyer"), track(*LINE, name="Stairs"), tempo=None)
    assert reading(tmp_path, content, "duet.mid").title == "Duet"


def test_a_pickup_that_is_asked_for(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE)), pickup=1.5)
    assert melody.bars[0] == Bar(0, 1440, 0, Meter(4, 4), offset=2400)
    assert melody.pickup == 1440
    assert rows(melody) == LINE


def test_a_short_first_bar_is_a_pickup(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE), meters={0: "1/4", 1: "4/4"}))
    assert [(bar.onset, bar.number) for bar in melody.bars] == [(0, 0), (960, 1), (4800, 2)]
    assert melody.beat[0] == 4.0


def test_a_first_bar_that_is_longer_or_comes_twice_is_no_pickup(tmp_path: Path):
    comes_back = {0: "3/4", 3: "4/4", 7: "3/4"}
    for meters in ({0: "5/4", 5: "4/4"}, {0: "2/4", 4: "4/4"}, comes_back):
        assert reading(tmp_path, midi_file(track(*LINE), meters=meters)).pickup == 0


def test_grace_notes_without_length(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE, (4, 0, 65), (4, 0, 66))))
    assert rows(melody) == LINE
    assert melody.graces == (Grace(4, (65, 66)),)
    told = "Bar 2: 2 notes without length were read as grace notes."
    assert melody.reading.warnings == (told,)


def test_a_played_grace_note_takes_no_place_of_its_own(tmp_path: Path):
    notes = [(0, 1, 60), (1, 0.95, 62), (1.95, 0.05, 63), (2, 1, 64), (3, 1, 65), (4, 4, 67)]
    melody = reading(tmp_path, midi_file(track(*notes)))
    assert [p for _, _, p in rows(melody)] == [60, 62, 64, 65, 67]
    assert rows(melody)[1] == (1, 1, 62)
    assert melody.graces == (Grace(2, (63,)),)


def test_what_was_put_in_order_is_told_by_bars(tmp_path: Path):
    low = [(float(bar * 4), 1.0, 50) for bar in range(6)]
    high = [(float(beat), 1.0, 70 + beat % 3) for beat in range(24)]
    melody = reading(tmp_path, midi_file(track(*low, *high)))
    assert melody.reading.warnings == (
        "Bars 1, 2, 3, 4 and 2 more: 6 notes under the top line were left out.",
    )


def test_a_note_that_never_ends_lasts_to_the_next(tmp_path: Path):
    hung = [(1, bytes([0x90, 62, 80]))]
    notes = [note for note in LINE if note[0] != 1]
    melody = reading(tmp_path, midi_file(track(*notes, events=hung)))
    assert rows(melody) == LINE
    assert melody.reading.warnings == ("Bar 1: 1 note never ended; it now lasts to the next.",)


def test_a_file_cut_off_in_a_bar_is_read_up_to_there_and_told(tmp_path: Path):
    notes = [(i / 2, 0.5, 60 + i % 12) for i in range(64)]
    whole = midi_file(track(*notes))
    cut = whole[: len(whole) * 2 // 3]
    melody = reading(tmp_path, cut)
    assert 30 < len(melody) < 55
    assert rows(melody)[:-1] == notes[: len(melody) - 1]
    bar = int(melody.bar_number[-1])
    assert melody.reading.warnings[0] == (
        f"The file is cut off in bar {bar}; from there on the melody is missing."
    )


def test_a_file_cut_off_after_the_melody_is_told(tmp_path: Path):
    content = midi_file(track(*LINE), track((0, 8, 40), name="Bass"))
    melody = reading(tmp_path, content[:-12])
    assert rows(melody) == LINE
    assert "other tracks of it are missing" in melody.reading.warnings[0]


def test_damaged_bytes_are_told(tmp_path: Path):
    bad = [(1, bytes([0x90, 62, 0xD0])), (1.5, bytes([0x80, 62, 0]))]
    notes = [note for note in LINE if note[0] != 1]
    melody = reading(tmp_path, midi_file(track(*notes, events=bad)))
    assert rows(melody) == LINE
    assert melody.reading.warnings == (
        "The file is damaged: data bytes above 127 were passed over.",
    )


def played(rng: np.random.Generator, beats: int = 64, late: float = 0.0, swing: float = 0.5):
    """Eighths and quarters at 120, with 8 ms of noise."""
    rows = []
    for beat in range(beats):
        places = [0.0] if beat % 4 == 3 else [0.0, swing]
        for place in places:
            at = beat + place + 2 * (late + rng.normal(0, 0.008))
            rows.append((max(at, 0.0), 0.4 if len(places) == 2 else 0.9, 60 + len(rows) % 9))
    return rows


def test_how_far_notes_were_moved_is_reported_in_milliseconds(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*played(np.random.default_rng(3)))))
    told = melody.reading
    assert told.moved_median == pytest.approx(0.6745 * 8, rel=0.3)
    assert 15 < told.moved_worst < 40
    assert 1 <= told.moved_worst_bar <= 16
    assert told.warnings == ()


def test_a_note_far_from_its_place_is_the_worst_and_its_bar_is_told(tmp_path: Path):
    rng = np.random.default_rng(3)
    notes = [
        (on + 0.08 * (20 <= on < 20.2), length, pitch) for on, length, pitch in played(rng)
    ]
    told = reading(tmp_path, midi_file(track(*notes))).reading
    assert told.moved_worst == pytest.approx(40, abs=20)
    assert told.moved_worst_bar == 6


def test_a_late_take_is_put_on_the_beat_and_told(tmp_path: Path):
    notes = played(np.random.default_rng(5), late=0.035)
    melody = reading(tmp_path, midi_file(track(*notes)))
    assert set((melody.onset % 480).tolist()) == {0}
    assert melody.onset[0] == 0
    (warning,) = melody.reading.warnings
    assert warning.startswith("The whole take lies 3")
    assert "ms behind the beat" in warning
    assert melody.reading.moved_median == pytest.approx(35, abs=4)
    assert melody.bars[-1].onset < melody.onset[-1] + melody.length[-1]


def test_a_late_last_note_does_not_make_a_bar(tmp_path: Path):
    rng = np.random.default_rng(5)
    notes = [
        (max(i + 4 * (0.045 + rng.normal(0, 0.004)), 0), 0.98, 60 + i % 7) for i in range(32)
    ]
    melody = reading(tmp_path, midi_file(track(*notes), tempo=240))
    assert melody.onset.tolist() == [960 * i for i in range(32)]
    assert len(melody.bars) == 8


def test_a_swung_take_is_read_as_eighths_and_told(tmp_path: Path):
    notes = played(np.random.default_rng(7), swing=0.64)
    melody = reading(tmp_path, midi_file(track(*notes)))
    assert set((melody.onset % 960).tolist()) == {0, 480}
    assert melody.reading.swing_found == pytest.approx(0.64 / 0.36, abs=0.1)
    assert melody.reading.warnings == (
        "It is already played with swing, about 1.8 : 1; its pairs are read as eighths.",
    )


def test_playing_without_the_click_is_doubted(tmp_path: Path):
    rng = np.random.default_rng(9)
    at = np.cumsum(rng.uniform(0.2, 1.3, 60))
    notes = [(float(x), 0.2, 60 + i % 7) for i, x in enumerate(at)]
    melody = reading(tmp_path, midi_file(track(*notes)))
    assert "was it played to the click" in melody.reading.warnings[-1]


def test_the_same_file_gives_the_same_melody(tmp_path: Path):
    content = midi_file(track(*played(np.random.default_rng(11))))
    first, second = reading(tmp_path, content), reading(tmp_path, content)
    assert rows(first) == rows(second)
    assert first.reading == second.reading


def with_triplets(first: float) -> list[tuple[float, float, int]]:
    """A melody of triplets and quarters whose beats begin ``first`` quarters in."""
    beats = [[1 / 3] * 3 if i % 3 else [1.0] for i in range(48)]
    lengths = [length for beat in beats for length in beat]
    onsets = np.cumsum([0.0, *lengths[:-1]]) + first
    notes = [
        (float(on), le, 60 + i % 11)
        for i, (on, le) in enumerate(zip(onsets, lengths, strict=True))
    ]
    return [(0.0, first, 59), *notes] if first else notes


@pytest.mark.parametrize("noise", [0.0, 0.010])
def test_triplets_that_straddle_the_beats_tell_of_a_pickup(tmp_path: Path, noise: float):
    rng = np.random.default_rng(2)
    written = with_triplets(0.5)
    notes = [(max(on + 2 * rng.normal(0, noise), 0.0), le * 0.9, p) for on, le, p in written]
    melody = reading(tmp_path, midi_file(track(*notes)))
    assert melody.pickup == 480
    assert melody.onset.tolist() == [round(on * 960) for on, _, _ in written]
    assert "pickup of an eighth" in melody.reading.warnings[0]
    kept = reading(tmp_path, midi_file(track(*notes)), pickup=0)
    assert kept.pickup == 0


def test_rhythms_without_triplets_tell_of_no_pickup(tmp_path: Path):
    rng = np.random.default_rng(4)
    places = [i + place for i in range(48) for place in (0.5, 1.0, 1.0 if i % 3 else 1.25)]
    onsets = [max(at + 2 * rng.normal(0, 0.022), 0.0) for at in sorted(set(places))]
    notes = [(at, 0.2, 60 + i % 9) for i, at in enumerate(onsets)]
    melody = reading(tmp_path, midi_file(track((0, 0.4, 59), *notes)))
    assert not any("triplets" in warning for warning in melody.reading.warnings)


def test_sextuplets_on_the_beats_tell_of_no_pickup(tmp_path: Path):
    beats = [[1 / 6] * 6 if i % 3 else [1.0] for i in range(24)]
    lengths = [length for beat in beats for length in beat]
    onsets = np.cumsum([0.0, *lengths[:-1]])
    rows_ = enumerate(zip(onsets.tolist(), lengths, strict=True))
    melody = reading(tmp_path, midi_file(track(*[(o, le, 60 + i % 9) for i, (o, le) in rows_])))
    assert melody.pickup == 0


def test_triplets_on_the_beats_tell_of_no_pickup(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*with_triplets(0.0))))
    assert melody.pickup == 0
    assert melody.reading.warnings == ()


def test_a_meter_said_again_inside_a_bar_does_not_start_a_new_bar(tmp_path: Path):
    melody = reading(tmp_path, midi_file(track(*LINE), meters={0: "4/4", 2: "4/4"}))
    assert [bar.onset for bar in melody.bars] == [0, 3840]


def test_a_last_note_moved_onto_the_end_of_the_last_bar_begins_another(tmp_path: Path):
    """Of files played by hand, some had a last note behind their last bar."""
    path = tmp_path / "take.mid"
    path.write_bytes(midi_file(track((0, 1, 60), (1, 1, 62), (2, 1, 64), (3.9, 0.05, 65))))
    melody = read_midi(path)
    assert melody.onset[-1] == 4 * 960
    assert [bar.number for bar in melody.bars] == [1, 2]
    assert melody.bars[-1].onset == 4 * 960


def test_quick_notes_played_loosely_are_said_to_be_doubtful(tmp_path: Path):
    rng = np.random.default_rng(2)
    quick = [(max(i / 4 + 2.4 * rng.normal(0, 0.030), 0), 0.2, 60 + i % 5) for i in range(128)]
    slow = [(max(i + 2.4 * rng.normal(0, 0.026), 0), 0.8, 60 + i % 5) for i in range(64)]
    said = [" ".join(reading(tmp_path, midi_file(track(*notes), tempo=144)).reading.warnings)
            for notes in (sorted(quick), sorted(slow))]  # fmt: skip
    assert "may be misread" in said[0]
    assert "may be misread" not in said[1]


def test_a_pickup_that_the_notes_show_is_counted_where_the_meter_never_changes(tmp_path: Path):
    """The example without its first notes: long ones, repeated bars tell where bars begin."""
    line = read(EXAMPLE)
    first = int(np.searchsorted(line.onset - line.onset[0], 3 * 960))
    onset, length = (line.onset - line.onset[first]) / 960, line.length / 960
    cut = zip(onset[first:], length[first:], line.pitch[first:].tolist(), strict=True)
    played = track(*cut)
    path = tmp_path / "cut.mid"
    for later, pickup in (({}, 960), ({8.0: "3/4"}, 0)):
        path.write_bytes(midi_file(played, tempo=132, meters={0: "4/4", **later}))
        assert read(path).pickup == pickup
