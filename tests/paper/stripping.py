"""Taking our additions out of an annotated score again, by the author's file."""

from __future__ import annotations

from pathlib import Path

from lxml import etree

from phrasing.reading.musicxml.file import open_score


def additions_removed(author: Path, annotated: bytes) -> bytes:
    """The annotated score without what was added, in canonical form without blank text."""
    old = open_score(author)
    new = etree.ElementTree(etree.fromstring(annotated, etree.XMLParser(load_dtd=False)))
    for direction in list(new.iter("direction")):
        wedge = direction.find("direction-type/wedge")
        if wedge is not None and wedge.get("number") == "6":
            direction.getparent().remove(direction)
        if direction.find("sound/swing") is not None and old.find(".//swing") is None:
            direction.getparent().remove(direction)
    for before, after in zip(old.iter("note"), new.iter("note"), strict=True):
        _strip_note(before, after)
    return canonical(new)


def _strip_note(before: etree._Element, after: etree._Element) -> None:
    if before.get("id") is None:
        after.attrib.pop("id", "")
    head = after.find("notehead")
    if head is not None and before.find("notehead") is None:
        after.remove(head)
    elif head is not None and before.find("notehead").get("parentheses") is None:
        head.attrib.pop("parentheses", "")
    written = [sign.tag for sign in before.iterfind("notations/articulations/*")]
    for sign in after.findall("notations/articulations/*"):
        if sign.tag not in written:
            sign.getparent().remove(sign)
    for path in ("notations/articulations", "notations"):
        empty = after.find(path)
        if empty is not None and not len(empty) and before.find(path) is None:
            empty.getparent().remove(empty)


def canonical(tree: etree._ElementTree) -> bytes:
    """Canonical XML with comments, blank text left out."""
    copy = etree.ElementTree(etree.fromstring(etree.tostring(tree)))
    for element in copy.iter():
        element.text = element.text if (element.text or "").strip() else None
        element.tail = element.tail if (element.tail or "").strip() else None
    return etree.tostring(copy, method="c14n", with_comments=True)
