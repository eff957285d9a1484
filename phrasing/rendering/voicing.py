"""How each note is touched on the synthesizer, so that its level is heard as asked for."""

from __future__ import annotations

import numpy as np

from phrasing.performance import Part
from phrasing.rendering.events import Touch
from phrasing.rendering.soundfonts import Soundfont
from phrasing.rendering.synthesizer import ATTENUATION

HEADROOM = 15.0
"""dB by which everything is turned down, so that single notes can be turned up."""


def touch_of(part: Part, soundfont: Soundfont) -> Touch:
    """How the notes of the part are to be played with this soundfont."""
    quieter = np.full(len(part.onset), 10 * (HEADROOM - part.gain))
    return Touch(part.velocity, {ATTENUATION: quieter})
