"""Files that hold no notes, and what is said to do instead."""

import io

import numpy as np
import pytest
import soundfile

from phrasing.errors import PhrasingError
from phrasing.reading import read
from tests.reading.scores import notes, part, score


def said(tmp_path, content: bytes, name: str) -> str:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(PhrasingError) as caught:
        read(path)
    return str(caught.value).removeprefix(f"{path}: ")


@pytest.mark.parametrize(
    ("start", "name"),
    [
        (b"%PDF-1.7\n%", "tune.pdf"),
        (b"\x89PNG\r\n\x1a\n", "tune.png"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF\0", "photo.jpg"),
        (b"GIF89a\x01", "tune.gif"),
        (b"II*\0\x08", "scan.tif"),
        (b"RIFF\x10\x27\0\0WEBPVP8 ", "tune.webp"),
        (b"%PDF-1.7\n%", "tune.mid"),
    ],
)
def test_a_picture_gets_the_sentence_that_says_what_to_export(tmp_path, start, name):
    text = said(tmp_path, start + bytes(40), name)
    assert text.startswith(("is a PDF, a picture of a page:", "is a picture:"))
    assert "export the score from the program it was written with as MusicXML" in text


@pytest.mark.parametrize("kind", ["WAV", "FLAC", "OGG", "MP3", "AIFF"])
def test_a_recording_gets_the_sentence_that_says_what_to_do(tmp_path, kind):
    """As libsndfile writes each of them."""
    held = io.BytesIO()
    soundfile.write(held, np.zeros(4410), 44100, format=kind)
    text = said(tmp_path, held.getvalue(), f"take.{kind.lower()}")
    assert text.startswith("is a recording, and notes cannot be read from sound; play")
    assert "save it as MIDI" in text


def test_an_mp4_recording(tmp_path):
    assert "is a recording" in said(tmp_path, b"\0\0\0\x20ftypM4A \0\0", "memo.m4a")


def test_a_score_whose_title_names_a_midi_header_is_a_score(tmp_path):
    """A MIDI file's header is looked for in its first 256 bytes, which a title stands in."""
    path = tmp_path / "tune.musicxml"
    path.write_bytes(score(part(notes("C5:4")), top="<movement-title>MThd</movement-title>"))
    assert path.read_bytes().index(b"MThd") < 256
    assert read(path).title == "MThd"
