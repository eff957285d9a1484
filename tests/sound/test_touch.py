"""How notes are touched, so that they are heard as asked."""

import numpy as np
import pytest

from phrasing.score.meters import TempoMap
from phrasing.sound.sound import render, starts_at
from phrasing.sound.soundfonts import embedded_soundfont
from phrasing.sound.synthesizer import ATTENUATION, COARSE_TUNE, CUTOFF, START
from phrasing.sound.touch import touch_of
from tests.outside.hearing import decibels, k_weighted
from tests.sound.playing import part, performance

TEMPO = TempoMap((0,), (120.0,))


def touched(*rows, **options):
    return touch_of(part(*rows, **options), TEMPO, embedded_soundfont())


def heard(notes, quarters) -> list[float]:
    """K-weighted level of the first 200 ms of the notes at these quarters (120 a minute)."""
    blocks = render(performance(notes), embedded_soundfont(), room=False)
    wave = k_weighted(np.concatenate(list(blocks), axis=1).T.astype(float), 44100)
    at = [round((starts_at(44100) + quarter / 2) * 44100) for quarter in quarters]
    return [decibels(wave[start : start + 8820]) for start in at]


def test_a_key_the_soundfont_leaves_out_is_played_by_its_neighbour():
    """The small soundfont's alto saxophone has no E4: the note had been silence."""
    touch = touched((0, 1, 62), (1, 2, 64), program=66)
    assert touch.key.tolist() == [62, 63]
    assert touch.generators[COARSE_TUNE].tolist() == [0, 1]
    levels = heard(part((0, 1, 62), (1, 2, 64), (2, 3, 65), program=66), (0, 1, 2))
    assert np.ptp(levels) < 1


def test_the_neighbour_sounds_at_the_note_s_own_pitch():
    def pitch(key: int) -> float:
        notes = performance(part((0, 2, key), program=66))
        wave = np.concatenate(list(render(notes, embedded_soundfont(), room=False)), axis=1)[0]
        spectrum = np.abs(np.fft.rfft(wave[9000:40000] * np.hanning(31000), 1 << 19))
        low, high = (round(f * (1 << 19) / 44100) for f in (280, 400))
        return (low + int(np.argmax(spectrum[low:high]))) * 44100 / (1 << 19)

    assert 12 * np.log2(pitch(64) / pitch(63)) == pytest.approx(1, abs=0.06)
    assert 12 * np.log2(pitch(65) / pitch(64)) == pytest.approx(1, abs=0.06)


@pytest.mark.parametrize("program", [1, 57, 65, 66, 67, 72])
def test_plain_notes_are_equally_loud_whatever_their_pitch(program):
    """Neighbouring keys had differed by up to 5 dB, more than a mark."""
    notes = part(*[(i, i + 0.8, 56 + i) for i in range(22)], program=program)
    assert np.ptp(heard(notes, range(22))) < 2


def test_only_a_ghost_is_darker_and_only_a_marcato_brighter():
    touch = touched((0, 1, 62, -9, -1), (1, 2, 62), (2, 3, 62, 4.5, 0.5))
    cutoff = touch.generators[CUTOFF]
    assert cutoff[0] < cutoff[1] - 500
    assert cutoff[1] == 0
    assert touch.edged.tolist() == [False, False, True]


def test_what_the_filter_takes_away_is_given_back():
    touch = touched((0, 1, 82, 0, -1), (1, 2, 82, 0, 0), (2, 3, 82, 0, 1))
    quieter = touch.generators[ATTENUATION]
    assert quieter[0] < quieter[1] - 20
    assert (quieter >= 0).all()


def test_a_key_is_pressed_so_early_that_the_note_is_there_in_time():
    touch = touched((1, 2, 60), (2, 3, 72), program=74)
    early = np.array([0.5, 1.0]) - touch.start
    assert (early > 0.003).all()
    assert (early < 0.040).all()


def test_notes_in_a_chord_are_not_cut_as_if_they_were_slurred():
    chord = touched((0, 2, 60), (0, 2, 64), (1, 3, 67))
    assert chord.stop[0] == 1.0
    held = touched((0, 4, 48), (1, 2, 60), (2, 3, 62))
    assert held.stop[0] == 2.0


