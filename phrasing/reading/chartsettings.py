"""The settings of a chord chart: lines such as ``tempo: 140``.

Errors are ``ValueError`` with a sentence; the chart's reader adds the file and the line.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from phrasing.melody import Key, Meter
from phrasing.tempo import SMF_TEMPO

FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
MAJOR, MINOR = ("", "maj", "major"), ("m", "-", "min", "minor")
UNITS = (1, 2, 4, 8, 16)
MOST_BEATS = 32


@dataclass(frozen=True)
class Settings:
    """What holds at a place in the chart.

    ``tempo``: quarter notes a minute, and whether the chart gave it (``has_tempo``).
    """

    title: str = ""
    tempo: float = SMF_TEMPO
    has_tempo: bool = False
    meter: Meter = field(default_factory=Meter)
    key: Key | None = None
    swing: float | None = None


def is_setting(name: str) -> bool:
    """Whether a word before a colon is a setting, not a section."""
    return name.strip().lower() in READERS


def with_setting(settings: Settings, name: str, value: str) -> Settings:
    """The settings with one more. Raises ``ValueError`` with a sentence."""
    word, value = name.strip().lower(), value.strip()
    if word not in READERS:
        near = difflib.get_close_matches(word, READERS, n=1, cutoff=0.0)[0]
        raise ValueError(
            f"there is no setting “{name.strip()}”; the nearest that is known is “{near}”, and "
            "a section's name stands alone with its colon."
        )
    return READERS[word](settings, value)


def _title(settings: Settings, value: str) -> Settings:
    return replace(settings, title=value)


def _tempo(settings: Settings, value: str) -> Settings:
    number = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:bpm)?", value, re.IGNORECASE)
    if number is None or float(number[1]) <= 0:
        raise ValueError(f"the tempo “{value}” is no number; write tempo: 140.")
    return replace(settings, tempo=float(number[1]), has_tempo=True)


def _meter(settings: Settings, value: str) -> Settings:
    numbers = re.fullmatch(r"(\d+)\s*/\s*(\d+)", value)
    beats, unit = (int(numbers[1]), int(numbers[2])) if numbers else (0, 0)
    if not 0 < beats <= MOST_BEATS or unit not in UNITS:
        raise ValueError(f"the meter “{value}” is not known; write meter: 3/4.")
    return replace(settings, meter=Meter(beats, unit))


def _key(settings: Settings, value: str) -> Settings:
    plain = value.replace("♭", "b").replace("♯", "#")
    parts = re.fullmatch(r"([A-G])([b#]?)\s*(m|-|[a-zA-Z]{3,5})?", plain)
    mode = (parts[3] or "").lower() if parts else ""
    if parts is None or mode not in (*MAJOR, *MINOR):
        raise ValueError(f"the key “{value}” is not known; write key: Bb, or key: F#m.")
    minor = mode in MINOR
    fifths = FIFTHS[parts[1]] + {"": 0, "b": -7, "#": 7}[parts[2]] - 3 * minor
    if not -7 <= fifths <= 7:
        raise ValueError(f"there is no key signature of {value}; write its other name.")
    return replace(settings, key=Key(0, fifths, minor))


def _swing(settings: Settings, value: str) -> Settings:
    if value.lower() in ("straight", "even"):
        return replace(settings, swing=1.0)
    parts = re.fullmatch(r"(\d+(?:\.\d+)?)(?:\s*:\s*(\d+(?:\.\d+)?))?", value)
    short = float(parts[2] or 1) if parts else 0.0
    if parts is None or short <= 0 or float(parts[1]) < short:
        raise ValueError(
            f"the swing “{value}” is not known; write a ratio of 1 or more, such as swing: 2, "
            "or swing: straight."
        )
    return replace(settings, swing=float(parts[1]) / short)


READERS: dict[str, Callable[[Settings, str], Settings]] = {
    "title": _title,
    "tempo": _tempo,
    "meter": _meter,
    "key": _key,
    "swing": _swing,
}
