"""The text founts of the sheet, made anew from the packages that their authors' fonts come in.

    npm pack @fontsource/alegreya@5.3.0 @fontsource/alegreya-sans@5.3.0
    for each in fontsource-*.tgz; do tar xzf $each --one-top-level; done
    python -m tests.founts FOLDER            # where those folders are; writes the founts anew
    python -m tests.founts FOLDER --compare  # tells what would be otherwise, and writes nothing

Of each cut all parts are put together, a glyph for each sign. Features go, since words are set
by their advances alone; figures are the lining ones, and spaces at least ``SPACE`` wide.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.statisticsPen import StatisticsPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

FOUNTS = Path(__file__).parent.parent / "phrasing" / "paper" / "founts"
CUTS = {
    "serif": ("alegreya", "400-normal", "Alegreya", "Regular"),
    "serif-bold": ("alegreya", "700-normal", "Alegreya", "Bold"),
    "serif-italic": ("alegreya", "400-italic", "Alegreya", "Italic"),
    "sans": ("alegreya-sans", "400-normal", "Alegreya Sans", "Regular"),
    "sans-bold": ("alegreya-sans", "700-normal", "Alegreya Sans", "Bold"),
    "sans-italic": ("alegreya-sans", "400-italic", "Alegreya Sans", "Italic"),
}
"""For each file: package, cut, and the names of family and style."""
PARTS = ("latin", "latin-ext", "greek", "greek-ext", "cyrillic", "cyrillic-ext", "vietnamese")
SPACE = 0.23
"""Ems: without kerning, narrower spaces do not part words."""


def parts(folder: Path, package: str, cut: str) -> Iterator[TTFont]:
    """The files of one cut, Latin first."""
    for part in PARTS:
        (file,) = folder.glob(f"fontsource-{package}-[0-9]*/**/{package}-{part}-{cut}.woff2")
        yield TTFont(file)


def lining(font: TTFont) -> dict[str, str]:
    """For each glyph that has a lining figure in its place: that figure."""
    table = font["GSUB"].table
    wanted = {
        index
        for record in table.FeatureList.FeatureRecord
        if record.FeatureTag == "lnum"
        for index in record.Feature.LookupListIndex
    }
    found: dict[str, str] = {}
    for index in sorted(wanted):
        for sub in table.LookupList.Lookup[index].SubTable:
            found |= getattr(sub, "ExtSubTable", sub).mapping
    return found


def made(folder: Path, name: str) -> TTFont:
    """One cut, put together."""
    package, cut, family, style = CUTS[name]
    glyphs = {".notdef": TTGlyphPen(None).glyph()}
    widths, codes = {".notdef": (500, 0)}, {}
    first: TTFont | None = None
    for font in parts(folder, package, cut):
        first = first or font
        figures = lining(font) if "GSUB" in font else {}
        drawn = font.getGlyphSet()
        for code, glyph in sorted(font.getBestCmap().items()):
            if code in codes:
                continue
            own = figures.get(glyph, glyph)
            pen, recorded = (
                TTGlyphPen(None),
                DecomposingRecordingPen(drawn, reverseFlipped=True),
            )
            drawn[own].draw(recorded)
            recorded.replay(pen)
            codes[code] = f"uni{code:04X}"
            glyphs[codes[code]] = pen.glyph()
            widths[codes[code]] = font["hmtx"][own]
    assert first is not None
    em = first["head"].unitsPerEm
    for blank in (codes[0x20], codes[0xA0]):
        widths[blank] = (max(widths[blank][0], round(SPACE * em)), 0)
    return built(first, glyphs, widths, codes, (family, style))


def built(first, glyphs, widths, codes, names) -> TTFont:
    """A font with the heights of ``first``, and nothing in it that tells the time."""
    builder = FontBuilder(first["head"].unitsPerEm, isTTF=True)
    builder.setupHead(unitsPerEm=first["head"].unitsPerEm, created=0, modified=0)
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap(codes)
    builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics(widths)
    heights = first["hhea"]
    builder.setupHorizontalHeader(ascent=heights.ascent, descent=heights.descent)
    family, style = names
    builder.setupNameTable(
        {"familyName": family, "styleName": style, "fullName": f"{family} {style}"}
    )
    builder.setupOS2()
    builder.setupPost()
    builder.font.recalcTimestamp = False
    builder.font.flavor = "woff2"
    return builder.font


def differences(one: TTFont, other: TTFont) -> list[str]:
    """The signs that two fonts do not draw alike (by their area and where it lies, to three
    units), or not as wide."""
    a, b = one.getBestCmap(), other.getBestCmap()
    wrong = [f"U+{code:04X}" for code in sorted(set(a) ^ set(b))]
    pictures = [font.getGlyphSet() for font in (one, other)]
    for code in sorted(set(a) & set(b)):
        pens = [StatisticsPen(each) for each in pictures]
        for each, names, pen in zip(pictures, (a, b), pens, strict=True):
            each[names[code]].draw(pen)
        facts = [(pen.area, pen.meanX, pen.meanY, pen.stddevX, pen.stddevY) for pen in pens]
        alike = all(abs(x - y) < 3 + abs(x) / 1e4 for x, y in zip(*facts, strict=True))
        if not alike or one["hmtx"][a[code]][0] != other["hmtx"][b[code]][0]:
            wrong.append(f"U+{code:04X} {chr(code)}")
    return wrong


def main(folder: Path, compare: bool) -> None:
    """Make all cuts, or tell how those that are carried differ."""
    for name in CUTS:
        font, file = made(folder, name), FOUNTS / f"{name}.woff2"
        if compare:
            out = io.BytesIO()
            font.save(out)
            wrong = differences(TTFont(file), TTFont(io.BytesIO(out.getvalue())))
            print(f"{name}: {len(wrong)} signs differ {' '.join(wrong[:20])}")
        else:
            font.save(file)


if __name__ == "__main__":
    main(Path(sys.argv[1]), "--compare" in sys.argv)
