"""Finding a soundfont, and refusing what is none."""

import struct
from pathlib import Path

import numpy as np
import pytest

from phrasing.errors import NoSoundError, PhrasingError
from phrasing.sound import soundfonts
from phrasing.sound.sound import render
from phrasing.sound.soundfonts import (
    available,
    check_soundfont,
    embedded_soundfont,
    find_soundfont,
)
from tests.fuzzing.grammars import font
from tests.sound.compressing import compressed
from tests.sound.playing import part, performance


def fake(path: Path) -> Path:
    """A file that has all the parts of a soundfont, and nothing in them."""
    parts = b"".join(
        b"LIST" + struct.pack("<I", 1004) + name + bytes(1000)
        for name in (b"INFO", b"sdta", b"pdta")
    )
    path.write_bytes(b"RIFF" + struct.pack("<I", 4 + len(parts)) + b"sfbk" + parts)
    return path


def test_pip_brings_a_soundfont():
    font = embedded_soundfont()
    assert font.licence == "GPL-2"
    assert find_soundfont(font.path).path == font.path


def test_a_better_soundfont_of_the_system_comes_first(tmp_path, monkeypatch):
    fake(tmp_path / "FluidR3_GM.sf2")
    fake(tmp_path / "TimGM6mb.sf2")
    fake(tmp_path / "Church organ.sf2")
    monkeypatch.setattr(soundfonts, "_folders", lambda: [tmp_path, tmp_path / "nowhere"])
    names = [font.path.name for font in available()]
    assert names == ["FluidR3_GM.sf2", "TimGM6mb.sf2", "TimGM6mb.sf2"]
    assert find_soundfont().licence == "MIT"


def test_one_soundfont_under_two_names_is_told_once(tmp_path, monkeypatch):
    fake(tmp_path / "FluidR3_GM.sf2")
    (tmp_path / "default-GM.sf2").symlink_to(tmp_path / "FluidR3_GM.sf2")
    monkeypatch.setattr(soundfonts, "_folders", lambda: [tmp_path])
    assert [font.name for font in available()][:1] == ["FluidR3_GM"]
    assert len(available()) == 2


def test_the_environment_names_a_soundfont(tmp_path, monkeypatch):
    mine = fake(tmp_path / "mine.sf2")
    monkeypatch.setenv(soundfonts.SETTING, str(mine))
    assert find_soundfont().path == mine
    assert find_soundfont(embedded_soundfont().path).path != mine


@pytest.mark.parametrize("content", [b"", b"RIFF", b"not a soundfont at all" * 100])
def test_a_file_that_is_no_soundfont_is_named(tmp_path, content):
    path = tmp_path / "notes.sf2"
    path.write_bytes(content)
    with pytest.raises(PhrasingError, match=r"notes\.sf2: is not a soundfont") as caught:
        find_soundfont(path)
    assert "--soundfont" in str(caught.value)


@pytest.mark.parametrize("filled", [b"", b"\0"])
def test_a_part_of_odd_length_may_be_filled_up_or_not(tmp_path, filled):
    """A compressed soundfont without the byte had been refused."""
    lists = [
        b"LIST" + struct.pack("<I", 1005) + name + bytes(1001) for name in soundfonts.PARTS
    ]
    content = b"sfbk" + filled.join(lists)
    path = tmp_path / "odd.sf3"
    path.write_bytes(b"RIFF" + struct.pack("<I", len(content)) + content)
    assert find_soundfont(path).name == "odd"


@pytest.mark.parametrize("pad", [True, False])
def test_a_compressed_soundfont_plays_as_the_one_it_was_made_of(tmp_path, pad):
    """Its samples are an odd number of bytes, with the byte that fills them up and without."""
    small = embedded_soundfont()
    path = tmp_path / "small.sf3"
    path.write_bytes(compressed(small.path, b"Trump", pad=pad))
    assert len(path.read_bytes()) % 2 == (0 if pad else 1)
    notes = performance(part((0, 0.5, 60), (0.5, 1, 72)), tempo=120)
    heard = [
        np.concatenate(list(render(notes, font, room=False)), axis=1)[0, :30_000]
        for font in (small, find_soundfont(path))
    ]
    assert np.corrcoef(heard)[0, 1] > 0.99
    assert np.std(heard[1]) == pytest.approx(np.std(heard[0]), rel=0.02)


