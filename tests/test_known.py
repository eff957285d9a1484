"""What a feel is and may be, and how large a piece, is what was chosen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass

from phrasing import limits
from phrasing.feel import FEELS, Feel
from phrasing.style import STYLES


def entries(part: object, where: str = "") -> Iterator[tuple[str, object]]:
    """Each entry of a feel, or of what departs from it, with its bounds."""
    if is_dataclass(part):
        for each in fields(part):
            place = f"{where}.{each.name}"
            yield from entries(getattr(part, each.name), place)
            yield f"{place} may be", sorted(map(str, each.metadata.items()))
    elif isinstance(part, Mapping):
        for name, value in part.items():
            yield from entries(value, f"{where}.{name}")
    else:
        yield where, part


def test_known_limits(known):
    table = {name: str(value) for name, value in vars(limits).items() if name.isupper()}
    known("limits", table)


def test_known_feels_and_styles(known):
    found = dict(entries(Feel(), "feel"))
    for name, own in FEELS.items():
        found |= dict(entries(own, name))
    for style in STYLES:
        found |= dict(entries(style, style.name))
    known("feel", {place: str(value) for place, value in found.items()})
