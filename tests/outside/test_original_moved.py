"""Other people's scores moved and given away, against music21's own transposition of them.

Open data and reader: the MusicXML test suite and lead sheets that music21 (BSD licence) ships.
"""

from __future__ import annotations

import importlib.util
import re
from functools import cache
from pathlib import Path

import pytest
from lxml import etree

from phrasing.errors import PhrasingError
from phrasing.marking.precedence import mark
from phrasing.paper.annotating import annotated_score
from phrasing.paper.original import Original
from phrasing.reading.musicxml.file import open_score
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.reading.musicxml.parts import score_parts
from phrasing.score.instruments import BY_KEY
from phrasing.score.transposing import Move, moved
from tests.outside.test_musicxml_reading import first_staves, top_line
from tests.schema import faults

pytestmark = pytest.mark.outside
music21 = pytest.importorskip("music21")

MINOR_THIRD = Move(3, -3)
OTHERWISE = {
    "01d": "music21 rounds quarter tones otherwise once they are moved",
    "01f": "music21 rounds quarter tones otherwise once they are moved",
    "32c": "its printed sharp contradicts its pitch, and music21 believes the print",
}
"""Files that are moved differently on purpose, and why."""


@cache
def scores() -> list[Path]:
    root = Path(importlib.util.find_spec("music21").origin).parent
    suite = sorted((root / "musicxml" / "lilypondTestSuite").glob("*.xml"))
    suite = [path for path in suite if path.name[:3] not in OTHERWISE]
    return [*suite, *sorted((root / "corpus" / "leadSheet").glob("*.mxl"))]


def read(path: Path):
    """The melody, where every part is one that both read alike."""
    try:
        return read_musicxml(path)
    except PhrasingError:
        return None


def sounding(path: Path) -> object:
    return music21.converter.parse(path, forceSource=True).toSoundingPitch()


def test_every_part_sounds_a_minor_third_higher_and_nothing_else_does(tmp_path) -> None:
    compared = 0
    for path in scores():
        melody = read(path)
        if melody is None or not len(melody):
            continue
        higher = moved(melody, MINOR_THIRD)
        original = Original(path, MINOR_THIRD, MINOR_THIRD)
        content = annotated_score(original, higher, mark(higher))
        file = tmp_path / "moved.musicxml"
        file.write_bytes(content)
        if not faults(etree.tostring(open_score(path))):
            assert faults(content) == [], path.name
        before, after = first_staves(sounding(path)), first_staves(sounding(file))
        drums = [part.is_drums for part in score_parts(open_score(path))]
        for one, other, is_drums in zip(before, after, drums, strict=False):
            if not is_drums:
                expected = [(a, b, pitch + 3) for a, b, pitch in top_line(one)]
                assert top_line(other) == expected, path.name
                compared += 1
    assert compared > 100


def test_chords_have_the_roots_that_music21_moves_them_to(tmp_path) -> None:
    compared = 0
    for path in scores():
        melody = read(path)
        if melody is None or not melody.chords:
            continue
        higher = moved(melody, MINOR_THIRD)
        file = tmp_path / "moved.musicxml"
        original = Original(path, MINOR_THIRD, MINOR_THIRD)
        file.write_bytes(annotated_score(original, higher, mark(higher)))
        roots = []
        for source in (path, file):
            found = sounding(source).recurse().getElementsByClass("ChordSymbol")
            roots.append([s.root().pitchClass for s in found if s.chordKind != "none"])
        assert roots[1] == [(root + 3) % 12 for root in roots[0]], path.name
        compared += len(roots[0])
    assert compared > 60


@pytest.mark.parametrize("key", ["alto-sax", "tenor-sax", "trombone"])
def test_given_away_a_score_sounds_as_it_did(tmp_path, key) -> None:
    compared = 0
    for path in scores()[::3]:
        melody = read(path)
        if melody is None or not len(melody):
            continue
        file = tmp_path / "given.musicxml"
        original = Original(path, reader=BY_KEY[key], is_asked_for=True)
        file.write_bytes(annotated_score(original, melody, mark(melody)))
        number = re.search(r"part (\d+) of", melody.reading.part)
        again = read_musicxml(file, part=number and number[1])
        before, after = first_staves(sounding(path)), first_staves(sounding(file))
        assert [top_line(part) for part in after] == [top_line(part) for part in before]
        assert again.instrument == key, path.name
        compared += 1
    assert compared > 30
