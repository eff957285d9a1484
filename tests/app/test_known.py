"""What the commands that only print say is what somebody read."""

from __future__ import annotations

import pytest

from tests.app.test_commands import EXAMPLES, LATE_BUS, phrasing

__all__ = ["phrasing"]
SAID = {
    "ratio": ("ratio",),
    "ratio-played": ("ratio", "--feel", "played"),
    "marks": ("marks", LATE_BUS),
    "marks-csv": ("marks", EXAMPLES / "caretakers_keys.musicxml", "--csv"),
    "marks-json": ("marks", EXAMPLES / "folding_chairs_waltz.mid", "--json"),
}


@pytest.mark.parametrize("name", SAID)
def test_known_words(phrasing, name, known):
    code, out, err = phrasing(*SAID[name])
    assert code == 0
    known(f"app-{name}", {f"line {i}": line for i, line in enumerate((out + err).splitlines())})
