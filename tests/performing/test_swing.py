"""Ratios by tempo, and off-beats moved by them."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.errors import PhrasingError
from phrasing.feel import Swing
from phrasing.feelfile import swing_from_text
from phrasing.performing.swing import (
    SwingRatio,
    melody_ratio,
    off_beat_position,
    ride_ratio,
    swing_map,
    swinging,
)
from phrasing.score.melody import Manner, Melody
from phrasing.score.meters import Meter, TempoMap, bars_of_meters

EIGHTH = 480


def line(onsets, meter=Meter(), tempos=TempoMap(), pickup=0):
    onsets = np.asarray(onsets)
    lengths = np.append(np.diff(onsets), EIGHTH)
    end = int(onsets[-1] + EIGHTH)
    bars = bars_of_meters({0: meter}, end, pickup)
    return Melody(onsets, lengths, np.full(len(onsets), 60), bars, tempos)


def two_to_one(tempo):
    return np.full_like(np.asarray(tempo, dtype=float), 2.0)


def swung(melody, **kwargs):
    moved = swing_map(melody, two_to_one, **kwargs).swung(melody.onset)
    return np.rint(moved).tolist()


def test_off_beats_move_and_beats_stay():
    assert swung(line([0, 480, 960, 1440])) == [0, 640, 960, 1600]


def test_a_beat_of_triplets_stays_even_beside_a_swung_one():
    assert swung(line([0, 320, 640, 960, 1440])) == [0, 320, 640, 960, 1600]


def test_a_beat_with_sixteenths_stays_even_unless_asked():
    sixteenths = line([0, 240, 480, 720, 960, 1440])
    assert swung(sixteenths) == [0, 240, 480, 720, 960, 1600]
    assert swung(sixteenths, sixteenths=True) == [0, 320, 640, 800, 960, 1600]


def test_only_the_beat_with_the_sixteenth_stays_even():
    assert swung(line([0, 480, 720, 960, 1440])) == [0, 480, 720, 960, 1600]


@pytest.mark.parametrize("meter", [Meter(6, 8), Meter(9, 8), Meter(12, 8), Meter(7, 8)])
def test_nothing_is_off_beat_in_an_eighth_note_meter(meter):
    onsets = list(range(0, 12 * EIGHTH, EIGHTH))
    assert swung(line(onsets, meter)) == onsets


@pytest.mark.parametrize("meter", [Meter(3, 4), Meter(5, 4), Meter(6, 4), Meter(2, 2)])
def test_quarters_are_the_beat_in_every_other_meter(meter):
    moved = swung(line(range(0, 10 * EIGHTH, EIGHTH), meter))
    assert moved[1::2] == [640 + 960 * beat for beat in range(5)]


def test_an_eighth_of_pickup_is_off_the_beat_it_leads_from():
    melody = line([0, 480, 960, 1440], pickup=480)
    assert swung(melody) == [160, 480, 1120, 1440]


def test_each_tempo_inside_a_piece_has_its_own_ratio():
    tempos = TempoMap((0, 3840), (100.0, 200.0))
    melody = line(range(0, 7680, EIGHTH), tempos=tempos)
    beats = swing_map(melody, SwingRatio(Swing()))
    assert beats.swung(480) == pytest.approx(640)
    assert beats.swung(3840 + 480) == pytest.approx(3840 + 960 * 0.6)


@pytest.mark.parametrize("text,ratio", [("2", 2), ("straight", 1), ("3:2", 1.5), ("2:1", 2)])
def test_one_ratio_holds_at_every_tempo(text, ratio):
    swing = swing_from_text(text)
    assert melody_ratio([60, 300], swing).tolist() == [ratio, ratio]


def test_a_table_is_joined_by_straight_lines():
    swing = swing_from_text("120:2,200:1.5")
    assert melody_ratio([60, 120, 160, 200, 300], swing).tolist() == [2, 2, 1.75, 1.5, 1.5]


def test_auto_leaves_it_to_the_tempo():
    assert swing_from_text("auto") is None


@pytest.mark.parametrize(
    "text", ["", "lots", "0.5", "9", "120:2,", "120:2,120:1", "10:2,200:1", "nan", "2:x", "-1"]
)
def test_a_swing_that_cannot_be_played_is_refused_in_one_line(text):
    with pytest.raises(PhrasingError, match=r"^Swing “.*”: .*\.$"):
        swing_from_text(text)


def test_a_melody_always_swings_less_than_the_ride():
    tempos = np.arange(40, 300, 1.0)
    assert (melody_ratio(tempos, Swing()) < ride_ratio(tempos, Swing())).all()


def test_the_ratio_never_rises_with_the_tempo():
    tempos = np.arange(20, 401, 1.0)
    for ratios in (melody_ratio(tempos, Swing()), ride_ratio(tempos, Swing())):
        assert (np.diff(ratios) <= 0).all()
        assert ratios.min() == 1.0


def test_the_score_says_how_it_swings_unless_the_teacher_does():
    assert melody_ratio(150, Swing(), author=3.0) == 3.0
    assert melody_ratio(150, swing_from_text("1.2"), author=3.0) == pytest.approx(1.2)


def test_off_beat_position_of_even_eighths_is_the_middle():
    assert off_beat_position(1.0) == 0.5


EIGHTHS = [480 * k for k in range(24)]


def in_sections(*manners, onsets=EIGHTHS, **start):
    return replace(line(onsets), manners=manners, **start)


def off_beats(melody, swing=Swing(), **kwargs):
    """Where in its beat each off-beat falls, one a bar."""
    moved = swing_map(melody, swinging(melody, swing, **kwargs)).swung(melody.onset)
    return [round((moved[8 * bar + 1] - 3840 * bar) / 960, 3) for bar in range(3)]


def test_a_swing_that_changes_on_the_way_is_played():
    asked = in_sections(Manner(3840, swing=1.0), Manner(7680, swing=3.0), swing=2.0)
    assert off_beats(asked) == [0.667, 0.5, 0.75]


def test_words_for_straight_are_even_and_words_for_swing_go_by_the_tempo():
    by_tempo = round(float(off_beat_position(melody_ratio(120, Swing()))), 3)
    words = in_sections(Manner(3840, "Bossa"), Manner(7680, "Swing"))
    assert off_beats(words) == [by_tempo, 0.5, by_tempo]
    begun_even = Swing(by_tempo=((120.0, 1.0),))
    assert off_beats(in_sections(Manner(3840, "Swing")), begun_even)[:2] == [0.5, by_tempo]


def test_the_ride_is_even_where_the_melody_is_and_takes_no_ratio_from_it():
    words = in_sections(Manner(3840, "Samba"), Manner(7680, swing=1.2))
    ride = round(float(off_beat_position(ride_ratio(120, Swing()))), 3)
    assert off_beats(words, ride=True) == [ride, 0.5, ride]


def test_sixteenths_that_swing_move_inside_each_half_of_the_beat():
    sixteenths = [240 * k for k in range(16)]
    tune = in_sections(onsets=sixteenths, swing=2.0, sixteenths=True)
    moved = swing_map(tune, swinging(tune, Swing())).swung(tune.onset)
    assert np.rint(moved[:5]).tolist() == [0, 320, 480, 800, 960]


def test_sixteenths_swing_as_eighths_at_twice_the_tempo_do():
    (way,) = swinging(in_sections(sixteenths=True), Swing())
    assert way.at(90.0) == melody_ratio(180.0, Swing())


def test_eighths_stay_where_the_sixteenths_swing():
    tune = in_sections(sixteenths=True)
    assert swing_map(tune, swinging(tune, Swing())).swung(tune.onset).tolist() == EIGHTHS
