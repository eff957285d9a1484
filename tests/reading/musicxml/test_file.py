"""Opening scores: encodings, compressed files, and files that are none or mean harm."""

from __future__ import annotations

import socket
import tracemalloc
import zipfile
from pathlib import Path

import pytest
from lxml import etree

from phrasing.errors import PhrasingError
from phrasing.reading import read as read_any
from phrasing.reading.musicxml.file import chord_of, note_names, open_score
from phrasing.reading.musicxml.melody import read_musicxml
from tests.reading.scores import note, notes, part, saved, score

TITLE = "<work><work-title>Blåvind på Ågatan</work-title></work>"
SCORE = score(part(notes("C5:4")), top=TITLE)
CONTAINER = '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'


def packed(path: Path, files: dict[str, bytes]) -> Path:
    """A zip archive with these files."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return path


def compressed(path: Path, content: bytes = SCORE, name: str = "score.xml") -> Path:
    """A compressed score."""
    files = {"META-INF/container.xml": CONTAINER.format(name).encode(), name: content}
    return packed(path, files)


def refused(path: Path, content: bytes) -> str:
    """The message for a file with this content."""
    file = path / "score.musicxml"
    file.write_bytes(content)
    with pytest.raises(PhrasingError) as caught:
        read_musicxml(file)
    message = str(caught.value)
    assert message.startswith(f"{file}")
    assert "\n" not in message
    return message.removeprefix(f"{file}")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "iso-8859-1", "windows-1252"])
def test_any_declared_encoding_is_read(tmp_path, encoding):
    text = SCORE.decode().replace("UTF-8", encoding)
    file = tmp_path / "score.xml"
    file.write_bytes(text.encode(encoding))
    assert read_musicxml(file).title == "Blåvind på Ågatan"
    assert read_any(file).title == "Blåvind på Ågatan"


def test_a_compressed_score_is_known_by_its_content(tmp_path):
    file = compressed(tmp_path / "score.musicxml", name="inside/lied.musicxml")
    assert read_musicxml(file).pitch.tolist() == [72]
    assert read_any(file).pitch.tolist() == [72]


def test_pictures_before_the_score_are_passed_over(tmp_path):
    container = (
        '<container><rootfiles><rootfile full-path="page.pdf" media-type="application/pdf"/>'
        '<rootfile full-path="s.xml" media-type="application/vnd.recordare.musicxml+xml"/>'
        "</rootfiles></container>"
    )
    files = {"META-INF/container.xml": container.encode(), "page.pdf": b"%PDF", "s.xml": SCORE}
    assert len(read_musicxml(packed(tmp_path / "s.mxl", files))) == 1


def test_a_timewise_score_is_turned_round(tmp_path):
    bars = [
        f'<measure number="{i}"><part id="P1">{notes(one)}</part>'
        f'<part id="P2">{notes(two)}</part></measure>'
        for i, (one, two) in enumerate([("C5:4", "C3:4"), ("D5:4", "D3:4")], start=1)
    ]
    text = (
        "<score-timewise><part-list>"
        '<score-part id="P1"><part-name>Flute</part-name></score-part>'
        '<score-part id="P2"><part-name>Tuba</part-name></score-part></part-list>'
        + "".join(bars).replace(
            f'<part id="P1">{notes("C5:4")}',
            f'<part id="P1"><attributes><divisions>24</divisions></attributes>{notes("C5:4")}',
        )
        + "</score-timewise>"
    )
    file = tmp_path / "score.xml"
    file.write_text(text)
    melody = read_musicxml(file)
    assert melody.pitch.tolist() == [72, 74]
    assert melody.ids == ("n1", "n2")
    root = open_score(file).getroot()
    assert root.tag == "score-partwise"
    assert [len(p.findall("measure")) for p in root.findall("part")] == [2, 2]


def test_nothing_of_the_file_is_lost_when_it_is_opened(tmp_path):
    head = b'<?xml version="1.0" encoding="UTF-8"?>'
    dtd = (
        b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        b'"http://www.musicxml.org/dtds/partwise.dtd">'
    )
    body = SCORE.removeprefix(head).replace(
        b"<part-list>", b"<!-- kept --><?print twice?>\n  <part-list>"
    )
    body = body.replace(b"<part-name>Trumpet", b"<part-name><![CDATA[Trumpet]]>")
    file = tmp_path / "score.xml"
    file.write_bytes(head + dtd + body)
    tree = open_score(file)
    assert etree.tostring(tree, encoding="UTF-8") == (dtd + b"\n" + body).decode().encode()


def test_names_are_the_notes_own_or_their_place_and_unique(tmp_path):
    content = score(part(note("C5", 1, id="n2") + note("D5") + note("E5", id="a") + note("F5")))
    tree = open_score(saved(tmp_path, content))
    assert list(note_names(tree).values()) == ["n2", "nn2", "a", "nn4"]
    for element, name in note_names(tree).items():
        element.set("id", name)
    assert list(note_names(tree).values()) == ["n2", "nn2", "a", "nn4"]


def test_an_id_used_twice_names_only_its_first_note(tmp_path):
    file = tmp_path / "score.xml"
    file.write_bytes(score(part(note("C5", 2, id="a") + note("D5", 2, id="a"))))
    assert list(note_names(open_score(file)).values()) == ["a", "n2"]
    assert read_musicxml(file).ids == ("a", "n2")


def test_the_notes_of_a_chord_are_found_from_each_of_them(tmp_path):
    chord = note("C4", 2) + note("E4", 2, chord=True) + note("G4", 2, chord=True)
    tree = open_score(saved(tmp_path, score(part(notes("A4:1") + chord + notes("B4:1")))))
    all_notes = list(tree.iter("note"))
    for one in all_notes[1:4]:
        assert chord_of(one) == all_notes[1:4]
    assert chord_of(all_notes[0]) == all_notes[:1]
    assert chord_of(all_notes[4]) == all_notes[4:]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", ": is empty"),
        (b"   \n", ": is damaged in line 2, or is no MusicXML"),
        (SCORE[: len(SCORE) // 2], "damaged in line 1"),
        (SCORE.replace(b"<part-list>", b"\n\n<part-list").decode().encode(), "in line 3"),
        (b"<html><body/></html>", "is not a MusicXML score (it begins with <html>)"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"/>', "it begins with <svg>"),
        (b"<opus><score/></opus>", "is an opus, a list of scores"),
        (b"PK\x03\x04 and then nothing", "does not unpack"),
        (b"PK\x05\x06", "does not unpack"),
        (b"just words", "or is no MusicXML"),
        (SCORE.replace(b"UTF-8", b"x-lute-7"), "or is no MusicXML"),
        (b"<a>" * 3000, "or is no MusicXML"),
        (b"<score-partwise>&lute;</score-partwise>", "or is no MusicXML"),
        (b"<score-partwise/>", "has no pitched notes in any part"),
        (
            b"<score-partwise><part><note><pitch/></note></part></score-partwise>",
            "stand in no bars",
        ),
    ],
)
def test_what_is_no_score_is_refused_in_a_line(tmp_path, content, said):
    assert said in refused(tmp_path, content)


def test_a_missing_file_and_a_folder_are_refused_in_a_line(tmp_path):
    with pytest.raises(PhrasingError, match="no such file"):
        read_musicxml(tmp_path / "none.musicxml")
    with pytest.raises(PhrasingError, match="is a folder"):
        read_musicxml(tmp_path)


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({"word/document.xml": b"<w/>"}, "is a zip archive but not a compressed score"),
        ({"META-INF/container.xml": b"<container/>"}, "names no score"),
        ({"META-INF/container.xml": b"<container"}, "or is no MusicXML"),
        ({"META-INF/container.xml": CONTAINER.format("a.xml").encode()}, "points to “a.xml”"),
        (
            {"META-INF/container.xml": CONTAINER.format("a.xml").encode(), "a.xml": b"<a>"},
            "or is no MusicXML",
        ),
    ],
)
def test_a_compressed_file_without_its_score_is_refused(tmp_path, files, said):
    content = packed(tmp_path / "x.mxl", files).read_bytes()
    assert said in refused(tmp_path, content)


@pytest.mark.parametrize(
    ("pointed", "name"),
    [
        ("./score.xml", "score.xml"),
        ("/score.xml", "score.xml"),
        ("my%20score.xml", "my score.xml"),
        ("my score.xml", "my%20score.xml"),
        ("a/./b/../score.xml", "a/score.xml"),
    ],
)
def test_a_container_may_spell_its_scores_name_otherwise(tmp_path, pointed, name):
    files = {"META-INF/container.xml": CONTAINER.format(pointed).encode(), name: SCORE}
    assert open_score(packed(tmp_path / "x.mxl", files)).getroot().tag == "score-partwise"


@pytest.mark.parametrize(
    "container", [b"<container/>", CONTAINER.format("").encode(), None], ids=str
)
def test_a_score_that_the_container_does_not_name_is_found(tmp_path, container):
    files = {"cover.xml": b"<cover/>", "the score.musicxml": SCORE}
    if container:
        files["META-INF/container.xml"] = container
    assert open_score(packed(tmp_path / "x.mxl", files)).getroot().tag == "score-partwise"


def test_an_encrypted_archive_is_refused(tmp_path):
    content = bytearray(compressed(tmp_path / "x.mxl").read_bytes())
    for start in (b"PK\x03\x04", b"PK\x01\x02"):
        flags = content.find(start) + (6 if start == b"PK\x03\x04" else 8)
        content[flags] |= 1
    assert "does not unpack" in refused(tmp_path, bytes(content))


@pytest.mark.parametrize(
    "name", ["../secret.xml", "/etc/passwd", "a/../../secret.xml", "..\\s"]
)
def test_a_container_cannot_point_out_of_its_archive(tmp_path, name):
    (tmp_path / "secret.xml").write_bytes(SCORE)
    folder = tmp_path / "in"
    folder.mkdir()
    files = {"META-INF/container.xml": CONTAINER.format(name).encode()}
    assert "which is not in it" in refused(folder, packed(folder / "x", files).read_bytes())
    assert sorted(p.name for p in folder.iterdir()) == ["score.musicxml", "x"]


def test_what_unpacks_without_end_is_refused(tmp_path, monkeypatch):
    """30 MB of blanks in 30 kB of archive: unpacked no further than the limit."""
    monkeypatch.setattr("phrasing.reading.musicxml.file.XML_BYTES", 1_000_000)
    bomb = SCORE.replace(b"<part-list>", b" " * 30_000_000 + b"<part-list>")
    content = compressed(tmp_path / "x.mxl", bomb).read_bytes()
    assert len(content) < 50_000
    tracemalloc.start()
    assert "of score; save the melody's part alone" in refused(tmp_path, content)
    assert tracemalloc.get_traced_memory()[1] < 10_000_000
    tracemalloc.stop()
    assert "of score; save the melody's part alone" in refused(tmp_path, bomb)


def test_an_archive_that_lies_about_its_size_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr("phrasing.reading.musicxml.file.XML_BYTES", 1_000_000)
    bomb = SCORE.replace(b"<part-list>", b" " * 5_000_000 + b"<part-list>")
    content = compressed(tmp_path / "x.mxl", bomb).read_bytes()
    real = len(bomb).to_bytes(4, "little")
    assert content.count(real) == 2
    message = refused(tmp_path, content.replace(real, (100).to_bytes(4, "little")))
    assert "does not unpack" in message or "save the melody's part alone" in message


def bomb_of_entities() -> bytes:
    """Ten to the twelfth of a word, in a few lines."""
    lines = ['<!ENTITY a "ha">']
    for this, last in zip("bcdefghijklm", "abcdefghijkl", strict=True):
        lines.append(f'<!ENTITY {this} "{f"&{last};" * 10}">')
    return f"<!DOCTYPE score-partwise [{''.join(lines)}]>".encode()


@pytest.mark.parametrize(
    "content",
    [
        bomb_of_entities() + b"<score-partwise>&m;</score-partwise>",
        bomb_of_entities() + b'<score-partwise version="&m;"/>',
        b'<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise>&x;</score-partwise>',
        b'<!DOCTYPE s [<!ENTITY % x SYSTEM "http://127.0.0.1:1/x.dtd"> %x;]><score-partwise/>',
    ],
    ids=["expansion", "expansion in an attribute", "a file of the system", "a page of the net"],
)
def test_entities_are_refused_and_never_followed(tmp_path, content):
    message = refused(tmp_path, content)
    assert "entities of its own" in message or "or is no MusicXML" in message


def test_no_connection_is_ever_made(tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(socket, "create_connection", lambda *a, **k: asked.append(a))
    monkeypatch.setattr(socket.socket, "connect", lambda self, address: asked.append(address))
    server = socket.socket()
    server.bind(("127.0.0.1", 0))
    server.listen()
    server.settimeout(0.2)
    port = server.getsockname()[1]
    dtd = f'<!DOCTYPE score-partwise SYSTEM "http://127.0.0.1:{port}/partwise.dtd">'.encode()
    file = tmp_path / "score.xml"
    file.write_bytes(SCORE.replace(b"?>", b"?>" + dtd, 1))
    assert len(read_musicxml(file)) == 1
    with pytest.raises(TimeoutError):
        server.accept()
    server.close()
    assert not asked


def test_an_include_is_not_followed(tmp_path):
    (tmp_path / "secret.txt").write_text("secret")
    include = (
        '<work><work-title><xi:include xmlns:xi="http://www.w3.org/2001/XInclude" '
        'href="secret.txt" parse="text"/></work-title></work>'
    )
    file = tmp_path / "score.xml"
    file.write_bytes(score(part(notes("C5:4")), top=include))
    assert read_musicxml(file).title == "score"
