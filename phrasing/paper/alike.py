"""A melody's versions engraved alike: the same bars on each line, and nothing moves."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from phrasing.paper.aligning import align
from phrasing.paper.breaking import evenly
from phrasing.paper.engraving import (
    POINT,
    SPACE,
    Engraving,
    Score,
    Stacked,
    joined,
    opened,
    without_breaks,
)

Pair = tuple[bytes, tuple[str, ...]]
"""A score, and the ids of its notes that have the sign for stress."""


def engrave_alike(
    scores: Sequence[bytes],
    *,
    width: float,
    bars_per_system: int | None = None,
    stressed: Sequence[Collection[str]] = (),
) -> list[Engraving]:
    """Several scores of one melody, such as its versions, with the same bars on each line.

    ``stressed``: for each score the ids of the notes that get the sign for stress.
    """
    opened_scores = {score: opened(score) for score in dict.fromkeys(scores)}
    columns = zip(*(score.bars for score in opened_scores.values()), strict=True)
    widest = [max(column, key=lambda bar: bar.width) for column in columns]
    lead = max(score.lead for score in opened_scores.values())
    lines = evenly(widest, lead, width, bars_per_system)
    signs = [tuple(own) for own in stressed or [()] * len(scores)]
    pairs = list(zip(scores, signs, strict=True))
    stacks = {
        pair: opened_scores[pair[0]].stacked(lines, width, POINT, pair[1])
        for pair in dict.fromkeys(pairs)
    }
    return _aligned(stacks, pairs, width)


def engrave_some(
    scores: Sequence[bytes],
    lines: Sequence[int],
    wanted: range,
    *,
    width: float,
    stressed: Sequence[Collection[str]],
) -> list[Engraving]:
    """Some systems of ``engrave_alike`` again, where ``lines`` were found to have so many bars.

    ``wanted``: the systems, by their places in the whole. Each engraving has these alone.
    """
    pairs = [(score, tuple(own)) for score, own in zip(scores, stressed, strict=True)]
    stacks = {}
    for score, own in dict.fromkeys(pairs):
        cut = Score(without_breaks(score), (), 0.0)
        stacks[score, own] = cut.some_stacked(lines, wanted, width, own)
    return _aligned(stacks, pairs, width)


def _aligned(
    stacks: Mapping[Pair, list[Stacked]], pairs: Sequence[Pair], width: float
) -> list[Engraving]:
    """Versions of the same systems, made alike in what belongs to none of them, and joined."""
    for systems in zip(*stacks.values(), strict=True):
        align([(system.group, system.paths) for system in systems])
    made = {pair: joined(systems, width * SPACE) for pair, systems in stacks.items()}
    return [made[pair] for pair in pairs]
