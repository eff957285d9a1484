"""Broken scores: whatever is done to one, it is read or refused in a line, and soon."""

from __future__ import annotations

import copy
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree

from phrasing.errors import PhrasingError
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.melody import Melody
from tests.reading.scores import (
    END,
    FOUR,
    START,
    backup,
    bar,
    degree,
    direction,
    ending,
    harmony,
    note,
    notes,
    part,
    score,
    slur,
    words,
)

TRUMPET = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
SWING = "<swing><first>2</first><second>1</second></swing>"
RICH = score(
    part(
        bar(notes("G4:1"), number="0", implicit="yes"),
        direction("<segno/>", 'segno="s"') + START + harmony("C", "dominant") + notes("C5:4"),
        note("D5", 2, tie="start", notations=slur("start"))
        + note("D5", 1, tie="stop", notations=slur("stop"), articulations="accent staccato")
        + note("B4", grace=True)
        + note("C5", 1, voice=1)
        + backup(2)
        + note("E4", 2, voice=2),
        ending(
            "1, 2", notes("E5:1 F5:1") + note("A4", 2, articulations="breath-mark"), back=True
        ),
        ending("3", notes("E5:4") + words("To Coda"), back=False),
        direction("<words>Swing</words>", SWING)
        + harmony("D", "minor-seventh", extra=degree(9, 1, "add"))
        + note("C4", 4)
        + note("E4", 4, chord=True),
        notes("r:4") + END + '<sound dalsegno="s"/>',
        direction("<coda/>", 'coda="c" tempo="90"')
        + direction("<rehearsal>Z</rehearsal>")
        + notes("G4:4"),
        attributes="<key><fifths>2</fifths></key>" + FOUR + TRUMPET,
    ),
    part(*[notes("C3:4")] * 8),
    names=("Trumpet", "Bass"),
)
ODD = (
    "", " ", "-1", "0", "1", "7", "0.5", "1e9", "nan", "999999999", "-999999999", "1/2",
    "9" * 40, "abc", "yes", "note", "G", "♯", "\U0001f3ba", "1,2,3-999", "backward", "\n",
)  # fmt: skip
QUICK = settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def check(path: Path, content: bytes, as_written: bool) -> None:
    """Read it, and if that can be done look whether the melody is whole."""
    path.write_bytes(content)
    melody, message = read_or_refused(path, as_written)
    assert "\n" not in message
    if melody is None:
        return
    assert len(melody.ids) == len(melody)
    at = 0
    for played in melody.bars:
        assert played.onset == at
        at += played.length
    assert melody.pitch.min(initial=0) >= 0
    assert melody.pitch.max(initial=0) <= 127
    assert all(0 <= first < last < len(melody) for first, last in melody.slurs)
    assert all(0 <= index < len(melody) for index in melody.phrase_ends)
    assert all(0 <= chord.onset < at for chord in melody.chords)


def read_or_refused(path: Path, as_written: bool) -> tuple[Melody | None, str]:
    try:
        return read_musicxml(path, as_written=as_written), ""
    except PhrasingError as error:
        return None, str(error)


def packed() -> bytes:
    """The rich score, compressed."""
    container = '<container><rootfiles><rootfile full-path="s.xml"/></rootfiles></container>'
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in (("META-INF/container.xml", container.encode()), ("s.xml", RICH)):
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return held.getvalue()


def test_the_rich_score_is_read_whole(tmp_path):
    """So that what follows breaks something that works."""
    file = tmp_path / "rich.xml"
    file.write_bytes(RICH)
    melody = read_musicxml(file)
    assert [b.number for b in melody.bars] == [
        0, 2, 3, 4, 2, 3, 4, 2, 3, 5, 6, 7, 6, 7, 2, 3, 5, 8,
    ]  # fmt: skip
    assert {manner.swing for manner in melody.all_manners} == {None, 2.0}
    assert len(melody.graces) == 4


@pytest.mark.parametrize("source", [RICH, packed()], ids=["plain", "compressed"])
@QUICK
@given(
    changes=st.lists(
        st.tuples(
            st.floats(0, 1, exclude_max=True),
            st.integers(0, 60),
            st.binary(max_size=6),
        ),
        min_size=1,
        max_size=10,
    )
)
def test_broken_bytes(tmp_path, source, changes):
    content = bytearray(source)
    for where, gone, new in changes:
        at = int(where * len(content))
        content[at : at + gone] = new
    check(tmp_path / "broken.xml", bytes(content), as_written=False)


@given(
    changes=st.lists(
        st.tuples(
            st.sampled_from(["remove", "text", "attribute", "copy", "rename"]),
            st.floats(0, 1, exclude_max=True),
            st.floats(0, 1, exclude_max=True),
            st.sampled_from(ODD),
        ),
        min_size=1,
        max_size=25,
    ),
    as_written=st.booleans(),
)
@settings(QUICK, max_examples=400)
def test_broken_structure(tmp_path, changes, as_written):
    tree = etree.fromstring(RICH)
    for how, where, other, odd in changes:
        elements = list(tree.iter("*"))[1:]
        if not elements:
            break
        one = elements[int(where * len(elements))]
        break_one(how, one, elements[int(other * len(elements))], odd)
    check(tmp_path / "broken.xml", etree.tostring(tree, encoding="UTF-8"), as_written)


def break_one(how: str, one: etree._Element, other: etree._Element, odd: str) -> None:
    """One change to one element."""
    parent = one.getparent()
    if how == "remove" and parent is not None:
        parent.remove(one)
    elif how == "text":
        one.text = odd
    elif how == "attribute" and len(one.attrib):
        one.set(next(iter(one.attrib)), odd.strip())
    elif how == "copy" and parent is not None:
        one.addnext(copy.deepcopy(other))
    elif how == "rename":
        one.tag = other.tag
