"""The MusicXML 4.0 schema (W3C community licence), as the ``musicxml`` package carries it."""

from __future__ import annotations

import re
from functools import cache
from importlib.metadata import files
from pathlib import Path

from lxml import etree

XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
  targetNamespace="http://www.w3.org/XML/1998/namespace">
  <xs:attribute name="lang" type="xs:language"/>
  <xs:attribute name="space" type="xs:NCName"/>
</xs:schema>"""
XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
  targetNamespace="http://www.w3.org/1999/xlink">
  <xs:attribute name="href" type="xs:anyURI"/>
  <xs:attribute name="type" type="xs:string"/>
  <xs:attribute name="role" type="xs:token"/>
  <xs:attribute name="title" type="xs:token"/>
  <xs:attribute name="show" type="xs:string"/>
  <xs:attribute name="actuate" type="xs:string"/>
</xs:schema>"""
"""What the schema imports from the web, as far as it uses it."""


class _Local(etree.Resolver):
    def resolve(self, url, public_id, context):
        content = {"xml.xsd": XML, "xlink.xsd": XLINK}.get(url.rpartition("/")[2])
        return self.resolve_string(content, context) if content else None


@cache
def _schema() -> etree.XMLSchema:
    listed = next(f for f in files("musicxml") or () if f.name == "musicxml_4_0.xsd")
    text = Path(listed.locate()).read_text(encoding="utf-8")
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    return etree.XMLSchema(etree.fromstring(re.sub(r"^<\?xml[^>]*>", "", text), parser))


def faults(score: bytes) -> list[str]:
    """What is not as the schema wants it, a line each; empty for a valid score."""
    schema = _schema()
    tree = etree.fromstring(score, etree.XMLParser(load_dtd=False, no_network=True))
    return [] if schema.validate(tree) else [str(fault) for fault in schema.error_log]
