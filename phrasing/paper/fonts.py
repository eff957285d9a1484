"""The founts of a sheet: two for text, one for music, and one to fall back on.

Words are set in Alegreya and Alegreya Sans, which this package carries (``founts/``); signs
that they lack come from Liberation Serif, and music from Bravura by SMuFL code points, both
shipped with the engraver. All are under the SIL Open Font License.
"""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont


MUSIC = "Bravura"
IN_MUSIC = "♭♮♯"
"""Signs in words that are taken from the music fount."""
SERIF, SANS, SPARE = "Alegreya", "Alegreya Sans", "Liberation Serif"
FAMILIES = {
    SERIF: "Alegreya, 'Liberation Serif', Times, serif",
    SANS: "'Alegreya Sans', 'Liberation Sans', Arial, sans-serif",
    SPARE: "'Liberation Serif', 'Times New Roman', Times, serif",
}
"""Each text fount as a style sheet asks for it, with what else will do."""
FILES = {
    (SERIF, False, False): "serif",
    (SERIF, False, True): "serif-italic",
    (SERIF, True, False): "serif-bold",
    (SERIF, True, True): "serif-bold",
    (SANS, False, False): "sans",
    (SANS, False, True): "sans-italic",
    (SANS, True, False): "sans-bold",
    (SANS, True, True): "sans-bold",
}
"""The file of each cut (family, bold, italic)."""


@dataclass(frozen=True)
class Style:
    """Which cut of a text fount; ``signs`` are the accidentals of the music fount."""

    bold: bool = False
    italic: bool = False
    signs: bool = False
    family: str = SERIF

    @property
    def name(self) -> str:
        """The cut's name, as a PDF calls it."""
        if self.signs:
            return "BravuraSigns"
        return self.family.replace(" ", "") + "-Bold" * self.bold + "-Italic" * self.italic

    @property
    def spare(self) -> Style:
        """The same cut of the fount to fall back on."""
        return replace(self, family=SPARE)


ROMAN, BOLD, ITALIC = Style(), Style(bold=True), Style(italic=True)
PLAIN, STRONG, SLANTED = (
    Style(family=SANS),
    Style(bold=True, family=SANS),
    Style(italic=True, family=SANS),
)
"""The cuts of the second text fount: for chord symbols, directions and small print."""
ACCIDENTALS = Style(signs=True)


@dataclass(frozen=True)
class Glyph:
    """A sign of the music fount: its SVG path (y up, 1000 to the em) and its advance."""

    path: str
    advance: float


def engravers_data() -> Path:
    """The folder of the engraver's own fonts and tables."""
    import verovio

    return Path(verovio.__file__).parent / "data"


@cache
def _spare_cuts() -> dict[tuple[bool, bool], bytes]:
    """The compressed cuts of the fount to fall back on, by (bold, italic)."""
    sheet = (engravers_data() / "Liberation.css").read_text(encoding="ascii")
    cuts = {}
    for rule in sheet.split("@font-face")[1:]:
        packed = re.search(r"base64,([A-Za-z0-9+/=]+)", rule)
        if packed:
            cut = ("font-weight: bold" in rule, "font-style: italic" in rule)
            cuts[cut] = base64.b64decode(packed[1])
    return cuts


def packed_font(style: Style) -> bytes:
    """A cut of a text fount as a compressed (WOFF2) file, as a page embeds it."""
    if style.family == SPARE:
        return _spare_cuts()[style.bold, style.italic]
    name = FILES[style.family, style.bold, style.italic]
    return (Path(__file__).parent / "founts" / f"{name}.woff2").read_bytes()


LATIN = "".join(map(chr, range(0x20, 0x180)))


@cache
def font_faces(*styles: Style) -> str:
    """A style sheet that carries these cuts in itself, as far as Latin words need them."""
    return faces_for(dict.fromkeys(styles, LATIN))


def faces_for(words: Mapping[Style, str]) -> str:
    """A style sheet that carries in itself what these words need, each in its cut.

    >>> faces_for({Style(): "late bus"}).startswith("@font-face")
    True
    """
    return "\n".join(
        _font_face(style, "".join(sorted(set(signs)))) for style, signs in words.items()
    )


