"""How notes are touched on the small soundfont is how it was when they were listened to.

What is heard of a soundfont is also the synthesizer's doing: with another, nothing is known.
"""

from __future__ import annotations

from dataclasses import fields

import pytest

from phrasing.marking.precedence import mark
from phrasing.performing.performance import perform
from phrasing.score.instruments import BY_KEY
from phrasing.sound.soundfonts import embedded_soundfont
from phrasing.sound.synthesizer import library_version
from phrasing.sound.touch import touch_of
from tests.known import lines


@pytest.mark.parametrize("wind", ["trumpet", "alto-sax", "clarinet"])
def test_known_lines(wind, known):
    found = {}
    for i, line in enumerate(lines(3)):
        played = perform(line, mark(line), instrument=BY_KEY[wind])
        touch = touch_of(played.parts[0], played.tempos, embedded_soundfont())
        for each in fields(touch):
            value = getattr(touch, each.name)
            rows = sorted(value.items()) if isinstance(value, dict) else value
            found[f"line {i} {each.name}"] = rows
    known(f"sound-{wind}", found, made_by=f"FluidSynth {library_version()}")
