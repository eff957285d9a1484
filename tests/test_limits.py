"""What no piece can be is refused while it is read, before it takes memory and time."""

from __future__ import annotations

import doctest
import tracemalloc
import zipfile
from pathlib import Path

import pytest

from phrasing import limits
from phrasing.errors import PhrasingError
from phrasing.feelfile import load_feel
from phrasing.reading import read
from phrasing.score.meters import bars_of_meters
from tests.reading.scores import note, part, score
from tests.smf import meta, midi_file, track

MEMORY = 400_000_000
"""Bytes that reading anything here may take."""


def test_the_examples_are_true():
    assert doctest.testmod(limits).failed == 0


def refused(path: Path, content: bytes | str, *words: str) -> None:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    tracemalloc.start()
    with pytest.raises(PhrasingError) as caught:
        read(path)
    assert tracemalloc.get_traced_memory()[1] < MEMORY
    tracemalloc.stop()
    for word in words:
        assert word in str(caught.value)
    assert len(str(caught.value)) < 500


@pytest.mark.long
def test_a_small_file_of_a_very_many_bars(tmp_path):
    """900,000 empty measures are 18 KB when packed, and took minutes."""
    path = tmp_path / "bomb.mxl"
    measures = "<measure/>" * 900_000 + f"<measure>{note('C5', 4)}</measure>"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed:
        packed.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>',
        )
        packed.writestr("a.xml", score(measures))
    refused(path, path.read_bytes(), "more than 10,000 bars")


def test_parts_of_very_many_bars_together(tmp_path, monkeypatch):
    monkeypatch.setattr("phrasing.reading.musicxml.melody.MEASURES", 20)
    content = score(*[part(*[note("C5", 4)] * 8)] * 3)
    refused(tmp_path / "a.musicxml", content, "more than 20 bars in all its parts")


@pytest.mark.long
def test_very_many_changes_of_meter(tmp_path):
    """100,000 of them took time as their square."""
    changes = [(i / 4, meta(0x58, bytes([1 + i % 2, 4, 24, 8]))) for i in range(100_000)]
    content = midi_file(track((0, 1, 60), events=changes))
    refused(tmp_path / "a.mid", content, "more than 10,000 changes of meter")


def test_a_note_that_nobody_has_the_breath_for(tmp_path):
    refused(
        tmp_path / "a.mid", midi_file(track((0, 768, 60))), "bar 1 has a note of 768 quarter"
    )
    assert len(read_back(tmp_path, midi_file(track((0, 200, 60))))) == 1


def read_back(tmp_path: Path, content: bytes):
    path = tmp_path / "good.mid"
    path.write_bytes(content)
    return read(path)


def test_repeats_of_repeats(tmp_path):
    chart = "|: C :| x100 |: C | D :| x100\n" * 100
    refused(tmp_path / "a.chart", chart, "more bars than anyone plays")


def test_hours_on_end(tmp_path):
    chart = f"tempo: 20\n|: {' | '.join('CDEFGABCDEFGABCDEFGA')} :| x100"
    refused(tmp_path / "a.chart", chart, "more than 6 hours of music")


def test_a_chord_symbol_without_end(tmp_path):
    refused(tmp_path / "a.chart", f"| C{'b9' * 5000} |", "is too long to be one")
    degrees = "".join(
        f"<degree><degree-value>{n % 7 + 7}</degree-value><degree-alter>1</degree-alter>"
        "<degree-type>add</degree-type></degree>"
        for n in range(10_000)
    )
    harmony = (
        f"<harmony><root><root-step>C</root-step></root><kind>major</kind>{degrees}</harmony>"
    )
    content = score(part(harmony + note("C5", 4)))
    refused(tmp_path / "a.musicxml", content, "bar 1 has a chord symbol of more than 40")


def test_a_title_of_a_megabyte_is_cut(tmp_path):
    title = midi_file(track((0, 1, 60)), title=b"x" * 1_000_000)
    assert len(read_back(tmp_path, title).title) == limits.NAME_LENGTH + 1
    name = midi_file(track((0, 1, 60), name=b"y" * 1_000_000))
    assert len(read_back(tmp_path, name).reading.part) == limits.NAME_LENGTH + 1


def test_very_many_notes(tmp_path, monkeypatch):
    monkeypatch.setattr("phrasing.reading.midi.melody.NOTES", 10)
    monkeypatch.setattr("phrasing.reading.musicxml.melody.NOTES", 10)
    line = midi_file(track(*[(i, 1, 60) for i in range(11)]))
    refused(tmp_path / "a.mid", line, "more than 10 notes in a track")
    refused(tmp_path / "a.musicxml", score(part(*[note("C5", 4)] * 11)), "more than 10 notes")


def test_files_far_too_large(tmp_path):
    feel = tmp_path / "a.toml"
    with feel.open("wb") as file:
        file.truncate(limits.TEXT_BYTES + 1)
    with pytest.raises(PhrasingError, match="far too large to be a feel"):
        load_feel(feel)


def test_bars_of_many_meters_are_made_in_their_order():
    """Changes are taken from the end of a list: the order must not turn round."""
    from phrasing.score.meters import Meter

    changes = {0: Meter(4, 4), 3840: Meter(3, 4), 6720: Meter(5, 4)}
    bars = bars_of_meters(changes, 11_520)
    assert [(bar.onset, bar.meter.beats) for bar in bars] == [(0, 4), (3840, 3), (6720, 5)]
