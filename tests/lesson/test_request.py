"""What may be asked of the sound, and what it is when nothing is."""

import pytest

from phrasing.errors import PhrasingError
from phrasing.lesson.request import SoundForm, checked_form


def test_sound_has_the_rates_that_players_know():
    """44,100 samples a second is the compact disc's (IEC 60908), 48,000 that of video and of
    Opus, which has no other (RFC 6716, section 2); both from memory."""
    assert checked_form(SoundForm()).samples_a_second == 44_100
    assert checked_form(SoundForm(format="opus")).samples_a_second == 48_000
    assert checked_form(SoundForm(rate=48_000)).samples_a_second == 48_000


@pytest.mark.parametrize("form", ["wav", "flac", "mp3", "opus"])
@pytest.mark.parametrize("bits", [16, 24])
def test_every_format_can_be_asked_for(form, bits):
    assert checked_form(SoundForm(format=form, bits=bits)).kind == form


@pytest.mark.parametrize(
    "wrong",
    [
        {"format": "ogg"}, {"rate": 22_050}, {"rate": 44_099}, {"bits": 8}, {"bits": 17},
        {"format": "opus", "rate": 44_100}, {"loudness": -40.1}, {"loudness": -8.9},
        {"loudness": float("nan")},
    ],
)  # fmt: skip
def test_what_cannot_be_written_is_refused_with_a_choice(wrong):
    with pytest.raises(
        PhrasingError, match=r"--(format|rate|bits|loudness).*(choose|leave out)"
    ):
        checked_form(SoundForm(**wrong))


@pytest.mark.parametrize("loudness", [-40.0, -9.0])
def test_the_ends_of_what_can_be_loud_are_inside(loudness):
    assert checked_form(SoundForm(loudness=loudness)).loudness == loudness
