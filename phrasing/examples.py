"""The example that the demo plays: in the wheel, or in a checkout's ``examples`` folder."""

from __future__ import annotations

from pathlib import Path

from phrasing.errors import PhrasingError

EXAMPLE = "late_bus_home.mid"


def example() -> Path:
    """The file of the example melody; ``PhrasingError`` where the install lacks it."""
    here = Path(__file__).parent
    for folder in (here / "example", here.parent / "examples"):
        if (folder / EXAMPLE).is_file():
            return folder / EXAMPLE
    raise PhrasingError(f"The example {EXAMPLE} is missing; install phrasing again.")
