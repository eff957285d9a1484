"""Rhythms that several grooves share, written as in ``notation`` (common practice)."""

from __future__ import annotations

from phrasing.band.notation import Rhythm


def all_of(text: str) -> dict[int, tuple[str, ...]]:
    """One rhythm of four beats, which shorter groups are cut from."""
    return {4: (text,)}


RIDE: Rhythm = {
    1: ("1",),
    2: ("5: 1 2 2& | 1: 1 2",),
    3: ("6: 1 2 2& 3 | 2: 1 2 2& 3 3& | 1.5: 1 2 3 | 1: 1 2 3 3&",),
    4: (
        "8: 1 2 2& 3 4 4& | 1.4: 1 2 3 4 4& | 1.4: 1 2 2& 3 4 | 0.8: 1 2 2& 3 3& 4 4& "
        "| 0.5: 1 1& 2 3 3& 4 | 0.6: 1 2 3 4",
    ),
}
TAPS: Rhythm = {
    1: ("1",),
    2: ("4: 1 2& | 1",),
    3: ("4: 1 2& 3 | 2: 1 3 | 1 2& 3 3&",),
    4: ("8: 1 2& 3 4& | 2: 1 3 4& | 2: 1 2& 3 | 1 1& 3 4& | 1 2& 3 3& 4&",),
}
"""The ride's figures, but for the beats that are slapped."""
BACK_BEATS: Rhythm = {1: ("-",), 2: ("2",), 3: ("2",), 4: ("2 4",)}
SWING_COMMENTS: Rhythm = {
    1: ("-",),
    2: ("2: 2& | 2: 1& | 1: 2l",),
    3: ("3: 2& | 2: 3& | 2: 1& 3 | 3 | 2& 3& | 2t 2l",),
    4: (
        "3: 2& | 3: 4& | 2: 1& | 2: 3& | 2: 2& 4& | 1.5: 2& 4 | 3& 4& | 4 | 1& 3 | 2t 2l "
        "| 3l 4l | 4t 4l",
    ),
}
SWING_FILLS = (
    "1:snare 1t:snare 2:high 2&:low",
    "1&:snare 2:snare 2&:snare",
    "1:snare 1&:snare 2:kick 2&:snare",
    "1:snare 1l:high 2:low 2l:kick",
    "1&:snare 2&:kick",
    "2:snare 2t:snare 2l:snare",
    "1&:high 2:high 2&:low",
    "1t:snare 1l:snare 2t:low 2l:kick",
)
EVEN_FILLS = (
    "1:snare 1&:snare 2:high 2&:low",
    "1&:snare 2:snare 2&:kick",
    "2:high 2e:high 2&:low 2a:low",
    "1&:stick 2:stick 2&:snare",
    "1:high 1&:low 2&:kick",
)
CHORDS: Rhythm = {
    1: ("1 | - | 0.7: 1&",),
    2: ("2: 1 | 2: 1& | 1.5: 2 | 1.5: 2&:0.9 | 1 2& | 1:1.8 | 0.7: -",),
    3: (
        "3: 1 2& | 2: 2 3 | 2: 2&:1.0 | 2: 1:2.6 | 1.5: 2 | 1.5: 3&:1.0 | 1.5: 1& 3 "
        "| 2& 3&:0.9 | 1:1.4 2& | -",
    ),
    4: (
        "4: 1 2& | 2: 1:1.4 2& | 3: 2& | 2.5: 2& 4 | 2: 1& 3 | 2: 2 4 | 3.5: 4&:1.2 "
        "| 2.5: 1 4&:1.0 | 2.5: 2& 4&:1.0 | 1.5: 1& 2& | 1.5: 1:2.6 | 1.5: 1&:1.8 3& "
        "| 1.5: 1 3& | 1.5: 3& | 2 3& | 1&:1.0 4 | 1.2: 1& 3 4& | 1.2: -",
    ),
}

EIGHTHS: Rhythm = {
    1: ("1 1&",),
    2: ("1> 1&< 2 2&<",),
    3: ("1> 1&< 2 2&< 3 3&<",),
    4: ("1> 1&< 2 2&< 3> 3&< 4 4&<",),
}
