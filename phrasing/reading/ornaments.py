"""Notes so short before another that a reader would write them small: grace notes."""

from __future__ import annotations

import numpy as np

from phrasing.reading import rhythm
from phrasing.reading.takes import Played, Take
from phrasing.tempo import TICKS, Bools, Floats

SHORTEST = 0.080
"""Seconds to the next note under which a note may be a grace note."""
SMALL = TICKS / 9
"""Ticks to the next note under which it may be: less than a thirty-second."""
BEFORE, AFTER = 1.5, 3.0
"""How many times longer the notes before and after it last."""
FEW, SELDOM = 3, 0.12
"""Where more notes than these, and a greater share, are so short, they are no ornament."""
GRACE_COST = 4.5
"""Nats that it takes to believe in a grace note. With 4.5, nine in ten of the graces put into
folk tunes 30 to 50 ms before a beat were found, and one note in 2,500 was taken for one."""


def grace_notes(played: Played, take: Take) -> Bools:
    """Which notes read better as grace notes to the next than with a place of their own."""
    small = _small(played, take)
    if not small.any() or small.sum() > max(FEW, SELDOM * len(small)):
        return np.zeros_like(small)
    every, without = played.placed(take), played.only(~small)
    with_them = _by_beat(every, played, take)
    alone = _by_beat(without.placed(take), without, take)
    beat = np.searchsorted(played.beats.start, every.beats.start)[every.beat[small]]
    around = np.stack([beat, beat + 1])
    gain = (with_them[around] - alone[around]).sum(axis=0)
    crowd = np.bincount(beat)[beat]
    small[small] = gain > GRACE_COST * crowd
    return small


def _small(played: Played, take: Take) -> Bools:
    room = np.diff(played.onset, append=np.inf)
    after, before = np.append(room[1:], 0.0), np.append(np.inf, room[:-1])
    short = np.where(take.noise > 0, room < SHORTEST * played.speed, room < SMALL)
    alone = (after >= AFTER * room) & (before >= BEFORE * room)
    small: Bools = short & alone & (room < TICKS / 5)
    return small


def _by_beat(placed: rhythm.Placed, played: Played, take: Take) -> Floats:
    """What the best reading of each beat costs (nats), 0 for beats without notes."""
    learnt = rhythm.learnt(placed, played.noise(take.noise))
    path = rhythm.best_path(placed, learnt)
    everywhere = np.zeros(len(played.beats.start) + 1)
    which = np.searchsorted(played.beats.start, placed.beats.start)
    everywhere[which] = learnt.cost[np.arange(len(path)), path]
    return everywhere
