"""Channels, ends and curves on the synthesizer's clock."""

from itertools import pairwise

import numpy as np
import pytest

from phrasing.score.meters import TempoMap
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
    in_steps,
    note_cues,
    note_ends,
)
from phrasing.sound.synthesizer import ATTENUATION, COARSE_TUNE, CUTOFF, HIGH_PASS, RELEASE
from tests.sound.playing import curve, part

CLOCK = SampleClock(TempoMap((0,), (60.0,)), rate=960, step=64, lead_in=0.0)
"""A clock on which a tick is a sample, on steps of 64."""


def touch_of(notes, generators=None, bent=(), edged=(), edge=None) -> Touch:
    """Everything played as it stands; ``bent`` and ``edged`` are numbers of notes."""
    columns = [np.isin(np.arange(len(notes.onset)), list(which)) for which in (bent, edged)]
    start, stop = (CLOCK.tempos.seconds(at) for at in (notes.onset, note_ends(notes)))
    every = {COARSE_TUNE: 0.0, ATTENUATION: 0.0, CUTOFF: 0.0, RELEASE: 0.0}
    full = {number: np.full(len(notes.onset), value) for number, value in every.items()}
    full |= generators or {}
    return Touch(
        notes.velocity,
        notes.pitch,
        start,
        stop,
        full,
        *columns,
        edge=edge or {},
        bending={number: in_steps(column) for number, column in full.items()},
        edge_bending={number: in_steps(column) for number, column in (edge or {}).items()},
    )


def cues_of(notes, *args, **options):
    touch = touch_of(notes, *args, **options)
    channels = assign_channels(notes.onset, note_ends(notes))
    found = note_cues(notes, touch, channels, channels + 16, CLOCK)
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


def test_a_bent_note_is_moved_in_steps_around_its_onset():
    notes = part((0, 1.1, 60), (1, 2, 62))
    touch = touch_of(notes, {COARSE_TUNE: np.array([0.0, 2.0])}, bent=[1])
    cues = list(note_cues(notes, touch, np.array([3, 3]), np.array([4, 4]), CLOCK))
    bends = [(cue.at, cue.arguments[2]) for cue in cues if cue.call == "generator"]
    assert [value for _, value in bends] == [0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0]
    assert np.mean([at for at, _ in bends]) == pytest.approx(960, abs=64)
    keys = [(cue.call, cue.arguments[:2]) for cue in cues if cue.call.startswith("note")]
    assert keys == [("note_on", (3, 60)), ("note_off", (3, 62))]


def test_an_edge_sounds_with_its_note_on_a_channel_of_its_own():
    notes = part((0, 1, 60), (1, 2, 62))
    cues = cues_of(notes, edged=[1], edge={HIGH_PASS: np.array([9000.0, 9000.0])})
    struck = [cue for cue in cues if cue.call == "note_on" and cue.at == 960]
    assert [cue.arguments[0] for cue in struck] == [1, 17]
    settings = [cue for cue in cues if cue.call == "generator"]
    assert [cue.arguments for cue in settings] == [(17, HIGH_PASS, 9000.0)]


def test_each_drum_has_its_channel_and_the_hi_hats_share_one():
    channels = drum_channels(np.array([51, 42, 36, 46, 51, 44])).tolist()
    assert channels[1] == channels[3] == channels[5]
    assert channels[0] == channels[4]
    assert len(set(channels)) == 3
