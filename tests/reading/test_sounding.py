import numpy as np

from phrasing.reading.sounding import Sounded, one_line, paired


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
