import pytest

from phrasing.reading.source import decoded


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        ("Late Bus Home", "ascii"),
        ("Café du Coin", "utf-8"),
        ("Café du Coin", "latin-1"),
        ("Für die Brücke", "cp1252"),
        ("Señor Ñandú", "latin-1"),
        ("“Kettle” – Blues", "cp1252"),
        ("夜のバス", "utf-8"),
        ("夜のバス", "shift_jis"),
        ("トランペット", "shift_jis"),
        ("トランペット", "utf-16"),
        ("Поздний автобус", "cp1251"),
        ("늦은 버스", "euc_kr"),
        ("Snow ♭", "utf-8-sig"),
    ],
)
def test_a_name_comes_back_from_its_encoding(text: str, encoding: str):
    assert decoded(text.encode(encoding)) == text


def test_every_sequence_of_bytes_is_some_text():
    for first in range(256):
        for second in range(0, 256, 7):
            text = decoded(bytes([first, second, 0x41, first]))
            assert "\0" not in text
            assert "\n" not in text


def test_line_breaks_zeros_and_double_spaces_go():
    assert decoded(b"  Late\r\nBus \0\0 Home\0") == "Late Bus Home"


def test_nothing_is_an_empty_name():
    assert decoded(b"") == ""
