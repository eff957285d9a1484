"""What a soundfont is found to do for an instrument."""

from dataclasses import replace

import pytest

from phrasing.score.instruments import BY_KEY
from phrasing.sound.checking import checked
from phrasing.sound.soundfonts import embedded_soundfont


def found(key: str, **changes):
    return next(checked(embedded_soundfont(), [replace(BY_KEY[key], **changes)]))


@pytest.mark.parametrize("key", ["trumpet", "tenor-sax", "flute"])
def test_a_wind_of_the_small_soundfont_is_there_and_can_be_shaped(key):
    one = found(key)
    assert one.there
    assert 0.001 < one.late[0] <= one.late[1] < 0.1
    assert one.darker > 6
    assert one.brighter > 1


def test_a_key_the_soundfont_leaves_out_is_named():
    """The small soundfont's alto saxophone has no E4."""
    assert found("alto-sax", low=61, high=67).silent == (64,)
    assert found("trumpet").silent == ()


def test_an_instrument_the_soundfont_lacks_is_said_to_be_missing(tmp_path):
    assert not found("trumpet", program=129).there
