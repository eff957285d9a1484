"""Tidy SVG pages as one PDF: paths as paths, words as words that can be selected and found."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from phrasing.paper.drawing import Outline, Words, definitions, drawn
from phrasing.paper.fonts import Style, text_font_file

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform
    from lxml import etree


Size = tuple[float, float]


def pdf_of(pages: Sequence[etree._Element], size: Size, title: str) -> bytes:
    """The pages (SVG, ``size`` in points) as a PDF: the same pages give the same bytes."""
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    canvas = Canvas(out, pagesize=size, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("phrasing")
    for page in pages:
        paths = definitions(page)
        for item in drawn(page, paths):
            if isinstance(item, Words):
                _set(canvas, item, size[1])
            else:
                _draw(canvas, item, size[1])
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _set(canvas: Any, words: Words, height: float) -> None:
    x, y = words.matrix.transformPoint((words.x, words.y))
    canvas.setFillColor(_colour(words.fill))
    canvas.setFont(_font(words.style), words.size * words.matrix[0])
    canvas.drawString(x, height - y, words.text)


@cache
def _font(style: Style) -> str:
    """The name of a cut of the text fount, made known to the PDF library."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    pdfmetrics.registerFont(TTFont(style.name, io.BytesIO(text_font_file(style))))
    return style.name


def _draw(canvas: Any, shape: Outline, height: float) -> None:
    fills = shape.fill != "none"
    if not shape.path or not (fills or shape.stroke):
        return
    path = canvas.beginPath()
    _trace(shape.path, shape.matrix, height, path)
    canvas.setFillColor(_colour(shape.fill))
    canvas.setStrokeColor(_colour("currentColor"))
    canvas.setLineWidth(shape.stroke * shape.matrix[0])
    canvas.drawPath(path, stroke=1 if shape.stroke else 0, fill=1 if fills else 0)


def _trace(data: str, matrix: Transform, height: float, path: Any) -> None:
    """Draw SVG path data through ``matrix`` and upside down onto a PDF path."""
    for name, points in _steps(data):
        turned = [matrix.transformPoint(point) for point in points]
        numbers = [number for x, y in turned for number in (x, height - y)]
        getattr(path, name)(*numbers)


@cache
def _steps(data: str) -> tuple[tuple[str, tuple[tuple[float, float], ...]], ...]:
    """SVG path data as calls of the PDF library's path."""
    from fontTools.pens.basePen import BasePen
    from fontTools.svgLib.path import parse_path

    steps: list[tuple[str, tuple[tuple[float, float], ...]]] = []

    class Pen(BasePen):  # type: ignore[misc]
        def _moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802
            steps.append(("moveTo", (point,)))

        def _lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
            steps.append(("lineTo", (point,)))

        def _curveToOne(self, *points: tuple[float, float]) -> None:  # noqa: N802
            steps.append(("curveTo", points))

        def _closePath(self) -> None:  # noqa: N802
            steps.append(("close", ()))

    parse_path(data, Pen(None))
    return tuple(steps)


def _colour(fill: str) -> Any:
    from reportlab.lib.colors import HexColor, black

    return HexColor(fill) if fill.startswith("#") else black
