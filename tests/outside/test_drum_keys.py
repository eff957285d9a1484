"""The drum keys are those of General MIDI, by the table of another library.

pretty_midi names the keys as General MIDI 1 does (percussion key map, keys 35 to 81); the brush
set is General MIDI 2's, whose slap, swirl and tap are given from memory of its table.
"""

from __future__ import annotations

import numpy as np
import pretty_midi
import pytest

from phrasing.band import drums
from phrasing.band.band import accompany
from phrasing.feel import Feel
from tests.band.charts import chart

pytestmark = pytest.mark.outside

NAMES = {
    "KICK": "Bass Drum 1",
    "SIDE_STICK": "Side Stick",
    "SNARE": "Acoustic Snare",
    "CLOSED": "Closed Hi Hat",
    "PEDAL": "Pedal Hi Hat",
    "OPEN": "Open Hi Hat",
    "LOW_TOM": "Low Tom",
    "HIGH_TOM": "High Tom",
    "CRASH": "Crash Cymbal 1",
    "RIDE": "Ride Cymbal 1",
}


@pytest.mark.parametrize("name", NAMES)
def test_a_key_is_the_drum_it_is_called(name):
    """The ride was once played on the bell, and the count-in on the wrong drum."""
    key = getattr(drums, name)
    assert pretty_midi.note_number_to_drum_name(key) == NAMES[name]


def struck(part, first, last):
    """The names of the drums struck from one quarter to another."""
    heard = (part.onset >= first * 960 - 100) & (part.onset < last * 960 - 100)
    return {pretty_midi.note_number_to_drum_name(key) for key in part.pitch[heard].tolist()}


def test_what_is_counted_in_is_clicked_on_the_rim_and_what_is_played_is_ridden():
    band = accompany(chart("tempo: 160\n" + "| C7 | F7 " * 4 + "|"), Feel(), count_in=1)
    parts = [part for part in band.parts if part.is_drums]
    onsets = np.concatenate([part.onset for part in parts])
    assert len(onsets)
    counted = set().union(*(struck(part, 0, 4) for part in parts))
    assert counted - {"Ride Cymbal 1"} == {"Side Stick"}
    played = set().union(*(struck(part, 4, 32) for part in parts))
    assert {"Ride Cymbal 1", "Pedal Hi Hat", "Bass Drum 1"} <= played
