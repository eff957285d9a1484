"""The feel and its file."""

import dataclasses
import re

import numpy as np
import pytest

from phrasing.band.band import accompany
from phrasing.errors import PhrasingError
from phrasing.feel import (
    Band,
    Bass,
    Chance,
    Comping,
    Detached,
    Drums,
    Fall,
    Feel,
    LayBack,
    Life,
    Line,
    MarkSound,
    Swing,
    Wander,
)
from phrasing.feelfile import load_feel
from phrasing.marking.precedence import mark
from phrasing.performing.performance import perform
from tests.band.charts import chart
from tests.lines import melody


def written(tmp_path, text):
    path = tmp_path / "my.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_a_file_leaves_out_keeps_its_default(tmp_path):
    feel = load_feel(
        written(
            tmp_path,
            "strength = 0.5\n[swing]\nby_tempo = [[200, 1.5], [120, 2]]\n"
            "[sounds.ghost]\nlevel = -6\n",
        )
    )
    assert feel.strength == 0.5
    assert feel.swing.by_tempo == ((120.0, 2.0), (200.0, 1.5))
    assert feel.sounds["ghost"].level == -6.0
    assert feel.sounds["ghost"].gate == Feel().sounds["ghost"].gate
    assert feel.sounds["accent"] == Feel().sounds["accent"]


@pytest.mark.parametrize(
    "text,complaint",
    [
        ("strenght = 1", "no entry “strenght”"),
        ("[swing]\nby_tempo = 3", "swing.by_tempo cannot be 3"),
        ("[swing]\nby_tempo = [3]", "pairs"),
        ("[sounds.growl]\nlevel = 3", "no mark “growl”"),
        ("[sounds.ghost]\nloud = 3", "no entry “sounds.ghost.loud”"),
        ("strength = 'much'", "strength cannot be 'much'"),
        ("plain_velocity = 200", "1 to 127"),
        ("plain_velocity = 80.5", "plain_velocity is a whole number"),
        ("swing = 2", r"swing is a group: write \[swing\]"),
        ("[band]\nbass = 1", r"write \[band.bass\]"),
        ("[sounds]\nghost = 3", r"write \[sounds.ghost\]"),
        ("strength = " + "9" * 400, "strength cannot be 9999"),
        ("strength = " + "9" * 5000, "holds what no feel needs"),
        ("strength = " + "[" * 3000 + "]" * 3000, "holds what no feel needs"),
        ("[fall]\nmost = 0", "fall.most is 0; choose 0.1 to 40"),
        ("[life]\nvibrato_grow = 0", "life.vibrato_grow is 0"),
        ("[swing]\nmelody_slow = 300", "swing.melody_slow is 300; choose 0 to 299"),
        ("[swing]\nby_tempo = [[120, 2], [120, 1.5]]", "begin alike"),
        ("[line]\ngaps = []", "line.gaps is empty; give one pair at least"),
        ("[lay_back]\nby_tempo = []", "lay_back.by_tempo is empty"),
        ("[band.bass]\nintervals = []", "band.bass.intervals is empty"),
        ("strength = ", "not a TOML file"),
        ("[fall]\nper_note = nan", "fall.per_note cannot be nan"),
        ("[life]\nstep = 0", "life.step is 0; choose 0.005 to 0.1"),
        ("[swing]\nby_tempo = [[120, 0.5]]", "swing.by_tempo is 0.5"),
        ("[sounds.ghost]\ngate = -1", "sounds.ghost.gate is -1"),
        ("[line]\nrepeated = true", "line.repeated cannot be True"),
    ],
)
def test_an_entry_that_cannot_be_used_is_named(tmp_path, text, complaint):
    with pytest.raises(PhrasingError, match=complaint) as caught:
        load_feel(written(tmp_path, text))
    assert "my.toml" in str(caught.value)
    assert "\n" not in str(caught.value)


