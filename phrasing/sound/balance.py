"""Where the players of a band lie in loudness, on whatever soundfont plays them.

Each part with a ``place`` is played by itself and measured (ITU-R BS.1770 integrated, so what
rests is gated out), and its gain set so that it is heard at its place. A melody's place is 0:
plain or shaped, it comes out equally loud, and the band under it stays as it is.
"""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from phrasing.performing.performance import Part, Performance
from phrasing.sound.loudness import LoudnessMeter
from phrasing.sound.sound import analysed
from phrasing.sound.soundfonts import Soundfont

MELODY = -31.0
"""LUFS of a part at place 0, as the synthesizer plays it: low enough that the softest drum or
key of a soundfont need not be turned up."""


def is_placed(performance: Performance) -> bool:
    """Whether somebody in it has a place of his own."""
    return any(part.place is not None for part in performance.parts)


def balanced(
    performances: Mapping[str, Performance], soundfont: Soundfont, rate: int
) -> dict[str, Performance]:
    """The performances with each placed part's gain set to where it is heard at its place.

    A part that several performances share is measured once, and has one gain in all of them.
    Where nobody has a place nothing is measured and nothing changes.
    """
    alone = {
        id(part): replace(performance, parts=(replace(part, gain=0.0),))
        for performance in performances.values()
        for part in performance.parts
        if part.place is not None and len(part.onset)
    }
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        levels = pool.map(lambda each: _loudness(each, soundfont, rate), alone.values())
        heard = dict(zip(alone, levels, strict=True))
    return {
        name: replace(
            performance, parts=tuple(_placed(part, heard) for part in performance.parts)
        )
        for name, performance in performances.items()
    }


def _loudness(performance: Performance, soundfont: Soundfont, rate: int) -> float:
    meter = LoudnessMeter(rate)
    for block, spectra in analysed(performance, soundfont, rate=rate, room=False):
        meter.add(block, spectra)
    return meter.integrated()


def _placed(part: Part, heard: Mapping[int, float]) -> Part:
    level = heard.get(id(part), -math.inf)
    if part.place is None or not math.isfinite(level):
        return part
    return replace(part, gain=MELODY + part.place - level)
