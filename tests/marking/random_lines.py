"""Random melodies for properties that hold of every melody."""

from __future__ import annotations

from hypothesis import strategies as st

from phrasing.score.melody import Melody
from phrasing.score.meters import Meter, bars_of_meters

EIGHTH = 480
LENGTHS = [EIGHTH] * 6 + [960] * 3 + [240, 320, 640, 720, 1440, 1920]
RESTS = [0] * 8 + [240, EIGHTH, EIGHTH, 960, 1440]
METERS = [Meter(4, 4), Meter(3, 4), Meter(5, 4), Meter(2, 2), Meter(6, 8), Meter(7, 8)]


@st.composite
def melodies(draw, most: int = 24) -> Melody:
    """Eighths, quarters and less usual lengths, in steps, skips and leaps, with rests."""
    pitch = draw(st.integers(60, 72))
    at = draw(st.sampled_from([0, EIGHTH, 960, 320]))
    rows = []
    for _ in range(draw(st.integers(1, most))):
        length = draw(st.sampled_from(LENGTHS))
        rows.append((at, length, pitch))
        at += length + draw(st.sampled_from(RESTS))
        pitch += draw(st.integers(-7, 7))
    onset, length, pitch = zip(*rows, strict=True)
    bars = bars_of_meters(
        {0: draw(st.sampled_from(METERS))}, at, draw(st.sampled_from([0, 0, EIGHTH, 960]))
    )
    return Melody(onset, length, pitch, bars)
