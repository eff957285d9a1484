"""Nothing from a file or its name acts on the terminal that shows it."""

import doctest
import json
import unicodedata

import pytest

from phrasing import printable as room
from phrasing.errors import PhrasingError
from phrasing.printable import STRANGE, escaped, message, printable


def test_the_examples_are_true():
    assert doctest.testmod(room).failed == 0


@pytest.mark.parametrize(
    "strange",
    [
        "\x1b[2J",
        "\x9b31m",
        "\x07",
        "\x7f",
        "\u202e",
        "\u2066",
        "\ufeff",
        "\ud800",
        "\U000e0041",
    ],
)
def test_what_acts_on_a_terminal_is_shown_as_a_sign(strange):
    """ECMA-48's control sequences begin with ESC [ or U+009B; U+202E turns text around (Unicode
    Standard Annex 9)."""
    assert printable(f"a{strange}b").startswith(f"a{STRANGE}")
    assert strange[0] not in str(PhrasingError(f"{strange}: is no file."))


def test_letters_of_every_script_stay():
    text = "Ärger ミドリ بنات 👩‍🎤 B♭ 𝄪 ½"
    assert printable(text) == text


def test_no_character_that_passes_is_a_control():
    """Checked against Unicode's own categories, every character of the first two planes."""
    passed = {c for c in map(chr, range(0x20000)) if printable(c) == c}
    assert not [c for c in passed if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp")]
    assert {c for c in passed if unicodedata.category(c) == "Cf"} == set("\u200c\u200d")


def test_only_long_quotations_are_shortened():
    kept = "“" + "x" * 60 + "”"
    assert message(kept) == kept
    assert message("“" + "x" * 61 + "”") == "“" + "x" * 60 + "…”"
    assert str(PhrasingError("a chord “" + "b" * 10_000 + "” in bar 3")).endswith("” in bar 3")


def test_json_keeps_its_meaning():
    table = {"title": 'a\x9b"b\u202e\\ \U000e0041 é'}
    text = escaped(json.dumps(table, ensure_ascii=False))
    assert json.loads(text) == table
    assert printable(text) == text
