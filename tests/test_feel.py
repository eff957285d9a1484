"""The feel and its file."""

import pytest

from phrasing.errors import PhrasingError
from phrasing.feel import Feel, load_feel


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


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(PhrasingError, match=r"none\.toml: cannot be read"):
        load_feel(tmp_path / "none.toml")


def test_a_limit_that_is_none_by_default_can_be_set(tmp_path):
    feel = load_feel(written(tmp_path, "[sounds.accent]\nlongest = 2.0\n"))
    assert feel.sounds["accent"].longest == 2.0