@cache
def _font_face(style: Style, signs: str) -> str:
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    subsetter = Subsetter(Options(notdef_outline=True, layout_features=[]))
    subsetter.populate(text=signs)
    carried = TTFont(io.BytesIO(packed_font(style)), recalcTimestamp=False)
    subsetter.subset(carried)
    carried.flavor, carried.flavorData = "woff2", None
    out = io.BytesIO()
    carried.save(out)
    packed = base64.b64encode(out.getvalue()).decode("ascii")
    return (
        f"@font-face {{ font-family: '{style.family}'; "
        f"font-weight: {'bold' if style.bold else 'normal'}; "
        f"font-style: {'italic' if style.italic else 'normal'}; "
        f"src: url(data:font/woff2;base64,{packed}) format('woff2'); }}"
    )


@cache
def text_font(style: Style) -> TTFont:
    """A cut of a text fount, unpacked."""
    from fontTools.ttLib import TTFont

    return TTFont(io.BytesIO(packed_font(style)), recalcTimestamp=False)


@cache
def text_font_file(style: Style) -> bytes:
    """The same as a TrueType file, to be put into a PDF."""
    font = _accidentals_font() if style.signs else text_font(style)
    font.flavor = None
    out = io.BytesIO()
    font.save(out, reorderTables=None)
    return out.getvalue()


def _accidentals_font() -> TTFont:
    """The accidentals alone as a TrueType fount, so that a PDF's words hold them as such."""
    from fontTools.fontBuilder import FontBuilder
    from fontTools.pens.cu2quPen import Cu2QuPen
    from fontTools.pens.ttGlyphPen import TTGlyphPen
    from fontTools.svgLib.path import parse_path

    names = {sign: f"uni{ord(sign):04X}" for sign in IN_MUSIC}
    outlines = {".notdef": TTGlyphPen(None).glyph()}
    for sign, name in names.items():
        pen = TTGlyphPen(None)
        parse_path(music_glyph(sign).path, Cu2QuPen(pen, 1.0))
        outlines[name] = pen.glyph()
    widths = {name: (round(music_glyph(sign).advance), 0) for sign, name in names.items()}
    builder = FontBuilder(1000, isTTF=True)
    builder.setupHead(unitsPerEm=1000, created=0, modified=0)
    builder.setupGlyphOrder([".notdef", *names.values()])
    builder.setupCharacterMap({ord(sign): name for sign, name in names.items()})
    builder.setupGlyf(outlines)
    builder.setupHorizontalMetrics({".notdef": (500, 0), **widths})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": ACCIDENTALS.name, "psName": ACCIDENTALS.name})
    builder.setupOS2()
    builder.setupPost()
    builder.font.recalcTimestamp = False
    return builder.font


@cache
def _advances(style: Style) -> dict[str, float]:
    """Every sign of a cut with its advance, in ems."""
    font = text_font(style)
    em, widths = font["head"].unitsPerEm, font["hmtx"]
    return {chr(code): widths[name][0] / em for code, name in font.getBestCmap().items()}


def printable(text: str) -> str:
    """Text without what XML cannot hold: control signs and halves of surrogate pairs."""
    return "".join(
        sign
        for sign in text
        if sign >= " " and not "\ud800" <= sign <= "\udfff" and sign not in "\ufffe\uffff"
    )


def has_sign(sign: str, style: Style = ROMAN) -> bool:
    """Whether a text fount has a sign."""
    return sign in _advances(style)


def text_width(text: str, size: float, style: Style = ROMAN) -> float:
    """How wide a run of text is, in the unit of ``size``; an unknown sign counts an em."""
    if style.signs:
        return size * sum(music_glyph(sign).advance for sign in text) / 1000
    advances = _advances(style)
    return size * sum(advances.get(sign, 1.0) for sign in text)


@cache
def music_glyph(sign: str) -> Glyph:
    """A sign of the music fount; one that it lacks is empty."""
    from lxml import etree

    code = f"{ord(sign):04X}"
    file = engravers_data() / MUSIC / f"{code}.xml"
    if not file.exists():
        return Glyph("", 0.0)
    found = etree.parse(file).getroot().find("path")
    return Glyph("" if found is None else found.get("d", ""), _music_advances()[code])


@cache
def _music_advances() -> dict[str, float]:
    from lxml import etree

    boxes = etree.parse(engravers_data() / f"{MUSIC}.xml").getroot()
    return {g.get("c", ""): float(g.get("h-a-x", "0")) for g in boxes.iter("g")}
