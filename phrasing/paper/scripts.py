"""Words in other scripts: which way they run, and outlines from the computer's own founts.

Order is Unicode's bidirectional algorithm (UAX 9, by python-bidi); shapes and their joins come
from HarfBuzz. A sign that no fount has is left out; ``unprintable`` says which.
"""

from __future__ import annotations

import shutil
import subprocess
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phrasing.paper.fonts import (
    IN_MUSIC,
    ROMAN,
    has_sign,
    printable,
)

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont


FOLDERS = (
    "/usr/share/fonts",
    "/usr/local/share/fonts",
    "~/.local/share/fonts",
    "~/.fonts",
    "/System/Library/Fonts",
    "/Library/Fonts",
    "~/Library/Fonts",
    "C:/Windows/Fonts",
)
"""Where founts lie on Linux, macOS and Windows, for where no list of them can be asked."""
KINDS = (".ttf", ".otf", ".ttc", ".otc")
LEFTWARDS = ("R", "AL")
"""The Unicode classes of scripts that run from right to left."""


@dataclass(frozen=True)
class Shaped:
    """A run as one path (y up, 1000 to the em), its advance in ems, and what it says."""

    path: str
    advance: float
    text: str


def in_visual_order(text: str) -> list[tuple[str, bool]]:
    """The text in pieces from left to right, each in reading order, and if it runs leftwards.

    >>> in_visual_order("late")
    [('late', False)]
    """
    if not any(unicodedata.bidirectional(sign) in LEFTWARDS for sign in text):
        return [(text, False)] if text else []
    from bidi import get_display

    seen = str(get_display(text))
    pieces = [("".join(run), leftwards) for leftwards, run in groupby(seen, key=_is_leftwards)]
    return [(run[::-1] if leftwards else run, leftwards) for run, leftwards in _held(pieces)]


def _is_leftwards(sign: str) -> bool:
    return unicodedata.bidirectional(sign) in LEFTWARDS or (
        unicodedata.bidirectional(sign) == "NSM"
    )


def _held(pieces: Sequence[tuple[str, bool]]) -> list[tuple[str, bool]]:
    """Spaces between two pieces that run leftwards belong to them."""
    held: list[tuple[str, bool]] = []
    for at, (run, leftwards) in enumerate(pieces):
        last = at + 1 == len(pieces)
        between = held and held[-1][1] and not last and not run.strip()
        if held and (between or held[-1][1] is leftwards):
            held[-1] = (held[-1][0] + run, held[-1][1])
        else:
            held.append((run, leftwards))
    return held


# Founts of the computer


@dataclass(frozen=True)
class Face:
    """A fount file and which of its faces (0 but in collections)."""

    file: str
    index: int


@cache
def faces_with(sign: str, bold: bool = False) -> tuple[Face, ...]:
    """The computer's faces that have a sign, upright ones of the weight and serifs first."""
    found = _listed(sign) if shutil.which("fc-list") else _looked_up(sign)
    weights = ("bold", "cjk-bold") if bold else ("regular", "cjk-regular")
    return tuple(sorted(found, key=lambda face: _rank(face, weights)))


def _listed(sign: str) -> list[Face]:
    """As fontconfig lists them."""
    asked = ["fc-list", f":charset={ord(sign):x}", "--format=%{file}\t%{index}\n"]
    said = subprocess.run(asked, capture_output=True, text=True, check=False).stdout
    pairs = (line.rpartition("\t") for line in said.splitlines())
    return [
        Face(file, int(index) & 0xFFFF)
        for file, _, index in pairs
        if index.isdigit() and file.lower().endswith(KINDS)
    ]


def _looked_up(sign: str) -> list[Face]:
    return [Face(file, 0) for file in _files() if ord(sign) in _codes(Face(file, 0))]


@cache
def _files() -> tuple[str, ...]:
    folders = [Path(folder).expanduser() for folder in FOLDERS]
    files = (file for folder in folders if folder.is_dir() for file in folder.rglob("*"))
    return tuple(sorted(str(file) for file in files if file.suffix.lower() in KINDS))


