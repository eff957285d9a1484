"""With what feel a take was played, section by section, and what is said of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import gcd

import numpy as np

from phrasing.reading.midi.quantizing import Quantized
from phrasing.reading.midi.rhythm import EVEN
from phrasing.reading.midi.takes import Passage
from phrasing.score.melody import Manner
from phrasing.score.meters import TICKS, Bar
from phrasing.score.words import ratio_name

SURELY = 0.95
"""How sure a reading as swung or even is that needs no word on it."""
SUREST = 0.99
"""What nobody is surer of than."""


def manners(found: Quantized, bars: Sequence[Bar]) -> tuple[Manner, ...]:
    """How each passage is to be played, where even and swung ones alternate; else nothing.

    A passage begins at a bar line where one stands between the two feels.
    """
    return tuple(
        Manner(_beginning(passage, bars), swing=_ratio(passage)) for passage in found.passages
    )


def _beginning(passage: Passage, bars: Sequence[Bar]) -> int:
    """A bar line between what is surely of the one passage and of the other, best one after
    eight or four bars; or else the passage's first beat."""
    between = [bar for bar in bars if passage.after < bar.onset <= passage.latest]
    if not between:
        return max(round(passage.begin / TICKS) * TICKS, 0)
    return max(between, key=lambda bar: (gcd(bar.number - 1, 8), bar.onset)).onset


def _ratio(passage: Passage) -> float:
    """Long to short, in tenths: nobody hears more."""
    return round(passage.swing / (1 - passage.swing), 1)


def feel_said(found: Quantized, bars: Sequence[Bar]) -> Iterator[str]:
    """Sentences on swing in a take, and on how sure it is."""
    if found.passages:
        yield _of_passages(found, bars)
    elif found.swing is not None:
        how = "is already" if found.swing_chance >= SURELY else f"seems ({_sure(found)}) to be"
        yield (
            f"It {how} played with swing, about {ratio_name(found.swing)}; "
            "its pairs are read as eighths."
        )
    elif found.swing_chance > 1 - SURELY:
        chance = f"{found.swing_chance:.0%}"
        yield f"Its eighths are read as even; that they are swung is {chance} likely."


def _sure(found: Quantized) -> str:
    return f"{found.swing_chance:.0%} sure"


def _of_passages(found: Quantized, bars: Sequence[Bar]) -> str:
    """“Its feel changes: even eighths from the start (99% sure); swing, about …”"""
    told = []
    for passage, manner in zip(found.passages, manners(found, bars), strict=True):
        even = passage.swing == EVEN
        feel = "even eighths" if even else f"swing, about {ratio_name(_ratio(passage))},"
        sure = min(float(1 / (1 + np.exp(-min(passage.odds, 50.0)))), SUREST)
        told.append(f"{feel} {_from(manner.onset, bars)} ({sure:.0%} sure)")
    return f"Its feel changes: {'; '.join(told)}. Each passage keeps its own."


def _from(tick: int, bars: Sequence[Bar]) -> str:
    """“from the start”, “from bar 9 on”, “from bar 9, beat 3 on”."""
    if tick <= bars[0].onset:
        return "from the start"
    bar = next(bar for bar in reversed(bars) if bar.onset <= tick)
    beat = (tick - bar.onset) // bar.meter.pulse + 1
    return f"from bar {bar.number}{f', beat {beat}' if beat > 1 else ''} on"
