"""Performs the phrasing of a swing line, plain and shaped, with a reason for every mark.

The nouns and verbs of the engine, left to right::

    melody = phrasing.read(Path("tune.mid"))
    marking = phrasing.mark(melody)
    performance = phrasing.perform(melody, marking)
    phrasing.write_midi(performance, Path("shaped.mid"))

Everything is loaded when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from phrasing.errors import NoSoundError as NoSoundError
    from phrasing.errors import PhrasingError as PhrasingError
    from phrasing.feel import Feel as Feel
    from phrasing.feelfile import load_feel as load_feel
    from phrasing.marking.explaining import why as why
    from phrasing.marking.marking import Marking as Marking
    from phrasing.marking.precedence import mark as mark
    from phrasing.performing.performance import Performance as Performance
    from phrasing.performing.performance import perform as perform
    from phrasing.reading import read as read
    from phrasing.score.melody import Melody as Melody
    from phrasing.sound.midi import write_midi as write_midi


HOMES = {
    "Feel": "phrasing.feel",
    "Marking": "phrasing.marking.marking",
    "Melody": "phrasing.score.melody",
    "NoSoundError": "phrasing.errors",
    "Performance": "phrasing.performing.performance",
    "PhrasingError": "phrasing.errors",
    "load_feel": "phrasing.feelfile",
    "mark": "phrasing.marking",
    "perform": "phrasing.performing.performance",
    "read": "phrasing.reading",
    "why": "phrasing.marking.explaining",
    "write_midi": "phrasing.sound.midi",
}
__all__ = list(HOMES)


def __getattr__(name: str) -> Any:
    if name not in HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted(HOMES)
