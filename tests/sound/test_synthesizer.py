"""The synthesizer library: found, missing, and played."""

import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from phrasing.errors import NoSoundError, PhrasingError
from phrasing.sound import synthesizer
from phrasing.sound.soundfonts import embedded_soundfont, find_soundfont
from phrasing.sound.synthesizer import ATTENUATION, CUTOFF, Synthesizer, library_version
from tests.sound.test_soundfonts import fake


def note(setup=lambda synth: None, program: int = 57, drums: bool = False) -> np.ndarray:
    """Half a second of one note."""
    samples = np.zeros((2, 22016), np.float32)
    with Synthesizer(embedded_soundfont()) as synth:
        synth.program(0, program, drums=drums)
        setup(synth)
        synth.note_on(0, 62, 90)
        synth.pull(samples, 0, samples.shape[1])
    return samples


def level(samples: np.ndarray) -> float:
    return float(10 * np.log10(np.mean(samples.astype(float) ** 2)))


@pytest.fixture
def no_library(monkeypatch):
    synthesizer._bound.cache_clear()
    yield monkeypatch
    synthesizer._bound.cache_clear()


def test_the_library_is_of_the_second_generation():
    assert library_version().startswith("2.")


def test_a_note_sounds_the_same_every_time():
    assert np.array_equal(note(), note())


def test_synthesizers_are_made_one_after_the_other(monkeypatch):
    """Of two made at the same instant, one now and then played every velocity alike."""
    fluid, path = synthesizer._library()
    being_made, most = [], []

    class Slow:
        def __init__(self, **settings):
            being_made.append(1)
            most.append(len(being_made))
            time.sleep(0.02)
            self.made = fluid.Synth(**settings)
            being_made.pop()

        def __getattr__(self, name):
            return getattr(self.made, name)

    class Library:
        Synth, _fl = Slow, fluid._fl

    monkeypatch.setattr(synthesizer, "_library", lambda: (Library, path))
    with ThreadPoolExecutor(3) as threads:
        notes = list(threads.map(lambda _: note(), range(3)))
    assert most == [1, 1, 1]
    assert all(np.array_equal(notes[0], each) for each in notes)


def test_a_generator_moves_the_level_by_centibels():
    softer = note(lambda synth: synth.generator(0, ATTENUATION, 60.0))
    assert level(note()) - level(softer) == pytest.approx(6.0, abs=0.1)


def test_closing_the_filter_takes_the_highs_away():
    dark = np.abs(np.fft.rfft(note(lambda synth: synth.generator(0, CUTOFF, -5400.0))[0]))
    bright = np.abs(np.fft.rfft(note()[0]))
    assert dark[1000:].sum() < 0.5 * bright[1000:].sum()


def test_a_bend_of_a_full_range_is_two_semitones():
    def pitch(samples: np.ndarray) -> float:
        spectrum = np.abs(np.fft.rfft(samples[0] * np.hanning(samples.shape[1]), 1 << 18))
        near = int(150 * (1 << 18) / 44100)
        return near + int(np.argmax(spectrum[near : 3 * near]))

    bent = note(lambda synth: synth.bend(0, -8192))
    assert pitch(note()) / pitch(bent) == pytest.approx(2 ** (2 / 12), rel=0.003)


def test_a_program_the_soundfont_lacks_is_played_by_the_first(tmp_path):
    kit = note(drums=True, program=1)
    assert np.array_equal(note(drums=True, program=117), kit)


def test_voices_are_counted_until_they_die_away():
    with Synthesizer(embedded_soundfont()) as synth:
        synth.program(0, 57)
        samples = np.zeros((2, 6400), np.float32)
        synth.note_on(0, 62, 90)
        synth.pull(samples, 0, 6400)
        assert synth.voices > 0
        synth.silence(0)
        synth.pull(samples, 0, 64)
        assert synth.voices == 0


def test_a_soundfont_with_nothing_in_it_cannot_be_loaded(tmp_path, capfd):
    path = fake(tmp_path / "empty.sf2")
    with pytest.raises(PhrasingError, match=r"empty\.sf2: the synthesizer cannot load"):
        Synthesizer(find_soundfont(path))
    printed = capfd.readouterr()
    assert printed.out == ""
    assert "fluidsynth:" not in printed.err


@pytest.mark.parametrize(
    "system, remedy",
    [("linux", "pip install pygame-ce"), ("darwin", "brew"), ("win32", "choco")],
)
def test_a_missing_library_says_what_to_install(no_library, system, remedy):
    no_library.setattr(synthesizer, "_candidates", lambda: iter(()))
    no_library.setattr(synthesizer.sys, "platform", system)
    with pytest.raises(NoSoundError, match=remedy) as caught:
        Synthesizer(embedded_soundfont())
    assert "\n" not in str(caught.value)


def test_a_library_that_is_named_and_is_none_leaves_no_sound(no_library, tmp_path):
    (tmp_path / "libfluidsynth.so").write_bytes(b"no library")
    no_library.setenv(synthesizer.SETTING, str(tmp_path / "libfluidsynth.so"))
    with pytest.raises(NoSoundError, match="named by PHRASING_FLUIDSYNTH"):
        library_version()


def test_without_a_library_of_the_system_the_bundled_one_plays(no_library):
    no_library.setattr(synthesizer, "NAMES", ())
    no_library.setattr(synthesizer, "HOMES", ())
    found = list(synthesizer._candidates())
    if not found:
        pytest.skip("pygame-ce brings no library on this system")
    assert "pygame" in found[0]
    assert library_version().startswith("2.")


def test_nothing_is_said_of_where_the_library_was_found(no_library, capsys):
    """Where ``CI`` is set, the binding printed it among what the program says."""
    no_library.setenv("CI", "true")
    assert library_version()
    assert capsys.readouterr().out == ""