def test_a_step_is_slurred_by_bending_and_a_leap_by_passing_on():
    touch = touched((0, 1.05, 60), (1, 2.05, 62), (2, 3, 69))
    assert touch.bent.tolist() == [False, True, False]
    assert touch.key.tolist() == [60, 60, 69]
    assert touch.generators[COARSE_TUNE].tolist() == [0, 2, 0]
    assert touch.stop[1] == pytest.approx(1.0, abs=0.005)
    assert touch.generators[START][2] > 0


def test_a_slur_is_bent_no_further_than_from_where_it_began():
    touch = touched(*[(i, i + 1.05, 60 + 2 * i) for i in range(5)])
    assert touch.bent.tolist() == [False, True, True, False, True]


def test_an_accent_that_is_slurred_to_has_an_edge_that_waited_for_it():
    """The filter alone had brightened it, and the edge of the note before had gone on."""
    touch = touched((0, 1.05, 60), (1, 2.05, 62, 5, 0.5), (2, 3, 61))
    assert touch.bent.tolist() == [False, True, True]
    assert touch.edged.all()
    second = touch.edge[ATTENUATION] - touch.generators[ATTENUATION]
    assert second[[0, 2]] == pytest.approx([500, 500])
    assert second[1] < 100
    arrives = touch.edge[ATTENUATION][1] - touch.held[1, 0]
    assert touch.edge_bending[ATTENUATION][1, -1] == pytest.approx(arrives)


def test_a_tone_that_sinks_is_held_up_into_a_slur_and_nowhere_else():
    """The small soundfont's alto saxophone falls by 6 dB within an eighth note."""
    slurred, tongued = (
        touched((0, end, 58), (1, 2, 59), program=66).held for end in (1.05, 0.95)
    )
    assert slurred[0].max() > 20
    assert (slurred[0] >= 0).all()
    assert np.ptp(slurred[1]) > 20  # the same sound, further on its way
    assert not tongued.any()


def test_a_piano_is_never_bent():
    touch = touched((0, 1.05, 60), (1, 2, 62), program=1)
    assert not touch.bent.any()
    assert not touch.generators[START].any()


def test_a_tongued_note_makes_room_for_the_next_and_a_last_one_does_not():
    touch = touched((0, 1, 60), (1, 2, 62))
    assert touch.stop[0] < 0.49
    assert touch.stop[1] == 1.0


def test_a_loud_note_makes_more_room_for_a_ghost():
    loud = touched((0, 1, 60), (1, 2, 62)).stop[0]
    assert touched((0, 1, 60), (1, 2, 62, -9, -1)).stop[0] < loud - 0.003


def test_a_note_falls_as_fast_whatever_the_soundfont_has_of_its_own():
    """A clarinet of a large soundfont had been cut off within 7 ms."""
    fall = [seconds_to_fall(program, 30) for program in (57, 66, 72, 74)]
    assert fall == pytest.approx([0.060] * 4, abs=0.012)


def seconds_to_fall(program: int, decibel: float) -> float:
    blocks = render(
        performance(part((0, 1, 67), program=program), end=2), embedded_soundfont(), room=False
    )
    wave = k_weighted(np.concatenate(list(blocks), axis=1).T.astype(float), 44100)
    let_go = round((starts_at(44100) + 0.5) * 44100)
    steps = [decibels(wave[at : at + 441]) for at in range(let_go - 882, let_go + 8820, 88)]
    fallen = np.flatnonzero(np.array(steps) < steps[0] - decibel)[0]
    return float((fallen * 88 - 882 + 220) / 44100)


def test_a_part_s_gain_is_its_level_whatever_plays_it():
    levels = [heard(part((0, 1, 60), program=p, gain=-6), (0,))[0] for p in (57, 1, 72)]
    plain = heard(part((0, 1, 60), program=57), (0,))[0]
    assert levels == pytest.approx([plain - 6] * 3, abs=0.7)
