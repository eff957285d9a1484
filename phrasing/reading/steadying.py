"""Takes of a player who wanders about the click: the wandering is taken out."""

from __future__ import annotations

from dataclasses import replace

from phrasing.reading import grids, rhythm
from phrasing.reading.drift import wandering
from phrasing.reading.takes import EVEN, Played, Take, how_played
from phrasing.tempo import Floats

ROUGH = 0.020
"""Seconds of timing noise that are assumed before anything is known."""
ROUNDS = 3


def steady_take(played: Played, at: Floats) -> tuple[Played, Take]:
    """The notes without wandering, and how they were played; ``at``: seconds of each note."""
    take = how_played(played)
    if take.noise == 0:
        return played, take
    steadier = _by_plain_rhythms(played, at)
    return (played, take) if steadier is played else (steadier, how_played(steadier))


def _by_plain_rhythms(played: Played, at: Floats) -> Played:
    """The notes without the wandering that the plainest rhythms show."""
    for _ in range(ROUNDS):
        placed = played.placed(Take(ROUGH, 0.0, EVEN))
        cost = rhythm.costs(placed, played.noise(ROUGH))[:, : grids.PLAIN]
        steadier = _without(placed, cost, played, at)
        if steadier is played:
            break
        played = steadier
    return played


def _without(placed: rhythm.Placed, cost: Floats, played: Played, at: Floats) -> Played:
    """The notes without the wandering about the best of these places; the same if steady."""
    _, off = placed.chosen(cost.argmin(axis=1))
    away = wandering(off / played.speed, at)
    return replace(played, onset=played.onset - away * played.speed) if away.any() else played
