"""What a library of scores takes minutes to say is kept for the next run."""

from __future__ import annotations

import hashlib
import os
import pickle
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import TypeVar

Made = TypeVar("Made")

PLACE = Path(__file__).parents[2] / ".pytest_cache" / "kept"


def kept(asking: str, make: Callable[[], Made]) -> Made:
    """What ``make`` makes, or made in the last run, where neither the library nor the test's
    own file (``asking``) has changed since."""
    state = hashlib.blake2b(version("music21").encode(), digest_size=8)
    state.update(Path(asking).read_bytes())
    place = PLACE / f"{Path(asking).stem}-{state.hexdigest()}"
    if place.exists():
        found: Made = pickle.loads(place.read_bytes())
        return found
    made = make()
    try:
        PLACE.mkdir(parents=True, exist_ok=True)
        beside = place.with_suffix(f".{os.getpid()}")
        beside.write_bytes(pickle.dumps(made))
        beside.replace(place)
    except OSError:
        pass  # where nothing can be written, nothing is kept
    return made
