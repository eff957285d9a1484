"""Nothing on a sheet touches anything else, in forty scores of many hands.

The scores are those that music21's corpus carries (MusicXML of Bach, Trecento composers,
Monteverdi, lead sheets, a rag, string quartets' first parts and others): what they hold was
not written for this program. The shorter ones, so that the test stays quick.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from phrasing.errors import PhrasingError
from phrasing.marking.precedence import mark
from phrasing.paper.sheet import sheet_pages
from phrasing.reading import read
from tests.paper.boxes import touching

pytestmark = pytest.mark.outside

LARGEST = 24_000
"""Bytes of a compressed file: a score of a page or three."""


def scores() -> list[str]:
    """Forty files of the corpus, spread over its folders."""
    from music21 import corpus

    every = corpus.corpora.CoreCorpus().getPaths(fileExtensions=(".mxl",))
    small = sorted(str(path) for path in every if Path(path).stat().st_size < LARGEST)
    folders: dict[str, list[str]] = {}
    for path in small:
        folders.setdefault(str(Path(path).parent), []).append(path)
    return [paths[i] for i in range(8) for paths in folders.values() if i < len(paths)]


@pytest.mark.parametrize("layout,count", [("marked", 40), ("facing", 8)])
def test_nothing_touches_anything_in_forty_scores(layout: str, count: int) -> None:
    printed = 0
    for path in scores():
        try:
            line = read(Path(path))
        except PhrasingError:
            continue
        source = Path(path) if line.ids else None
        if len(line) > 400:
            continue
        pages = sheet_pages(
            line, mark(line), source=source, swing=(2, 1), layout=layout, reasons=True
        )
        pairs = [(a.kind, b.kind) for page in pages for a, b in touching(page)]
        assert pairs == [], path
        printed += 1
        if printed == count:
            break
    assert printed == count
