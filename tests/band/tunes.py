"""Melodies over chord charts made up by chance, for the tests of a band that listens."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np

from phrasing.band.form import form_of
from phrasing.band.voicing import scale_of
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS
from tests.band.charts import chart

CHARTS = {
    "swing": "tempo: 150\nkey: Bb\n| Bbmaj7 G7b9 | Cm7 F7 | Dm7 Db°7 | Cm7 F9 | Fm7 Bb7 "
    "| Ebmaj7 Ab13 | Dm7 G7 | Cm7 F7 | Am7b5 | D7alt | Gm7 | % | Em7 | A13 | Cm7 | F7sus4 |",
    "two-feel": "tempo: 140\nkey: F\nstyle: two-feel\n| Fmaj7 | Dm7 | Gm7 | C7 | Am7 | D7b9 "
    "| Gm7 C7 | F6 | Bbmaj7 | Bbm6 | Am7 | Abm7 Db7 | Gm7 | C7 | F6 D7 | Gm7 C7 |",
    "ballad": "tempo: 66\nkey: Cm\n| Cm6 | % | Fm7 | Bb9 | Ebmaj7 | Abmaj7 | Dm7b5 | G7alt "
    "| Cm7 | Am7b5 | Abmaj7 | G7sus4 | Cm6 | Fm7 Bb7 | Ebmaj7 | Dm7b5 G7b9 |",
    "shuffle": "tempo: 126\nkey: F\nstyle: shuffle\n| F7 | Bb9 | F7 | Cm7 F13 | Bb9 | B°7 | F7 "
    "| Am7b5 D7b9 | Gm7 | C9 | F7 D7#9 | Gm7 C7 |",
    "waltz": "tempo: 150\nmeter: 3/4\nkey: G\n| Gmaj7 | % | Bm7 | E7b9 | Am7 | % | D9 | % "
    "| Dm7 | G7 | Cmaj7 | Cm6 | Bm7 | E7#9 | Am7 | D7 |",
    "even": "tempo: 130\nkey: C\nstyle: even\n| Cmaj7 | Abmaj7 | Fm9 | Bb7sus4 | Cmaj7 | Am7 "
    "| Dm7 | G7sus4 | Ebmaj7 | Cm7 | Fm7 | Bb7 | Dbmaj7 | % | G7sus4 | G7 |",
    "bossa": "tempo: 136\nkey: C\nstyle: bossa\n| Cmaj7 | % | D9 | % | Dm7 | G7b9 | Em7 | A7 "
    "| Dm7 | % | Fm6 | % | Em7 | Eb°7 | Dm7 | G7 |",
    "samba": "tempo: 200\nkey: C\nstyle: samba\n| C6 | % | Gm7 | C7 | Fmaj7 | Fm6 | Em7 | A7 "
    "| Dm7 | G7 | Em7 | A7 | Dm7 | G7 | C6 | G7 |",
    "12/8": "tempo: 90\nmeter: 12/8\nkey: C\n| C7 | F7 | C7 | % | F7 | F#°7 | C7 | A7b9 | Dm7 "
    "| G7 | C7 A7 | Dm7 G7 |",
}
"""A chart for each groove."""
RHYTHMS = ((1, 1, 1, 1), (2, 1, 1), (1, 2, 1), (3, 1), (4,), (-1, 1, 1, 1), (-4,), (-2, 1, 1))
"""Half bars in eighths; below 0 a rest."""


def tune(text: str, seed: int, low: int = 60, high: int = 79) -> Melody:
    """The chart with a melody in its scales over it, now and then through a chromatic note."""
    song, chance = chart(text), random.Random(seed)
    form = form_of(song, count_in=0, ending="none")
    onset, length, pitch = [], [], []
    at, now = 0, chance.randint(low + 3, high - 3)
    while at < form.end:
        for eighths in chance.choice(RHYTHMS):
            if eighths > 0 and at < form.end:
                now = _next(now, form, at, chance, low, high)
                onset.append(at)
                length.append(min(eighths * TICKS // 2, form.end - at))
                pitch.append(now)
            at += abs(eighths) * TICKS // 2
    return replace(song, onset=np.array(onset), length=np.array(length), pitch=np.array(pitch))


def _next(now: int, form, at: int, chance: random.Random, low: int, high: int) -> int:
    span = form.chord_at(at)
    if chance.random() < 0.1:
        return min(max(now + chance.choice((-1, 1)), low), high)
    scale = scale_of(span.chord, form.fifths)
    near = [p for p in range(low, high + 1) if p % 12 in scale and 0 < abs(p - now) <= 5]
    return chance.choice(near) if near else now