def _rank(face: Face, weights: tuple[str, ...]) -> tuple[bool, bool, bool, str, int]:
    name = Path(face.file).stem.lower()
    special = any(word in name for word in ("italic", "oblique", "mono", "color", "math"))
    serif = any(word in name for word in ("serif", "naskh"))
    return special, not serif, not name.endswith(weights), face.file, face.index


@cache
def _codes(face: Face) -> frozenset[int]:
    """The signs of a face that are outlines; none where they are coloured pictures."""
    from fontTools.ttLib import TTLibError

    try:
        font = _opened(face)
        drawn = {"glyf", "CFF ", "CFF2"} & set(font.keys())
        return frozenset(font.getBestCmap() or {}) if drawn else frozenset()
    except (OSError, TTLibError, KeyError, AssertionError):
        return frozenset()


def _opened(face: Face) -> TTFont:
    from fontTools.ttLib import TTFont

    return TTFont(face.file, fontNumber=face.index, lazy=True)


@cache
def face_for(sign: str, bold: bool = False) -> Face | None:
    """The face that a sign is taken from; None where the computer has none with outlines."""
    return next((face for face in faces_with(sign, bold) if ord(sign) in _codes(face)), None)


def unprintable(text: str) -> str:
    """The signs of a text that no fount at hand has, each once.

    >>> unprintable("Late Bus Home")
    ''
    """
    return "".join(
        dict.fromkeys(
            sign
            for sign in printable(text)
            if sign not in IN_MUSIC
            and not (has_sign(sign) or has_sign(sign, ROMAN.spare))
            and not _is_hidden(sign)
            and face_for(sign) is None
        )
    )


def _is_hidden(sign: str) -> bool:
    """Marks that only steer their neighbours: joiners, directions, variants."""
    return unicodedata.category(sign) == "Cf" or 0xFE00 <= ord(sign) <= 0xFE0F


# Shapes


@cache
def shaped(text: str, bold: bool, leftwards: bool) -> Shaped | None:
    """A run drawn from the computer's founts; None where they have nothing of it."""
    paths, advance = [], 0.0
    parts = list(_by_face(text, bold))
    for face, signs in reversed(parts) if leftwards else parts:
        for path, width in _glyphs(face, signs, leftwards, advance * 1000):
            paths.append(path)
            advance += width
    return Shaped(" ".join(filter(None, paths)), advance, text) if advance else None


def _by_face(text: str, bold: bool) -> Iterator[tuple[Face, str]]:
    """The text cut where the fount changes; what none has is left out."""
    face: Face | None = None
    run = ""
    for sign in text:
        own = face if sign == " " or _is_hidden(sign) else _same_or_new(sign, face, bold)
        if own != face and run and face:
            yield face, run
            run = ""
        if own is not None:
            face, run = own, run + sign
    if run and face:
        yield face, run


def _same_or_new(sign: str, face: Face | None, bold: bool) -> Face | None:
    return face if face is not None and ord(sign) in _codes(face) else face_for(sign, bold)


def _glyphs(
    face: Face, text: str, leftwards: bool, start: float
) -> Iterator[tuple[str, float]]:
    """Each glyph's path, moved to its place, and its advance in ems."""
    import uharfbuzz as hb
    from fontTools.misc.transform import Identity
    from fontTools.pens.svgPathPen import SVGPathPen
    from fontTools.pens.transformPen import TransformPen

    font = _harfbuzz(face)
    scale = 1000 / font.face.upem
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if leftwards else "ltr"
    hb.shape(font, buffer)
    x = start
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        pen = SVGPathPen(None, ntos=lambda number: f"{number:.1f}".removesuffix(".0"))
        at = Identity.translate(x + place.x_offset * scale, place.y_offset * scale)
        font.draw_glyph_with_pen(info.codepoint, TransformPen(pen, at.scale(scale)))
        x += place.x_advance * scale
        yield pen.getCommands(), place.x_advance * scale / 1000


@cache
def _harfbuzz(face: Face) -> Any:
    import uharfbuzz as hb

    blob = hb.Blob.from_file_path(face.file)
    return hb.Font(hb.Face(blob, face.index))
