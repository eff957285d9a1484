"""Versions as files: equally loud, equally long, whole or not at all."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from phrasing.errors import NoSoundError, PhrasingError
from phrasing.sound import reels, soundfiles, synthesizer
from phrasing.sound.soundfiles import SERIAL, page_checksum, settle_serial, write_sound
from phrasing.sound.soundfonts import embedded_soundfont
from tests.sound.playing import part, performance


def slow_checksum(page: bytes) -> int:
    """RFC 3533 bit by bit."""
    register = 0
    for byte in page:
        register ^= byte << 24
        for _ in range(8):
            register = (register << 1) ^ (0x04C11DB7 if register & 0x80000000 else 0)
            register &= 0xFFFFFFFF
    return register


def test_the_checksum_is_that_of_the_standard():
    page = bytes(range(256)) * 3 + b"OggS"
    assert page_checksum(page) == slow_checksum(page)


def test_the_sound_is_the_same_and_the_file_too(tmp_path):
    wave = np.sin(np.arange(48000) / 20)[:, None].repeat(2, 1) / 2
    files = [tmp_path / "a.opus", tmp_path / "b.opus"]
    for path in files:
        soundfile.write(path, wave, 48000, "OPUS", format="OGG")
    before, _ = soundfile.read(files[0])
    for path in files:
        settle_serial(path)
    assert files[0].read_bytes() == files[1].read_bytes()
    assert files[0].read_bytes()[14:18] == SERIAL
    assert np.array_equal(before, soundfile.read(files[0])[0])


PLAIN = performance(part(*[(i, i + 0.9, 60 + i) for i in range(6)]))
SHAPED = performance(part(*[(i, i + 0.4, 60 + i, 5 - 3 * (i % 4), 0.5) for i in range(6)]))
PAIR = {"plain": PLAIN, "shaped": SHAPED}


def write(folder, versions=PAIR, **options):
    return write_sound(versions, folder, soundfont=embedded_soundfont(), **options)


def test_both_are_equally_loud_and_equally_long(tmp_path):
    recording = write(tmp_path)
    levels = [file.loudness for file in recording.files.values()]
    assert levels == pytest.approx([-18, -18], abs=0.01)
    frames = {soundfile.info(file.path).frames for file in recording.files.values()}
    assert len(frames) == 1
    assert frames.pop() == pytest.approx(recording.seconds * 44100)
    assert recording.lowered == pytest.approx(0)


def test_progress_is_told_from_nothing_to_the_whole(tmp_path):
    told = []
    write(tmp_path, {"plain": performance(part((0, 1, 60)), end=60)}, progress=told.append)
    assert told == sorted(told)
    assert told[0] < 0.2
    assert 0.9 < told[-1] <= 1


def test_a_version_that_dies_away_sooner_goes_on_in_silence(tmp_path):
    short = performance(part((0, 1, 60)), end=1)
    long = performance(part((0, 1, 60)), end=12)
    recording = write(tmp_path, {"short": short, "long": long})
    frames = [soundfile.info(file.path).frames for file in recording.files.values()]
    assert frames[0] == frames[1] >= 6 * 44100
    wave, _ = soundfile.read(recording.files["short"].path, dtype="int16")
    assert np.abs(wave[-44100:]).max() <= 1


def test_where_peaks_leave_no_room_all_are_lowered_alike(tmp_path):
    recording = write(tmp_path, loudness=-3.0)
    peaks = [file.true_peak for file in recording.files.values()]
    assert max(peaks) == pytest.approx(-1.0, abs=0.01)
    levels = [file.loudness for file in recording.files.values()]
    assert levels[0] == pytest.approx(levels[1], abs=0.01)
    assert recording.lowered == pytest.approx(-3.0 - levels[0], abs=0.01)


@pytest.mark.parametrize(
    "kind, bits, rate, subtype",
    [("wav", 16, 44100, "PCM_16"), ("wav", 24, 48000, "PCM_24"), ("flac", 16, 44100, "PCM_16"),
     ("flac", 24, 48000, "PCM_24"), ("mp3", 16, 44100, "MPEG_LAYER_III"),
     ("opus", 16, 48000, "OPUS")],
)  # fmt: skip
def test_every_form_is_what_it_says(tmp_path, kind, bits, rate, subtype):
    recording = write(tmp_path, {"plain": PLAIN}, kind=kind, bits=bits, rate=rate)
    info = soundfile.info(recording.files["plain"].path)
    assert (info.samplerate, info.channels, info.subtype) == (rate, 2, subtype)
    assert info.duration == pytest.approx(recording.seconds, abs=0.1)


@pytest.mark.parametrize(
    "kind, rate", [("wav", 44100), ("flac", 44100), ("mp3", 44100), ("opus", 48000)]
)
def test_the_same_performance_gives_the_same_bytes(tmp_path, kind, rate):
    one, two = tmp_path / "one", tmp_path / "two"
    for folder in (one, two):
        folder.mkdir()
        write(folder, kind=kind, rate=rate)
    for name in PAIR:
        assert (one / f"{name}.{kind}").read_bytes() == (two / f"{name}.{kind}").read_bytes()


def test_the_first_beat_is_where_the_recording_says(tmp_path):
    recording = write(tmp_path)
    wave, rate = soundfile.read(recording.files["plain"].path)
    first = np.flatnonzero(np.abs(wave[:, 0]) > 0.01)[0] / rate
    assert recording.music_starts - 0.03 < first < recording.music_starts + 0.005


def test_a_piece_without_notes_is_written_as_silence(tmp_path):
    recording = write(tmp_path, {"rest": performance(part(), end=4)})
    wave, _ = soundfile.read(recording.files["rest"].path, dtype="int16")
    assert np.abs(wave).max() <= 1


def test_sixteen_bits_are_dithered_without_bias(tmp_path):
    wave, _ = soundfile.read(write(tmp_path).files["plain"].path, dtype="int16")
    lead_in = wave[:3000]
    assert set(np.unique(lead_in)) == {-1, 0, 1}
    assert abs(lead_in.mean()) < 0.03


def test_nothing_is_left_behind_where_a_file_cannot_be_written(tmp_path):
    (tmp_path / "shaped.wav").mkdir()
    (tmp_path / "shaped.wav" / "in the way").touch()
    with pytest.raises(PhrasingError, match=r"shaped\.wav"):
        write(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["shaped.wav"]


def test_a_folder_that_is_not_there_gives_one_line(tmp_path):
    with pytest.raises(PhrasingError, match="cannot be written") as caught:
        write(tmp_path / "nowhere")
    assert "\n" not in str(caught.value)


def test_a_file_that_fails_gives_one_line_and_leaves_nothing(tmp_path, monkeypatch):
    def full(self, data):
        raise soundfile.LibsndfileError(3, "Error : ")

    monkeypatch.setattr(soundfile.SoundFile, "write", full)
    with pytest.raises(PhrasingError, match=r"plain.wav: cannot be written: .*; choose"):
        write(tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a file of Linux's")
def test_a_full_temporary_folder_gives_one_line(tmp_path, monkeypatch):
    with open("/dev/full", "r+b", buffering=0) as full:
        monkeypatch.setattr(soundfiles, "IN_MEMORY", 0)
        monkeypatch.setattr(reels, "_raw_file", lambda: full)
        with pytest.raises(PhrasingError, match="TMPDIR"):
            write(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_long_take_is_the_same_from_memory_and_from_a_file(tmp_path, monkeypatch):
    folders = [tmp_path / "memory", tmp_path / "file", tmp_path / "both"]
    for folder, blocks in zip(folders, (128, 0, 2), strict=True):
        folder.mkdir()
        monkeypatch.setattr(reels, "AT_ONCE", 1)
        monkeypatch.setattr(soundfiles, "IN_MEMORY", blocks)
        write(folder)
    takes = [[(folder / f"{name}.wav").read_bytes() for name in PAIR] for folder in folders]
    assert takes[0] == takes[1] == takes[2]


@pytest.mark.parametrize("channels", [1, 2])
def test_numbers_are_rounded_as_numpy_rounds_them(channels):
    exact = np.random.default_rng(2).uniform(-30_000, 30_000, (channels, 999)).astype("float32")
    exact[:, :4] = 0.5, -0.5, 1.5, -29_999.5
    assert np.array_equal(soundfiles._rounded(exact.copy()), np.rint(exact).T)


def test_without_a_library_nothing_is_written(tmp_path, monkeypatch):
    monkeypatch.setattr(synthesizer, "_candidates", lambda: iter(()))
    synthesizer._bound.cache_clear()
    with pytest.raises(NoSoundError):
        write(tmp_path)
    synthesizer._bound.cache_clear()
    assert list(tmp_path.iterdir()) == []


def test_a_copy_in_another_coding_is_the_same_take(tmp_path, monkeypatch):
    """A pair for a folder and again for a page had been played twice."""
    played = []
    take = soundfiles._take
    monkeypatch.setattr(soundfiles, "_take", lambda *a, **b: played.append(1) or take(*a, **b))
    (tmp_path / "page").mkdir()
    flac = soundfiles.Coding("flac")
    recording = write(tmp_path, copies=(tmp_path / "page", flac))
    assert len(played) == len(recording.files) == len(recording.copies)
    for name, file in recording.copies.items():
        assert file.path == tmp_path / "page" / f"{name}.flac"
        own = recording.files[name]
        assert (file.gain, file.loudness) == (own.gain, own.loudness)
        one, other = (soundfile.read(each.path)[0] for each in (own, file))
        np.testing.assert_array_equal(one, other)


def test_the_dither_is_triangular_and_adds_no_constant():
    """Triangular noise of two steps from peak to peak makes the error's mean and power the
    same whatever the sound (Lipshitz, Wannamaker & Vanderkooy 1992, JAES 40(5):355-375, from
    memory)."""
    noise = soundfiles._noise().astype(np.float64)
    assert abs(noise.mean()) < 0.002
    assert noise.var() == pytest.approx(1 / 6, rel=0.01)
    assert -1.0 <= noise.min() < -0.99
    assert 0.99 < noise.max() <= 1.0
    assert (np.abs(noise) < 0.5).mean() == pytest.approx(0.75, abs=0.005)
