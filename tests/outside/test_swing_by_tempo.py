"""Swing ratios and lay-back against what was measured on recordings.

Friberg & Sundstrom 2002, Music Perception 19(3):333-349: ride cymbal up to 3.5 : 1 at slow
tempos, falling gradually to 1 : 1; the short note about 100 ms at medium to fast tempos;
about 2 : 1 near 200 quarters a minute; soloists between 1 and 2, below the drummer's ratio.
Dittmar, Pfleiderer & Mueller, ISMIR 2015: the ride about 1.15 : 1 at 280.
Honing & de Haas 2008, Music Perception 25(5):471-476: a plateau near 2.2 : 1 when slow.
Corcoran & Frieler 2021, Music Perception 38(4):372-385: soloists about 1.3 : 1 over all
tempos, 2 : 1 and above only now and then, mostly slow or moderate.
Nelias et al. 2022, Communications Physics 5:237: soloists' downbeats about 30 ms late; 85 of
960 ticks, about 9 % of a quarter, at 150.
"""

import numpy as np
import pytest

from phrasing.feel import Feel, Swing
from phrasing.performing.performance import timing
from phrasing.performing.swing import melody_ratio, off_beat_position, ride_ratio
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, TempoMap, bars_of_meters

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(
    "ratio,position", [(1.3, 0.565), (1.6, 0.615), (2, 0.667), (3, 0.750), (3.5, 0.778)]
)
def test_the_off_beat_falls_where_the_arithmetic_says(ratio, position):
    assert off_beat_position(ratio) == pytest.approx(position, abs=0.0005)


def test_the_ride_is_two_to_one_near_200_and_even_at_300():
    assert ride_ratio(200, Swing()) == pytest.approx(2.0, abs=0.1)
    assert ride_ratio(300, Swing()) == pytest.approx(1.0, abs=0.05)
    assert ride_ratio(280, Swing()) == pytest.approx(1.15, abs=0.1)


def test_the_rides_short_note_lasts_100_ms_from_medium_to_fast():
    tempos = np.arange(180, 300, 5.0)
    short = 60.0 / tempos / (1.0 + ride_ratio(tempos, Swing()))
    assert short == pytest.approx(0.100, abs=0.005)


def test_the_slow_ride_lies_between_the_plateau_and_the_largest_measured():
    slow = ride_ratio(np.arange(40, 151, 5.0), Swing())
    assert (slow >= 2.2).all()
    assert (slow <= 3.5).all()


def test_a_soloist_stays_between_one_and_two_and_below_the_drummer():
    tempos = np.arange(60, 300, 5.0)
    solo = melody_ratio(tempos, Swing())
    assert (solo >= 1.0).all()
    assert (solo <= 2.0).all()
    assert (solo < ride_ratio(tempos, Swing())).all()


def late(tempo):
    """Seconds by which each eighth of a laid-back bar comes after the ride's."""
    onsets = np.arange(8) * TICKS // 2
    bars = bars_of_meters({}, 4 * TICKS)
    tempos = TempoMap((0,), (tempo,))
    melody = Melody(onsets, np.full(8, TICKS // 2), np.arange(60, 68), bars, tempos)
    ratio = float(ride_ratio(tempo, Swing()))
    ride = onsets + np.where(onsets % TICKS, (ratio / (1 + ratio) - 0.5) * TICKS, 0)
    laid = timing(melody, Feel(), lay_back=True)
    return (laid.onset - ride) / TICKS * 60 / tempo


COUNTED_LATE = [(100, 0.029), (140, 0.0245), (180, 0.021), (220, 0.0125), (270, 0.005)]
"""Seconds by which on-beats are late, at the middle of each band of tempos: Weimar Jazz
Database (Pfleiderer, Frieler et al. 2017; ODbL), 327 wind solos, counted by us."""


@pytest.mark.parametrize("tempo,counted", COUNTED_LATE)
def test_the_soloist_is_as_late_on_the_beat_as_counted_and_with_the_ride_off_it(tempo, counted):
    delay = late(float(tempo))
    assert delay[::2] == pytest.approx(counted, abs=0.002)
    assert delay[1::2] == pytest.approx(0.0, abs=0.001)


def test_at_150_the_delay_is_near_the_30_ms_that_were_measured():
    """Nelias et al. 2022, Communications Physics 5:237: about 30 ms."""
    assert 0.020 < late(150.0)[0] < 0.040


def test_the_delay_shrinks_as_the_tempo_rises_and_is_gone_by_300():
    delays = [float(late(tempo)[0]) for tempo in (120.0, 140.0, 160.0, 200.0, 250.0, 300.0)]
    assert delays == sorted(delays, reverse=True)
    assert delays[-1] == pytest.approx(0.0, abs=1e-6)


def test_laying_back_on_a_two_to_one_ride_gives_the_soloist_the_ratio_that_was_counted():
    """Counted at 180 to 220 in the same solos: 1.63 : 1 from beat to off-beat."""
    first = 2 / 3 - late(200.0)[0] * 200 / 60
    assert first / (1 - first) == pytest.approx(1.63, abs=0.1)
