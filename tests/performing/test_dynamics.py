"""Marks become levels, gates and brightness."""

import numpy as np
import pytest

from phrasing.feel import SOUNDS, Feel, MarkSound
from phrasing.performing import dynamics
from phrasing.score.marks import MARK_NAMES
from tests.lines import marking, melody

RUN = "C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 B5:1 C6:1"
FALL = "C6:1 B5:1 A5:1 G5:1 F5:1 E5:1 D5:1 C5:1"
QUARTER_AT_120 = 0.5


def shaped(words, marks=None, feel=Feel(), seconds=0.25, **rest):
    tune = melody(words)
    written = np.full(len(tune), seconds)
    return dynamics.shaped(tune, marking(len(tune), marks, **rest), feel, written)


@pytest.mark.parametrize("name", MARK_NAMES)
def test_each_mark_has_the_level_gate_and_brightness_of_the_feel(name):
    shape = shaped(RUN, {3: name})
    assert shape.level[3] == SOUNDS[name].level
    assert shape.gate[3] == SOUNDS[name].gate
    assert shape.brightness[3] == SOUNDS[name].brightness
    assert shape.level[4] == 0.0


def test_a_marcato_quarter_is_never_longer_than_300_ms_however_slow():
    slow = shaped("C5:2 D5:2", {0: "marcato"}, seconds=1.0)
    assert slow.gate[0] * 1.0 == pytest.approx(0.300)
    fast = shaped("C5:2 D5:2", {0: "marcato"}, seconds=QUARTER_AT_120)
    assert fast.gate[0] == 0.55


def test_strength_scales_every_level_and_every_departure_from_the_plain_gate():
    half = shaped(RUN, {1: "ghost", 3: "marcato"}, Feel(strength=0.5), flow=(5,))
    full = shaped(RUN, {1: "ghost", 3: "marcato"}, flow=(5,))
    assert half.level == pytest.approx(full.level / 2)
    assert half.gate - 0.9 == pytest.approx((full.gate - 0.9) / 2)


def test_no_strength_is_plain():
    none = shaped(FALL, {1: "ghost", 3: "marcato"}, Feel(strength=0.0), swells=((0, 7),))
    plain = dynamics.plain_shape(melody(FALL), Feel())
    for column in ("level", "gate", "brightness"):
        assert getattr(none, column).tolist() == getattr(plain, column).tolist()


def test_a_fall_of_eight_notes_loses_a_db_a_note():
    level = shaped(FALL, swells=((0, 7),)).level
    assert level.tolist() == [0, -1, -2, -3, -4, -5, -6, -7]


def test_a_short_fall_still_loses_four_db_and_a_long_one_nine_at_most():
    assert shaped("C6:1 A5:1 F5:1 D5:1", swells=((0, 3),)).level[-1] == -4.0
    long = f"{FALL} B4:1 A4:1 G4:1 F4:1 E4:1 D4:1"
    assert shaped(long, swells=((0, 13),)).level[-1] == -9.0


def test_a_fall_darkens():
    assert (np.diff(shaped(FALL, swells=((0, 7),)).brightness) < 0).all()


def test_an_arrival_at_the_end_of_a_fall_keeps_its_level_and_a_tenuto_inside_rides_on_it():
    level = shaped(FALL, {5: "tenuto", 7: "accent"}, swells=((0, 7),)).level
    assert level[7] == SOUNDS["accent"].level
    assert level[5] == SOUNDS["tenuto"].level - 5.0


def test_off_beats_of_a_line_are_a_little_stronger():
    assert shaped(RUN, flow=(1, 3)).level[:4].tolist() == [0, 1.2, 0, 1.2]


def test_a_phrase_rises_to_its_peak_and_relaxes():
    level = shaped(RUN, phrases=((0, 7, 5, 0),)).level
    assert (np.diff(level[:6]) > 0).all()
    assert (np.diff(level[5:]) < 0).all()
    assert level.max() == pytest.approx(0.8)


def test_a_pickup_grows_into_its_downbeat():
    level = shaped(RUN, phrases=((0, 7, -1, 2),)).level
    assert level[:3].tolist() == pytest.approx([-1.5, -0.75, 0.0])


@pytest.mark.parametrize("rule", ["phrase-arch", "pickup"])
def test_an_effect_that_is_left_out_is_gone(rule):
    shape = shaped(RUN, phrases=((0, 7, 5, 2),), left_out=("phrase-arch", "pickup"))
    assert not shape.level.any()
    other = shaped(RUN, phrases=((0, 7, 5, 2),), left_out=(rule,))
    assert other.level.any()