def test_a_compressed_soundfont_of_the_system_is_found(tmp_path, monkeypatch):
    fake(tmp_path / "FluidR3_GM.sf3")
    monkeypatch.setattr(soundfonts, "_folders", lambda: [tmp_path])
    assert available()[0].path.name == "FluidR3_GM.sf3"


def test_a_wave_file_is_no_soundfont(tmp_path):
    path = fake(tmp_path / "a.sf2")
    path.write_bytes(path.read_bytes().replace(b"sfbk", b"WAVE"))
    with pytest.raises(PhrasingError, match="is not a soundfont"):
        check_soundfont(path)


def test_a_soundfont_without_its_presets_is_refused(tmp_path):
    path = fake(tmp_path / "a.sf2")
    path.write_bytes(path.read_bytes().replace(b"pdta", b"junk"))
    with pytest.raises(PhrasingError, match="is not a soundfont"):
        check_soundfont(path)


def test_a_soundfont_cut_off_in_a_download_is_refused(tmp_path):
    path = fake(tmp_path / "a.sf2")
    path.write_bytes(path.read_bytes()[:3000])
    with pytest.raises(PhrasingError, match="only a part"):
        check_soundfont(path)


@pytest.mark.parametrize("name", ["missing.sf2", "."])
def test_a_soundfont_that_cannot_be_read_is_named(tmp_path, name):
    with pytest.raises(PhrasingError, match="cannot be read") as caught:
        find_soundfont(tmp_path / name)
    assert "\n" not in str(caught.value)


def test_no_soundfont_at_all_says_how_to_get_one(monkeypatch):
    monkeypatch.setattr(soundfonts, "_folders", list)
    monkeypatch.setattr(soundfonts, "_embedded", lambda: iter(()))
    with pytest.raises(NoSoundError, match="pip install pretty_midi"):
        find_soundfont()
    with pytest.raises(NoSoundError, match="pip install pretty_midi"):
        embedded_soundfont()


def test_a_soundfont_is_known_again_by_its_content(tmp_path):
    one, two = fake(tmp_path / "a.sf2"), fake(tmp_path / "b.sf2")
    first = find_soundfont(one).fingerprint
    assert first == find_soundfont(two).fingerprint
    two.write_bytes(two.read_bytes()[:-1] + b"x")
    assert first != find_soundfont(two).fingerprint


@pytest.mark.parametrize("system", ["linux", "darwin", "win32"])
def test_every_system_has_its_folders(monkeypatch, system):
    monkeypatch.setattr(soundfonts.sys, "platform", system)
    monkeypatch.setenv("PROGRAMDATA", "C:/ProgramData")
    assert len(soundfonts._folders()) >= 3


def test_a_sample_that_ends_the_synthesizer_is_refused(tmp_path):
    """Played, one of two points ended the whole program without a word."""
    whole, path = bytearray(font()), tmp_path / "small.sf2"
    end = whole.index(b"shdr") + 8 + 24
    for points in (1, 2, 3, 48):
        whole[end : end + 4] = points.to_bytes(4, "little")
        path.write_bytes(whole)
        if points != 2:
            check_soundfont(path)
            continue
        with pytest.raises(PhrasingError, match=r"small\.sf2: has a sample of 2 points"):
            check_soundfont(path)


def test_a_stream_has_no_points(tmp_path):
    whole, path = bytearray(font(compressed=True)), tmp_path / "small.sf3"
    end = whole.index(b"shdr") + 8 + 24
    whole[end : end + 4] = (2).to_bytes(4, "little")
    path.write_bytes(whole)
    check_soundfont(path)
