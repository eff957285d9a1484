"""The PDF looks as the picture does: each word in its own colour."""

from __future__ import annotations

import numpy as np
import pypdfium2

from phrasing.paper.drawing import element
from phrasing.paper.fonts import BOLD
from phrasing.paper.lettering import set_words
from phrasing.paper.pdf import pdf_of


def test_each_word_has_its_own_colour() -> None:
    """A grey word between two black ones: what comes after it is black again."""
    page = element("svg", None)
    for y, fill in ((40.0, "black"), (80.0, "#888888"), (120.0, "black")):
        set_words(page, "HHHH", 20.0, y, 24.0, BOLD, fill=fill)
    document = pypdfium2.PdfDocument(pdf_of([page], (150.0, 150.0), "Colours"))
    picture = document[0].render(scale=2).to_numpy().min(axis=2)
    darkest = [int(picture[2 * y - 40 : 2 * y].min()) for y in (40, 80, 120)]
    assert darkest[0] < 30
    assert abs(darkest[1] - 0x88) < 30
    assert darkest[2] < 30
    assert np.all(picture[260:] > 200)
