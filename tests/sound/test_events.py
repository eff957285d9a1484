"""Channels, ends and curves on the synthesizer's clock."""

from itertools import pairwise

import numpy as np

from phrasing.score.melody import TempoMap
from phrasing.sound.events import (
    CONTROL,
    OFF,
    ON,
    SampleClock,
    Touch,
    assign_channels,
    bend_value,
    drum_channels,
    expression_value,
    note_cues,
    note_ends,
)
from tests.sound.playing import curve, part

CLOCK = SampleClock(TempoMap((0,), (60.0,)), rate=960, step=64, lead_in=0.0)
"""A clock on which a tick is a sample, on steps of 64."""


def cues_of(notes, generators=None, overlap=np.inf):
    touch = Touch(
        notes.velocity, generators or {}, np.full(len(notes.onset), overlap), notes.pitch
    )
    channels = assign_channels(notes.onset, note_ends(notes))
    found = note_cues(notes, touch, channels, CLOCK)
    return sorted(found, key=lambda cue: cue[:2])


def test_every_note_lasts_a_tick_at_least():
    assert note_ends(part((1, 1, 60))).tolist() == [961]


def test_only_the_same_pitch_ends_a_note():
    assert note_ends(part((0, 2, 60), (1, 3, 62), (1.5, 3, 60))).tolist() == [1440, 2880, 2880]


def test_notes_in_a_row_never_share_a_channel_with_their_neighbours():
    notes = part(*[(i / 2, i / 2 + 0.5, 60 + i) for i in range(12)])
    channels = assign_channels(notes.onset, note_ends(notes))
    assert all(a != b for a, b in pairwise(channels.tolist()))
    assert channels.max() == 3


def test_a_held_note_keeps_its_channel_while_others_come_and_go():
    notes = part((0, 8, 40), *[(i / 2, i / 2 + 0.4, 60) for i in range(16)])
    channels = assign_channels(notes.onset, note_ends(notes))
    assert channels[0] not in channels[1:]


def test_the_notes_of_a_chord_have_a_channel_each():
    notes = part((0, 1, 60), (0, 1, 64), (0, 1, 67), (1, 2, 60))
    channels = assign_channels(notes.onset, note_ends(notes))
    assert len(set(channels[:3].tolist())) == 3


def test_a_setting_is_sent_before_its_note_and_only_where_it_changes():
    notes = part(*[(i, i + 0.5, 60) for i in range(9)])
    cues = cues_of(notes, {8: np.array([0.0] * 4 + [-900.0] * 5)})
    sent = [(cue.at, cue.arguments[0]) for cue in cues if cue.call == "generator"]
    assert sent == [(960 * i, i % 4) for i in range(4, 8)]
    assert all(cue.order == CONTROL for cue in cues if cue.call == "generator")


def test_what_ends_at_an_instant_ends_before_what_starts_there():
    cues = cues_of(part((0, 1, 60), (1, 2, 62)))
    assert [cue.order for cue in cues if cue.at == 960] == [OFF, ON]


def test_a_curve_reaches_the_notes_that_sound_and_no_others():
    dip = curve("expression", (0, 0), (1.25, -6), (1.5, 0), (5, -3))
    cues = cues_of(part((0, 1, 60), (1, 2, 62), (2, 3, 64), curves=(dip,)))
    sent = [(cue.at, cue.arguments) for cue in cues if cue.call == "expression"]
    assert sent == [(1216, (1, int(expression_value(np.array([-6.0]))[0]))), (1408, (1, 127))]


def test_a_note_starts_with_the_value_that_its_curve_has_then():
    fall = curve("bend", (0, 0), (0.75, -0.5), (1.5, 0))
    cues = cues_of(part((1, 2, 60), curves=(fall,)))
    assert [(cue.at, cue.arguments) for cue in cues if cue.call == "bend"] == [
        (960, (0, -2048)),
        (1408, (0, 0)),
    ]
    assert cues[1].call == "note_on"


def test_a_note_shorter_than_a_step_still_sounds():
    cues = cues_of(part((0, 0.01, 60)))
    assert [(cue.call, cue.at) for cue in cues] == [("note_on", 0), ("note_off", 64)]


def test_bends_and_expression_stay_in_their_range():
    assert bend_value(np.array([-5.0, -2, 0, 1, 5])).tolist() == [-8192, -8192, 0, 4096, 8191]
    assert expression_value(np.array([-200.0, -11.9, 0, 3])).tolist() == [1, 64, 127, 127]


def test_a_note_runs_into_the_next_no_further_than_it_may():
    notes = part((0, 1.4, 60), (1, 2, 62), (3, 4, 64))
    touch = Touch(notes.velocity, {}, np.array([0.2, np.inf, np.inf]), notes.pitch)
    cues = note_cues(notes, touch, np.array([0, 1, 2]), CLOCK)
    assert [cue.at for cue in cues if cue.call == "note_off"] == [1152, 1920, 3840]


def test_each_drum_has_its_channel_and_the_hi_hats_share_one():
    channels = drum_channels(np.array([51, 42, 36, 46, 51, 44])).tolist()
    assert channels[1] == channels[3] == channels[5]
    assert channels[0] == channels[4]
    assert len(set(channels)) == 3
