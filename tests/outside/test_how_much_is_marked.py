"""No rule marks too much: shares of marked notes and of weights, in our examples and 500 tunes.

Tunes: fiddle tunes (1883) and folk songs in the collections that music21 carries, played as if
they were swing, and in the other styles. A player marks what stands out; that most notes are
left alone, and that no bar has more weights than its style bears, is common practice, no
source. Run with ``-s`` to see the shares.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from phrasing.app.folders import example
from phrasing.marking.precedence import mark
from phrasing.marking.rules import RULES
from phrasing.reading import read
from phrasing.score.marks import WEIGHTS
from phrasing.score.melody import Melody
from phrasing.score.meters import Meter, bars_of_meters
from phrasing.style import STYLE, Style
from tests.outside.kept import kept

pytestmark = pytest.mark.outside
ENOUGH = 500
EXAMPLES = (
    "late_bus_home.mid", "caretakers_keys.mid", "caretakers_keys.musicxml",
    "folding_chairs_waltz.mid", "corridor_line_played.mid",
)  # fmt: skip
TEMPO = {"swing": 150.0, "ballad": 66.0, "even": 140.0, "shuffle": 120.0}


Rows = tuple[list[int], list[int], list[int], tuple[int, int], int]
"""Onsets, lengths (ticks), pitches, the meter, and the ticks before the first bar line."""


def rows_of(score) -> Rows | None:
    """The notes of a score's first part in quarters or eighths, where it keeps one meter."""
    part = score.parts[0].stripTies() if score.parts else None
    if part is None or not part.getElementsByClass("Measure"):
        return None
    meters = {m.ratioString for m in part.recurse().getElementsByClass("TimeSignature")}
    notes = [n for n in part.recurse().notes if n.isNote and n.quarterLength > 0]
    if len(meters) != 1 or not meters <= {"2/4", "3/4", "4/4", "2/2"} or len(notes) < 16:
        return None
    beats, unit = map(int, next(iter(meters)).split("/"))
    pickup = round(float(part.getElementsByClass("Measure")[0].duration.quarterLength) * 960)
    onset = np.rint([960 * float(n.getOffsetInHierarchy(part)) for n in notes]).astype(int)
    length = np.rint([960 * float(n.quarterLength) for n in notes]).astype(int)
    if (np.diff(onset) < length[:-1]).any():
        return None
    pitches = [n.pitch.midi for n in notes]
    return onset.tolist(), length.tolist(), pitches, (beats, unit), pickup


def parsed() -> list[Rows]:
    """Folk songs first, many to a file, then fiddle tunes until there are enough."""
    from music21 import corpus

    found: list[Rows] = []
    for book in ("erk5", "erk10", "erk20", "erk30", "boehme10", "boehme20", "altdeu10"):
        scores = corpus.parse(f"essenFolksong/{book}.abc").scores
        found += [rows for score in scores if (rows := rows_of(score)) is not None]
    for path in corpus.getComposer("ryansMammoth"):
        if len(found) >= ENOUGH:
            break
        rows = rows_of(corpus.parse(path))
        found += [rows] if rows is not None else []
    return found[:ENOUGH]


@cache
def tunes() -> tuple[Melody, ...]:
    """The tunes, as they are written."""
    return tuple(melody_of(*rows) for rows in kept(__file__, parsed))


def melody_of(
    onset: list[int], length: list[int], pitches: list[int], meter: tuple[int, int], pickup: int
) -> Melody:
    time = Meter(*meter)
    bars = bars_of_meters({0: time}, onset[-1] + length[-1], pickup % time.bar_length)
    return Melody(onset, length, pitches, bars)


def shares(melodies, style: Style) -> tuple[float, float]:
    """Shares of marked notes, and of those with a weight for their place in the line."""
    marked, weights = [], []
    for tune in melodies:
        marking = mark(tune.with_tempo(TEMPO[style.name]), style=style)
        marked.append(marking.mark >= 0)
        weights.append(np.isin(marking.mark, WEIGHTS) & ~ARRIVES[marking.rule])
    return float(np.concatenate(marked).mean()), float(np.concatenate(weights).mean())


ARRIVES = np.array([*(rule.arrives for rule in RULES), False])
"""By rule, whether it marks arrivals; the last is for a note without a rule."""


def most_weights_in_a_bar(tune: Melody, style: Style) -> tuple[int, int]:
    """The most weights on short notes in any bar, and what four beats of the style bear."""
    tune = tune.with_tempo(TEMPO[style.name])
    marking = mark(tune, style=style)
    weighs = np.isin(marking.mark, WEIGHTS) & (tune.length <= 480) & ~ARRIVES[marking.rule]
    counts = np.bincount(tune.bar_index[weighs], minlength=1)
    return int(counts.max()), style.weights_at(TEMPO[style.name])


@pytest.mark.parametrize("style", STYLE.values(), ids=lambda style: style.name)
def test_in_the_examples(style):
    melodies = [read(example().with_name(name)) for name in EXAMPLES]
    marked, weights = shares(melodies, style)
    print(f"\n{style.name}, examples: {marked:.0%} marked, {weights:.0%} weights")
    assert marked < 0.5
    assert weights < 0.25


@pytest.mark.parametrize("style", STYLE.values(), ids=lambda style: style.name)
def test_in_500_tunes(style):
    assert len(tunes()) == ENOUGH
    marked, weights = shares(tunes(), style)
    print(f"\n{style.name}, {ENOUGH} tunes: {marked:.0%} marked, {weights:.0%} weights")
    assert weights < 0.25
    for tune in tunes():
        most, bears = most_weights_in_a_bar(tune, style)
        assert most <= bears
