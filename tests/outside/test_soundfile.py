"""Our sound files as others read them.

Sources: RIFF/WAVE PCM (chunk layout as the standard library's wave module reads it); FLAC is
lossless, so that FLAC and WAV of one performance hold the same numbers; EBU R 128 for the
true peak.
"""

import wave

import numpy as np
import pytest
import soundfile

from phrasing.sound.soundfiles import write_sound
from phrasing.sound.soundfonts import embedded_soundfont
from tests.sound.playing import part, performance

pytestmark = pytest.mark.outside
PLAYED = {
    "line": performance(part(*[(i / 2, i / 2 + 0.4, 60 + i % 7, i % 5) for i in range(16)]))
}


def written(folder, **options):
    recording = write_sound(PLAYED, folder, soundfont=embedded_soundfont(), **options)
    return recording.files["line"].path


@pytest.mark.parametrize("rate", [44100, 48000])
def test_the_standard_library_reads_the_wave_file(tmp_path, rate):
    path = written(tmp_path, rate=rate)
    with wave.open(str(path)) as file:
        assert file.getparams()[:3] == (2, 2, rate)
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2)
    assert np.array_equal(samples, soundfile.read(path, dtype="int16")[0])


@pytest.mark.parametrize("bits, kind", [(16, "int16"), (24, "int32")])
def test_flac_and_wave_hold_the_same_numbers(tmp_path, bits, kind):
    files = [written(tmp_path, kind=form, bits=bits) for form in ("wav", "flac")]
    one, two = (soundfile.read(path, dtype=kind)[0] for path in files)
    assert np.array_equal(one, two)
    assert np.abs(one).max() > 0


def test_twentyfour_bits_hold_more_than_sixteen(tmp_path):
    fine = soundfile.read(written(tmp_path, bits=24), dtype="float64")[0]
    coarse = soundfile.read(written(tmp_path, bits=16), dtype="float64")[0]
    assert np.abs(fine - coarse).max() < 2.5 / 32768
    assert len(np.unique(fine)) > 3 * len(np.unique(coarse))


@pytest.mark.parametrize("kind, rate", [("mp3", 44100), ("opus", 48000)])
def test_coded_files_keep_level_and_time(tmp_path, kind, rate):
    plain = soundfile.read(written(tmp_path, rate=rate))[0]
    coded = soundfile.read(written(tmp_path, rate=rate, kind=kind))[0]
    length = min(len(plain), len(coded))
    assert abs(len(plain) - len(coded)) < 0.1 * rate
    lag = np.fft.irfft(np.fft.rfft(plain[:length, 0]) * np.conj(np.fft.rfft(coded[:length, 0])))
    shift = int(np.argmax(lag))
    assert min(shift, length - shift) < 0.003 * rate
    powers = [np.mean(sound[:length] ** 2) for sound in (plain, coded)]
    assert 10 * np.log10(powers[0] / powers[1]) == pytest.approx(0, abs=0.3)
