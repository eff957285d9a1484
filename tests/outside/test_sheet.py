"""Sheets as others see them: their words, their pixels, and how many marks there are.

PDFs are read by PDFium, SVG pages drawn by resvg, marks counted by music21. None of them
knows how the page was made.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from phrasing.marking.precedence import mark
from phrasing.paper.engraving import engrave
from phrasing.paper.fonts import BOLD, ITALIC, PLAIN, ROMAN, SLANTED, STRONG, text_font_file
from phrasing.paper.musicxml import new_score
from phrasing.paper.sheet import write_sheet
from phrasing.score.instruments import BY_KEY
from phrasing.score.melody import ChordSymbol, Melody
from tests.lines import melody
from tests.paper.test_engraving import ABOVE_OR_BELOW, signs

pytestmark = pytest.mark.outside

BARS = (
    "C5:1 D5:1 E5:1 G5:1 r:1 A4:1 C5:2 A5:1 G5:1 F5:1 E5:1 D5:1 C5:1 B4:1 A4:1 "
    "G4:1 C5:1 A4:1 D5:1 E5:1 F5:1 D5:1 B4:1 C5:2 r:1 E5:2 G5:2 r:1 F5:1 D5:1 E5:2 C5:1 r:3 "
)
CHORDS = ("C6", "A7♭9", "Dm7", "G13", "F♯m7♭5")


def tune(times: int) -> Melody:
    line = melody(BARS * times, tempo=152)
    symbols = [ChordSymbol(bar.onset, CHORDS[i % 5]) for i, bar in enumerate(line.bars)]
    return replace(line, title="Grüße aus der Łódź-Straße", chords=tuple(symbols))


@pytest.fixture
def founts(tmp_path: Path) -> list[str]:
    """The text founts as files, so that the second renderer needs none of the system's."""
    files = []
    for style in (ROMAN, BOLD, ITALIC, PLAIN, STRONG, SLANTED):
        file = tmp_path / f"{style.name}.ttf"
        file.write_bytes(text_font_file(style))
        files.append(str(file))
    return files


def pixels_of_pdf(path: Path, page: int) -> np.ndarray:
    """A page in grey at 144 pixels an inch."""
    import pypdfium2

    picture = pypdfium2.PdfDocument(path)[page].render(scale=2, grayscale=True)
    return picture.to_numpy().squeeze()


def pixels_of_svg(path: Path, founts: list[str], folder: Path) -> np.ndarray:
    import resvg_py
    from PIL import Image

    png = resvg_py.svg_to_bytes(
        svg_path=str(path), dpi=144, skip_system_fonts=True, font_files=founts
    )
    picture = folder / "page.png"
    picture.write_bytes(bytes(png))
    return np.asarray(Image.open(picture).convert("L"))


def blurred(pixels: np.ndarray) -> np.ndarray:
    """Means of squares of 8 by 8 pixels: where there is ink, whatever its edges look like."""
    down, across = (size // 8 for size in pixels.shape)
    squares = pixels[: down * 8, : across * 8].reshape(down, 8, across, 8)
    return squares.mean((1, 3))


@pytest.mark.parametrize("layout", ["marked", "facing", "exercise"])
def test_two_renderers_see_the_same_page(
    layout: str, tmp_path: Path, founts: list[str]
) -> None:
    line = tune(3)
    options = {"layout": layout, "instrument": BY_KEY["alto-sax"], "swing": (2, 1)}
    write_sheet(line, mark(line), tmp_path / "sheet.pdf", reasons=True, **options)
    svgs = write_sheet(line, mark(line), tmp_path / "sheet.svg", reasons=True, **options)
    for number, file in enumerate(svgs):
        pdf = blurred(pixels_of_pdf(tmp_path / "sheet.pdf", number))
        svg = blurred(pixels_of_svg(file, founts, tmp_path))
        rows, columns = (min(a, b) for a, b in zip(pdf.shape, svg.shape, strict=True))
        pdf, svg = pdf[:rows, :columns], svg[:rows, :columns]
        assert (pdf < 250).mean() > 0.02  # a page is not empty
        assert np.corrcoef(pdf.ravel(), svg.ravel())[0, 1] > 0.98
        assert np.abs(pdf - svg).max() < 50  # of 255, in a square of 1.4 mm


def test_the_words_of_a_pdf_can_be_selected(tmp_path: Path) -> None:
    import pypdfium2

    line = tune(2)
    write_sheet(
        line, mark(line), tmp_path / "sheet.pdf",
        instrument=BY_KEY["trumpet"], swing=(3, 2), reasons=True,
    )  # fmt: skip
    document = pypdfium2.PdfDocument(tmp_path / "sheet.pdf")
    said = " ".join(page.get_textpage().get_text_range() for page in document)
    joined = "".join(said.split())
    for words in (
        "Grüße aus der Łódź-Straße", "Trumpet in B♭", "Swing 1.5 : 1", "152", "D6", "B7♭9",
        "Em7", "G♯m7♭5", "marcato", "decrescendo",
    ):  # fmt: skip
        assert "".join(words.split()) in joined, words
    assert document.get_metadata_value("Title") == "Grüße aus der Łódź-Straße"


def test_no_ink_in_the_margins(tmp_path: Path) -> None:
    line = tune(12)
    for paper in ("a4", "letter"):
        write_sheet(line, mark(line), tmp_path / f"{paper}.pdf", paper=paper, reasons=True)
        import pypdfium2

        pages = len(pypdfium2.PdfDocument(tmp_path / f"{paper}.pdf"))
        for page in range(pages):
            dark = pixels_of_pdf(tmp_path / f"{paper}.pdf", page) < 200
            edge = 36  # half points: a quarter of an inch, which printers cannot reach
            inner = dark[edge:-edge, edge:-edge]
            assert inner.sum() == dark.sum()
            assert inner.sum() > 1000


def test_as_many_signs_are_engraved_as_music21_counts_marks() -> None:
    from music21 import converter

    line = tune(4)
    made = mark(line)
    score = new_score(line, made)
    stream = converter.parseData(score.decode(), format="musicxml")
    named = {"strong accent": "E4AC", "accent": "E4A0", "staccato": "E4A2", "tenuto": "E4A4"}
    counted: Counter[str] = Counter()
    for note in stream.recurse().notes:
        for own in note.articulations:
            counted[named[own.name]] += 1
        if getattr(note, "noteheadParenthesis", False):
            counted.update({"E26A": 1, "E26B": 1})
    drawn = signs(engrave(score).svg)
    every = {code for codes in ABOVE_OR_BELOW.values() for code in codes}
    assert {code: drawn[code] for code in every if drawn[code]} == dict(counted)
    assert len(counted) >= 4
