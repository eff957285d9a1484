"""A row of bars in a chord chart: its bar lines, repeats and endings, and where chords stand.

Errors are ``ValueError`` with a sentence; the chart's reader adds the file, line and bar.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from phrasing.limits import DIGITS
from phrasing.limits import TIMES as MOST_TIMES
from phrasing.score.meters import Meter

BAR_LINE = re.compile(r":?\|+:?")
ENDING = re.compile(r"\s*(\d+(?:\s*[-,]\s*\d+)*)\s*\.(?!\d)")
TIMES = re.compile(r"\s*[xX×]\s*(\d+)")
_ENDS = r"(?:\s+al\s+(?:fine|coda|𝄌))?(?!\S)"
SIGNS = (
    (
        "da_capo",
        re.compile(r"\b(?:D\.\s?C\.?|DC|Da capo)(?:\s+al\s+(?:fine|coda|𝄌))?(?!\S)", re.I),
    ),
    (
        "dal_segno",
        re.compile(r"\b(?:D\.\s?S\.?|DS|Dal segno)(?:\s+al\s+(?:fine|coda|𝄌))?(?!\S)", re.I),
    ),
    ("to_coda", re.compile(r"\bto\s+(?:coda|𝄌)(?!\S)", re.I)),
    ("coda", re.compile(r"(?<!\S)(?:coda|𝄌)(?!\S)", re.I)),
    ("segno", re.compile(r"(?<!\S)(?:segno|𝄋)(?!\S)", re.I)),
    ("fine", re.compile(r"(?<!\S)fine\.?(?!\S)", re.I)),
)
"""Signs and words that send a player elsewhere, in the order in which they are looked for."""
SYMBOL = re.compile(r"(?:\([^()]*\)|\S)+")


@dataclass(frozen=True)
class Cell:
    """What is written between two bar lines, and the signs on them.

    ``symbols``: chords, slashes and ``%`` as typed. ``times``: how often the section that
    ends here is played, where the chart says so. ``ending``: the numbers of the ending that
    opens here.
    """

    symbols: tuple[str, ...]
    forward: bool = False
    backward: bool = False
    times: int | None = None
    ending: tuple[int, ...] = ()
    signs: frozenset[str] = frozenset()
    is_bar: bool = True


def signs_in(text: str) -> tuple[frozenset[str], str]:
    """The signs in a text that send a player elsewhere, and the text without them.

    >>> sorted(signs_in("C6 D.C. al Fine")[0]), signs_in("Dm7 G7")
    (['da_capo'], (frozenset(), 'Dm7 G7'))
    """
    found = set()
    for name, sign in SIGNS:
        text, count = sign.subn(" ", text)
        found |= {name} if count else set()
    return frozenset(found), text


def cells_of(text: str) -> Iterator[Cell]:
    """The bars on a line that begins with a bar line."""
    lines = list(BAR_LINE.finditer(text))
    for i, line in enumerate(lines):
        following = lines[i + 1] if i + 1 < len(lines) else None
        content = text[line.end() : following.start() if following else len(text)]
        times = TIMES.match(content) if line.group().startswith(":") else None
        content = content[times.end() :] if times else content
        nothing_parts_them = not content or (following is None and not content.strip())
        if nothing_parts_them:
            continue
        yield _cell(content, line.group(), following, text)


def _cell(content: str, before: str, after: re.Match[str] | None, text: str) -> Cell:
    signs, content = signs_in(content)
    ending = ENDING.match(content)
    symbols = SYMBOL.findall(content[ending.end() :] if ending else content)
    backward = after is not None and after.group().startswith(":")
    times = TIMES.match(text, after.end()) if after is not None and backward else None
    if times and not 2 <= _whole(times[1]) <= MOST_TIMES:
        raise ValueError(f"“x{times[1]}” is no number of times; write x2 to x{MOST_TIMES}.")
    return Cell(
        symbols=tuple(symbols),
        forward=before.endswith(":"),
        backward=backward,
        times=_whole(times[1]) if times else None,
        ending=_numbers(ending[1]) if ending else (),
        signs=signs,
        is_bar=bool(symbols or after),
    )


def _numbers(text: str) -> tuple[int, ...]:
    """The numbers of an ending: ``1,2`` or ``1-3``."""
    numbers: list[int] = []
    for part in text.split(","):
        first, *others = map(_whole, part.split("-"))
        numbers += range(first, min([*others, first][0], MOST_TIMES) + 1)
        numbers = [] if len(others) > 1 else numbers
    if not numbers or not 0 < numbers[0] <= numbers[-1] <= MOST_TIMES:
        raise ValueError(f"“{text}.” is no ending; write 1. or 1,2. before its chords.")
    return tuple(numbers)


def _whole(digits: str) -> int:
    """The number, or of far too many digits the first, which are too many, too."""
    return int(digits.strip()[:DIGITS])


def placed(symbols: tuple[str, ...], meter: Meter) -> list[tuple[int, str]]:
    """Chord symbols with the tick of the bar at which each begins."""
    if "%" in symbols:
        raise ValueError("“%” plays the bar before again and stands alone in its bar.")
    if "/" in symbols:
        return _placed_by_slashes(symbols, meter)
    count = len(symbols)
    for places in _subdivisions(meter):
        if count <= places:
            share, longer = divmod(places, max(count, 1))
            starts = [i * share + min(i, longer) for i in range(count)]
            ticks = meter.bar_length // places
            return [(at * ticks, name) for at, name in zip(starts, symbols, strict=True)]
    raise ValueError(f"a bar of {meter} has no room for {count} chords.")


def _subdivisions(meter: Meter) -> list[int]:
    """Places for chords in a bar: its beats, or failing that its eighths."""
    beats = meter.bar_length // meter.pulse
    eighths = meter.beats if meter.has_no_off_beats else 2 * beats
    return [max(beats, 1), max(eighths, 1)]


def _placed_by_slashes(symbols: tuple[str, ...], meter: Meter) -> list[tuple[int, str]]:
    places = len(symbols)
    allowed = {len(meter.beat_starts), meter.beats}
    if places not in allowed:
        raise ValueError(
            f"it has {places} chords and slashes, and a bar of {meter} has "
            f"{' or '.join(map(str, sorted(allowed)))} beats; write one for each beat."
        )
    by_unit = range(0, meter.bar_length, meter.bar_length // places)
    starts = meter.beat_starts if places == len(meter.beat_starts) else by_unit
    return [(at, name) for at, name in zip(starts, symbols, strict=True) if name != "/"]