def entries(feel=Feel, where=""):
    """Every field of a feel with its place in the file and its limits."""
    for each in dataclasses.fields(feel):
        if "second" in each.metadata:
            (least, most), (low, high) = each.metadata["limits"], each.metadata["second"]
            yield f"{where}{each.name}", [[least, low], [most, high]]
        elif "limits" in each.metadata:
            for value in each.metadata["limits"]:
                yield f"{where}{each.name}", value
        elif each.type not in ("bool", "Mapping[str, MarkSound]"):
            yield from entries(each.default_factory, f"{where}{each.name}.")


MARK_ENTRIES = [
    (f"sounds.{name}.{place}", value)
    for name in Feel().sounds
    for place, value in entries(MarkSound)
]
TUNE = melody("C4:1 D4:1 A4:1 B4:1 G4:2 r:1 C5:1 C5:2 A4:1 G4:1 F4:1 E4:1 D4:1 C4:8")
CHANGES = chart("| Dm7 | G7 | C6 | C6 |")


def possible(load, path):
    """The feel, or the default one where the number does not go with another one's default."""
    try:
        return load(path)
    except PhrasingError as error:
        return Feel() if "; choose " in str(error) else pytest.fail(str(error))


@pytest.mark.parametrize("place,value", [*entries(), *MARK_ENTRIES])
def test_a_number_at_its_limit_can_be_played(tmp_path, place, value):
    table, _, name = place.rpartition(".")
    text = f"[{table}]\n{name} = {value}" if table else f"{name} = {value}"
    feel = possible(load_feel, written(tmp_path, text))
    played = perform(TUNE, mark(TUNE), feel)
    band = accompany(CHANGES, feel)
    for part in (*played.parts, *band.parts):
        assert np.isfinite(part.onset).all()
        assert (part.release > part.onset).all()


KINDS = (
    Feel, Swing, LayBack, Wander, Detached, Chance, Line, Fall, Life,
    Bass, Drums, Comping, Band,
)  # fmt: skip


def test_every_number_has_its_limits():
    places = {place for place, _ in entries()}
    numbers = [
        each
        for kind in KINDS
        for each in dataclasses.fields(kind)
        if each.type in ("float", "int") or each.type.startswith("tuple")
    ]
    assert len(numbers) == len(places)


def test_a_byte_order_mark_is_no_fault(tmp_path):
    path = tmp_path / "my.toml"
    path.write_text("strength = 0.5\n", encoding="utf-8-sig")
    assert load_feel(path).strength == 0.5


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(PhrasingError, match=r"none\.toml: cannot be read"):
        load_feel(tmp_path / "none.toml")


def test_a_limit_that_is_none_by_default_can_be_set(tmp_path):
    feel = load_feel(written(tmp_path, "[sounds.accent]\nlongest = 2.0\n"))
    assert feel.sounds["accent"].longest == 2.0


WRONG = ("nan", "inf", "-inf", "true", '"x"', "2020-01-01", "{}", "1e300", "9" * 400, "[1]")
"""What is a number of no feel, whatever it is for."""


def beyond(place):
    """Values of an entry that lie just outside of its limits."""
    ends = [value for where, value in [*entries(), *MARK_ENTRIES] if where == place]
    if isinstance(ends[0], list):
        first, last = ends[0][0], ends[0][1]
        pairs = ([first[0], last[1] * 1.01], [last[0] * 1.01, first[1]], [first[0], "nan"])
        return [str([pair]).replace("'", "") for pair in pairs]
    least, most = min(ends), max(ends)
    return [repr(least - 0.01 * (most - least)), repr(most + 0.01 * (most - least))]


@pytest.mark.parametrize("place", sorted({place for place, _ in [*entries(), *MARK_ENTRIES]}))
def test_what_cannot_be_its_number_is_refused_in_one_line(tmp_path, place):
    table, _, name = place.rpartition(".")
    for value in (*WRONG, *beyond(place)):
        text = f"[{table}]\n{name} = {value}" if table else f"{name} = {value}"
        with pytest.raises(PhrasingError, match=re.escape(place)) as caught:
            load_feel(written(tmp_path, text))
        assert "my.toml" in str(caught.value)
        assert "\n" not in str(caught.value)
        assert len(str(caught.value)) < 300