def test_a_slurred_note_overlaps_the_next_by_25_ms():
    gate = shaped(RUN, joined=(1,)).gate
    assert gate[1] * 0.25 == pytest.approx(0.25 + 0.025)
    assert gate[0] == 0.90


@pytest.mark.parametrize("short", ["marcato", "staccato", "clipped"])
def test_a_short_mark_is_never_slurred(short):
    assert shaped(RUN, {1: short}, joined=(1,)).gate[1] == SOUNDS[short].gate


@pytest.mark.parametrize("seconds", [0.15, 0.25, 1.0])
def test_a_note_stops_35_ms_before_its_repetition_at_any_tempo(seconds):
    gate = shaped(RUN, {3: "accent"}, seconds=seconds, joined=(1, 3), repeated=(1, 3, 5)).gate
    assert (1 - gate[[1, 3, 5]]) * seconds == pytest.approx([0.035] * 3)


def test_the_gap_of_a_tongued_note_grows_with_the_interval():
    gate = shaped("C5:1 C#5:1 Eb5:1 Ab5:1 Eb5:1 Eb6:1 C6:2", tongued=range(6)).gate
    gaps = (1 - gate[:5]) * 0.25
    assert gaps == pytest.approx([0.014, 0.016, 0.021, 0.021, 0.041])


def test_a_short_mark_keeps_its_length_before_a_tongued_note():
    gate = shaped(RUN, {2: "marcato", 4: "tenuto"}, tongued=(2, 4)).gate
    assert gate[2] == 0.55
    assert (1 - gate[4]) * 0.25 == pytest.approx(0.016)


@pytest.mark.parametrize("mark,least", [("staccato", 0.060), ("clipped", 0.070)])
def test_short_marks_are_never_shorter_than_a_player_plays_them(mark, least):
    assert shaped(RUN, {2: mark}, seconds=0.072).gate[2] * 0.072 >= least


def test_no_note_sounds_for_less_than_50_ms_but_where_it_is_written_shorter():
    assert shaped(RUN, seconds=0.052, tongued=range(7)).gate[0] * 0.052 == pytest.approx(0.050)
    assert shaped(RUN, seconds=0.040, tongued=range(7)).gate[0] == 1.0


def test_a_dotted_quarter_on_the_beat_and_a_note_with_nothing_behind_it_are_sustained():
    assert shaped("C5:3 D5:1 E5:2 F5:2").gate.tolist() == [0.98, 0.90, 0.90, 0.98]


def test_three_repetitions_grow_around_their_level_and_many_by_two_db_in_all():
    level = shaped(RUN, {1: "marcato", 2: "marcato", 3: "marcato"}, growing=((1, 3),)).level
    assert level[1:4].tolist() == pytest.approx([3.8, 4.5, 5.2])
    assert np.ptp(shaped(RUN, growing=((0, 7),)).level) == pytest.approx(2.0)


def test_velocities_follow_the_general_midi_law():
    velocity = dynamics.velocities([0.0, 5.0, -9.0], Feel())
    assert velocity.tolist() == [80, 107, 48]


def test_a_loud_feel_never_saturates_and_keeps_the_order_of_loudness():
    loud = Feel(
        plain_velocity=120,
        sounds={**SOUNDS, "accent": MarkSound(9.0, 0.98), "stress": MarkSound(6.0, 0.95)},
    )
    level = shaped(RUN, {0: "accent", 1: "stress", 2: "tenuto"}, loud).level
    velocity = dynamics.velocities(level, loud)
    assert velocity[:4].tolist() == sorted(set(velocity[:4].tolist()), reverse=True)
    assert velocity.max() <= 127
    assert level[0] == pytest.approx(40 * np.log10(127 / 120))


def test_a_note_slurred_into_a_ghost_does_not_ring_on_into_it():
    gate = shaped(RUN, {3: "ghost"}, joined=(2, 4)).gate
    assert 1.0 < gate[2] < 1.03 < gate[4]


def test_the_off_beats_of_a_fall_keep_half_their_weight_and_it_still_falls():
    level = shaped(FALL, swells=((0, 7),), flow=(1, 3, 5, 7)).level
    assert level.tolist() == pytest.approx([0, -0.4, -2, -2.4, -4, -4.4, -6, -7])


def test_a_tenuto_inside_a_fall_is_darkened_by_it_as_it_is_softened():
    fall = shaped(FALL, swells=((0, 7),)).brightness
    ridden = shaped(FALL, {5: "tenuto"}, swells=((0, 7),)).brightness
    assert fall[5] < 0
    assert ridden[5] == pytest.approx(SOUNDS["tenuto"].brightness + fall[5])
    assert ridden[5] < SOUNDS["tenuto"].brightness
