"""The play-along on disk: a mix, its stems, and their balance."""

from __future__ import annotations

import mido
import numpy as np
import pytest
import soundfile

from phrasing.bandfolder import write_backing
from phrasing.playalong import band_for, play_along
from phrasing.wishes import BandWishes, SoundForm
from tests.test_playalong import lesson


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    piece = lesson()
    performance = play_along(piece, band_for(piece, BandWishes(count_in=1)))
    folder = tmp_path_factory.mktemp("band") / "out"
    return write_backing(performance, folder, SoundForm(bits=24), stems=True)


def samples(made, name):
    return soundfile.read(made.folder / f"{name}.wav")[0]


def test_the_stems_add_up_to_the_mix(made):
    stems = [f.removesuffix(".wav") for f in made.files if f.startswith("backing-")]
    assert len(stems) == 5
    mix = samples(made, "backing")
    rest = mix - sum(samples(made, name) for name in stems)
    assert np.sqrt(np.mean(rest**2)) < 10 ** (-40 / 20) * np.sqrt(np.mean(mix**2))


def test_every_player_has_a_named_track(made):
    tracks = mido.MidiFile(made.folder / "backing.mid").tracks
    assert {"Melody", "Bass", "Drums", "Piano"} <= {track.name for track in tracks}


def test_no_sample_is_clipped(made):
    for file in made.files:
        if file.endswith(".wav"):
            assert np.abs(samples(made, file.removesuffix(".wav"))).max() < 10 ** (-1 / 20)
