"""Opening a score: the XML of a MusicXML file, safely, and a name for each of its notes.

What is trusted in a file is its content, not its ending. Nothing outside the file is ever
read: no document type definition, no external entity, no network, and nothing that a
compressed score unpacks to touches the disk.
"""

from __future__ import annotations

import posixpath
import zipfile
import zlib
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from phrasing.errors import PhrasingError
from phrasing.limits import XML_BYTES
from phrasing.reading.source import bytes_of

if TYPE_CHECKING:
    from lxml import etree


START = 4096
"""Bytes in which a score names itself."""
CONTAINER = "META-INF/container.xml"
SCORE_TYPES = (
    "",
    "application/vnd.recordare.musicxml",
    "application/vnd.recordare.musicxml+xml",
    "application/xml",
    "text/xml",
)
"""Media types of a rootfile that is a score (the MusicXML 4.0 container; none: a score)."""

UNZIP_ERRORS = (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError)
AGAIN = "export the score again as MusicXML"


def open_score(path: Path) -> etree._ElementTree:
    """The partwise XML tree of a MusicXML file, plain or compressed, in any encoding.

    Comments, processing instructions, CDATA and white space are kept. A timewise score is
    turned into a partwise one; anything else in it is as in the file.

    Raises ``PhrasingError`` for a file that cannot be read, is damaged (naming the line), is
    too large, or is no score.
    """
    content = bytes_of(path)
    _check_size(content, path)
    if content.startswith(b"PK"):
        content = _unpacked(content, path)
    tree = _parsed(content, path)
    _check_is_score(tree, path)
    if tree.getroot().tag == "score-timewise":
        _make_partwise(tree)
    return tree


def note_names(tree: etree._ElementTree) -> dict[etree._Element, str]:
    """A name for every ``<note>`` in document order, unique in the file.

    A note's name is its ``id``. Where it has none (or one that an earlier element has taken,
    which XML does not allow), it is a prefix and the note's ordinal in the document from 1:
    ``n1``, ``n2``, …; the prefix grows to ``nn`` and so on until no id in the file begins
    that way. The same file always gives the same names, and a file written with these as its
    ids gives them again.
    """
    named = [(element, element.get("id", "")) for element in _named_elements(tree)]
    prefix = "n"
    while any(own.startswith(prefix) and own[len(prefix) :].isdigit() for _, own in named):
        prefix += "n"
    notes = list(tree.getroot().iter("note"))
    names = {note: f"{prefix}{place}" for place, note in enumerate(notes, 1)}
    seen: set[str] = set()
    for element, own in named:
        if element.tag == "note" and own not in seen:
            names[element] = own
        seen.add(own)
    return names


def _named_elements(tree: etree._ElementTree) -> list[etree._Element]:
    """All elements that have an id, in document order."""
    found: Any = tree.getroot().xpath("descendant-or-self::*[@id != '']")
    return list(found)


def chord_of(note: etree._Element) -> list[etree._Element]:
    """All notes of the chord that a note is in, as they stand in the file; itself if alone.

    The first one is the chord's main note: signs for the whole chord belong on it, and
    directions before it.

    >>> from lxml import etree
    >>> measure = etree.fromstring("<measure><note/><note><chord/></note><note/></measure>")
    >>> [len(chord_of(note)) for note in measure]
    [2, 2, 1]
    """
    chord = [note]
    while chord[0].find("chord") is not None:
        before = next(chord[0].itersiblings("note", preceding=True), None)
        if before is None:
            break
        chord.insert(0, before)
    for after in note.itersiblings("note"):
        if after.find("chord") is None:
            break
        chord.append(after)
    return chord


def _check_size(content: bytes, path: Path) -> None:
    if len(content) > XML_BYTES:
        raise PhrasingError(
            f"{path}: holds more than {XML_BYTES // 2**20} MB of score; "
            "save the melody's part alone and read that."
        )


def _unpacked(content: bytes, path: Path) -> bytes:
    """The score inside a compressed one, by way of its container."""
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            return _member(archive, _score_name(archive, path), path)
    except UNZIP_ERRORS as error:
        raise PhrasingError(
            f"{path}: the compressed score is damaged and does not unpack; {AGAIN}."
        ) from error


