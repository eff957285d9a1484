"""The velocity law measured in rendered sound.

Source: General MIDI 2 and DLS Level 1: velocity, volume (controller 7) and expression
(controller 11) change the level by 40·log10(value/127) dB: 127 against 111 makes 2.34 dB, and
96, 64, 32 of a controller lie 4.86, 11.90 and 23.95 dB below 127. TimGM6mb keeps the law
exactly, so that its sound shows what a file asks for; the file is played by FluidSynth's own
player of MIDI files.
"""

import numpy as np
import pytest

from phrasing.sound.midi import write_midi
from phrasing.sound.soundfonts import embedded_soundfont
from phrasing.sound.synthesizer import library_version
from tests.outside.hearing import decibels, recorded
from tests.sound.playing import curve, part, performance

pytestmark = pytest.mark.outside
LEVELS = (0.0, 4.5, 5.0, 2.5, -9.0, -4.0, 1.2, 8.0)


def notes(levels=LEVELS, **options):
    """A note of a quarter on every half, at these levels, all with plain brightness."""
    return part(*[(2 * i, 2 * i + 1, 62, level) for i, level in enumerate(levels)], **options)


def played_as_a_file(played, folder) -> np.ndarray:
    """The written MIDI file as FluidSynth itself plays it, dry and in mono."""
    write_midi(played, folder / "law.mid")
    library_version()
    import fluidsynth

    synth = fluidsynth.Synth(gain=1.0)
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    synth.sfload(str(embedded_soundfont().path))
    synth.play_midi_file(str(folder / "law.mid"))
    seconds = float(played.tempos.seconds(played.end))
    wave = synth.get_samples(round(seconds * 44100)).reshape(-1, 2).mean(axis=1)
    synth.delete()
    return wave / 32768


def steady(wave: np.ndarray, quarter: float) -> float:
    """The level in the middle of a note that starts at this quarter (120 a minute)."""
    return decibels(
        wave[round((quarter / 2 + 0.15) * 44100) : round((quarter / 2 + 0.45) * 44100)]
    )


def test_the_law_itself():
    assert 40 * np.log10(111 / 127) == pytest.approx(-2.34, abs=0.005)
    for value, level in ((96, -4.86), (64, -11.90), (32, -23.95)):
        assert 40 * np.log10(value / 127) == pytest.approx(level, abs=0.005)


def test_velocities_in_our_midi_file_follow_the_law(tmp_path):
    played = performance(notes())
    wave = played_as_a_file(played, tmp_path)
    velocities = played.parts[0].velocity
    heard = [steady(wave, 2 * i) - steady(wave, 0) for i in range(len(LEVELS))]
    assert heard == pytest.approx(40 * np.log10(velocities / velocities[0]), abs=0.1)
    assert heard == pytest.approx(LEVELS, abs=0.3)


def test_the_rendered_sound_follows_the_law(tmp_path):
    played = performance(notes())
    take = recorded({"law": played}, tmp_path)["law"]
    heard = [take.level(take.at(1920 * i), take.at(1920 * i) + 0.4) for i in range(len(LEVELS))]
    velocities = played.parts[0].velocity
    asked = 40 * np.log10(velocities / velocities[0])
    assert np.array(heard) - heard[0] == pytest.approx(asked, abs=0.3)


@pytest.mark.parametrize("level", [-4.86, -11.90, -23.95])
def test_expression_follows_the_law_in_file_and_sound(tmp_path, level):
    soft = curve("expression", (0, 0), (1.5, level))
    played = performance(part((0, 1, 62), (2, 3, 62), curves=(soft,)))
    wave = played_as_a_file(played, tmp_path)
    assert steady(wave, 2) - steady(wave, 0) == pytest.approx(level, abs=0.1)
    take = recorded({"law": played}, tmp_path)["law"]
    one, two = (take.level(take.at(tick), take.at(tick) + 0.4) for tick in (0, 1920))
    assert two - one == pytest.approx(level, abs=0.2)
