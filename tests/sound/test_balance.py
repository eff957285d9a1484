"""Every part of a band is heard at its place; a melody over it is as loud in every version."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.sound.balance import balanced
from phrasing.sound.soundfiles import write_sound
from phrasing.sound.soundfonts import available, embedded_soundfont
from tests.sound.playing import part, performance

FONTS = {font.name: font for font in [*available(), embedded_soundfont()]}
SCALE = (60, 62, 64, 65, 67, 69, 71, 72)


def melody(level: float):
    rows = [(i, i + 0.9, pitch, level * (i % 2)) for i, pitch in enumerate(SCALE)]
    return replace(part(*rows, program=57), place=0.0)


BASS = replace(
    part(*((i, i + 1, p - 24) for i, p in enumerate(SCALE)), name="Bass", program=33),
    place=-3.0,
)
DRUMS = replace(part(*((i / 2, i / 2 + 0.1, 51) for i in range(16)), program=0), place=-6.0)


def loudness(versions, font, folder):
    """LUFS of each version, all with the gain of the first."""
    recording = write_sound(versions, folder, soundfont=font, lead=next(iter(versions)))
    return {name: file.loudness for name, file in recording.files.items()}


@pytest.mark.parametrize("font", sorted(FONTS))
def test_each_part_is_heard_at_its_place(font, tmp_path):
    band = performance(melody(0.0), BASS, DRUMS)
    alone = {p.name + str(p.program): replace(band, parts=(p,)) for p in band.parts}
    heard = loudness({"band": band} | alone, FONTS[font], tmp_path)
    assert heard["Bass33"] - heard["Melody57"] == pytest.approx(-3.0, abs=0.3)
    assert heard["Melody0"] - heard["Melody57"] == pytest.approx(-6.0, abs=0.3)


@pytest.mark.parametrize("font", sorted(FONTS))
def test_the_band_was_softer_under_a_stronger_melody(font):
    versions = {
        name: performance(melody(level), BASS)
        for name, level in {"plain": 0, "shaped": 5}.items()
    }
    plain, shaped = balanced(versions, FONTS[font], 44100).values()
    assert plain.parts[1].gain == shaped.parts[1].gain
    assert plain.parts[0].gain > shaped.parts[0].gain + 1.0


def test_both_versions_take_the_same_gain(tmp_path):
    versions = {
        name: performance(melody(level), BASS)
        for name, level in {"plain": 0, "shaped": 5}.items()
    }
    files = write_sound(versions, tmp_path, soundfont=embedded_soundfont()).files
    assert files["plain"].gain == files["shaped"].gain
    assert files["plain"].loudness == pytest.approx(-18.0, abs=0.05)


def test_without_places_nothing_changes():
    alone = performance(part((0, 1, 60), gain=-2.0))
    assert balanced({"a": alone}, embedded_soundfont(), 44100)["a"].parts[0].gain == -2.0


def test_a_part_with_nothing_to_play_keeps_its_gain():
    nobody = replace(part(), place=-3.0, gain=-1.0)
    both = performance(melody(0.0), nobody)
    assert balanced({"a": both}, embedded_soundfont(), 44100)["a"].parts[1].gain == -1.0


def test_the_bass_was_in_the_middle_wherever_it_sat(tmp_path):
    import soundfile

    left = replace(BASS, pan=-0.8)
    write_sound({"a": performance(left)}, tmp_path, soundfont=embedded_soundfont(), room=False)
    wave, _ = soundfile.read(tmp_path / "a.wav")
    power = np.square(wave).sum(axis=0)
    assert power[0] > 3 * power[1]