def _score_name(archive: zipfile.ZipFile, path: Path) -> str:
    """The score's name in the archive: what the container points to, else the only score."""
    names = archive.namelist()
    named = CONTAINER in names
    wanted = _rootfile(_member(archive, CONTAINER, path), path) if named else ""
    spelled = {_plain(name): name for name in reversed(names)}
    found = wanted if wanted in names else spelled.get(_plain(wanted))
    found = found or (None if wanted else _any_score(archive))
    if found is not None:
        return found
    if wanted:
        problem = f"its container points to “{wanted}”, which is not in it"
    elif named:
        problem = f"its {CONTAINER} names no score (no rootfile)"
    else:
        problem = f"is a zip archive but not a compressed score (it has no {CONTAINER})"
    raise PhrasingError(f"{path}: {problem}; {AGAIN}.")


def _plain(name: str) -> str:
    """A name as it is compared: without "./" or "/" before it, or signs for spaces."""
    return posixpath.normpath("/" + unquote(name)).lstrip("/")


def _any_score(archive: zipfile.ZipFile) -> str | None:
    """The first file of the archive that begins as a score does."""
    for name in archive.namelist():
        if name.lower().endswith((".xml", ".musicxml")) and not name.startswith("META-INF"):
            with archive.open(name) as member:
                start = member.read(START).replace(b"\0", b"")
            if b"<score-partwise" in start or b"<score-timewise" in start:
                return name
    return None


def _member(archive: zipfile.ZipFile, name: str, path: Path) -> bytes:
    """One file of the archive, unpacked in memory and never beyond the limit."""
    with archive.open(name) as member:
        content = member.read(XML_BYTES + 1)
    _check_size(content, path)
    return content


def _rootfile(container: bytes, path: Path) -> str:
    """The name of the first score that the container lists; empty where it names none."""
    for rootfile in _parsed(container, path).getroot().iter("{*}rootfile"):
        name = rootfile.get("full-path", "")
        if name and rootfile.get("media-type", "") in SCORE_TYPES:
            return name
    return ""


def _parsed(content: bytes, path: Path) -> etree._ElementTree:
    from lxml import etree

    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        strip_cdata=False,
    )
    try:
        tree = etree.fromstring(content, parser).getroottree()
    except (etree.XMLSyntaxError, ValueError, LookupError) as error:
        line = getattr(error, "lineno", None)
        where = f" in line {line}" if line else ""
        raise PhrasingError(
            f"{path}: is damaged{where}, or is no MusicXML; {AGAIN}."
        ) from error
    _refuse_entities(tree, path)
    return tree


def _refuse_entities(tree: etree._ElementTree, path: Path) -> None:
    dtd: Any = tree.docinfo.internalDTD
    if dtd is not None and any(True for _ in dtd.iterentities()):
        raise PhrasingError(
            f"{path}: declares entities of its own, which no score needs; {AGAIN}."
        )


def _check_is_score(tree: etree._ElementTree, path: Path) -> None:
    root = tree.getroot()
    if root.tag in ("score-partwise", "score-timewise"):
        return
    name = root.tag.rpartition("}")[2]
    if name == "opus":
        raise PhrasingError(
            f"{path}: is an opus, a list of scores; read one of the scores it lists instead."
        )
    raise PhrasingError(f"{path}: is not a MusicXML score (it begins with <{name}>); {AGAIN}.")


def _make_partwise(tree: etree._ElementTree) -> None:
    """Turn measures of parts into parts of measures, in place."""
    from lxml import etree

    root = tree.getroot()
    parts: dict[str, etree._Element] = {}
    for measure in root.findall("measure"):
        for piece in measure.findall("part"):
            name = piece.get("id", "")
            if name not in parts:
                parts[name] = etree.Element("part", id=name)
            bar = etree.SubElement(parts[name], "measure")
            bar.attrib.update(measure.attrib)
            bar.extend(list(piece))
            bar.text = piece.text
            # An id can be given to one element only: the first part's bar keeps it.
            if "id" in measure.attrib:
                del measure.attrib["id"]
        root.remove(measure)
    root.tag = "score-partwise"
    root.extend(parts.values())
    tree.docinfo.clear()
