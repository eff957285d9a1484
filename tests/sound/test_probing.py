"""The probe: asked once, remembered, and never in the way."""

import json
import re

import numpy as np
import pytest

from phrasing.sound import probing
from phrasing.sound.probing import AS_IT_IS, CUTOFFS, EDGES, LATER, QUICK, RISES, ask
from phrasing.sound.soundfonts import embedded_soundfont
from tests.sound.playing import part

KEYS = [(60, 80), (67, 48)]


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """A cache folder of the test's own, and nothing known."""
    monkeypatch.setattr(probing, "cache_folder", lambda: tmp_path)
    monkeypatch.setattr(probing, "_known", {})
    return tmp_path


def answers(program: int = 72):
    return ask(embedded_soundfont(), part(program=program), KEYS)


def forget(monkeypatch):
    monkeypatch.setattr(probing, "_known", {})


def test_a_key_gets_darker_and_softer_as_the_filter_closes(cache):
    answer = answers().notes[67, 48]
    assert answer.levels[0] < answer.levels[AS_IT_IS] - 6
    tilt = np.array(answer.highs) - answer.levels
    assert tilt[AS_IT_IS - 6] < tilt[AS_IT_IS] - 6
    assert len(answer.levels) == len(CUTOFFS)


def test_a_key_gets_brighter_with_its_edge(cache):
    answer = answers(57).notes[67, 48]
    tilt = np.array(answer.edged_highs) - answer.edged
    assert len(tilt) == len(EDGES)
    assert (np.diff(tilt) > 0).all()
    assert tilt[-1] > answer.highs[-1] - answer.levels[-1] + 3


def test_a_rise_goes_up_and_a_wind_is_there_in_time(cache):
    known = answers(74)
    for answer in known.notes.values():
        assert len(answer.rises) == len(RISES)
        assert (np.diff(answer.rises) >= 0).all()
        assert answer.rises[-1] <= QUICK + 0.005
    for key in known.keys.values():
        assert len(key.later) == len(LATER)
        assert key.slur_rises[-1] < 0.015


def test_what_was_measured_is_remembered_to_the_last_digit(cache, monkeypatch):
    first = answers()
    forget(monkeypatch)
    monkeypatch.setattr(probing, "_listen", lambda *_: pytest.fail("measured again"))
    again = answers()
    assert again == first


def test_only_new_keys_are_measured(cache, monkeypatch):
    answers()
    heard = []
    listen = probing._listen
    monkeypatch.setattr(
        probing, "_listen", lambda f, p, keys, a: heard.extend(keys) or listen(f, p, keys, a)
    )
    ask(embedded_soundfont(), part(program=72), [*KEYS, (62, 80)])
    assert heard == [(62, 80)]


def test_the_order_of_asking_makes_no_difference(cache, monkeypatch):
    whole = answers().notes
    (path,) = (cache / "probes").iterdir()
    path.unlink()
    forget(monkeypatch)
    for key in reversed(KEYS):
        found = ask(embedded_soundfont(), part(program=72), [key]).notes
    for key in KEYS:
        assert found[key].levels == pytest.approx(whole[key].levels, abs=0.011)
        assert found[key].rises == pytest.approx(whole[key].rises, abs=0.00011)


def test_a_key_struck_again_is_heard_from_its_start(cache):
    """The note before had been cut off, and the next one started in its middle."""
    once = answers(57).notes[67, 48].levels
    open_filter = once[AS_IT_IS:]
    assert max(open_filter) - min(open_filter) < 0.1


@pytest.mark.parametrize(
    "content",
    ["", "{", "[]", "{}", '{"notes": {}, "keys": 3}', '{"notes": {}, "keys": {"x": 1}}',
     '{"notes": {"60/80": {"levels": [1], "highs": [2]}}, "keys": {}}',
     '{"notes": {}, "keys": {"60": {"fall": NaN}}}', "[" * 3000 + "]" * 3000],
)  # fmt: skip
@pytest.mark.parametrize("signed", [False, True])
def test_a_cache_that_makes_no_sense_is_measured_again(cache, monkeypatch, content, signed):
    first = answers()
    (path,) = (cache / "probes").iterdir()
    checksum = probing._checksum(content) if signed else ""
    path.write_text(f"{checksum}\n{content}")
    forget(monkeypatch)
    assert answers() == first
    assert json.loads(path.read_text().split("\n")[1])["notes"]["60/80"]["levels"]


def test_measurements_that_were_changed_are_made_again(cache, monkeypatch):
    """Levels of 0 dB in the file were believed, and a part came out far too loud."""
    first = answers()
    (path,) = (cache / "probes").iterdir()
    written = path.read_text()
    path.write_text(re.sub(r'"levels": \[[^,]*', '"levels": [0.0', written))
    forget(monkeypatch)
    assert answers() == first
    assert path.read_text() == written


def test_a_user_without_a_home_has_no_memory_and_is_served(cache, monkeypatch):
    def homeless():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(probing, "cache_folder", homeless)
    assert (60, 80) in answers().notes


def test_a_cache_folder_that_cannot_be_made_is_done_without(cache, monkeypatch):
    (cache / "file").write_text("in the way")
    monkeypatch.setattr(probing, "cache_folder", lambda: cache / "file")
    assert (60, 80) in answers().notes
    assert (cache / "file").read_text() == "in the way"


def test_every_program_and_kit_has_a_memory_of_its_own(cache):
    answers(72)
    answers(67)
    ask(embedded_soundfont(), part(program=0, kit=1), [(51, 80)])
    assert len(list((cache / "probes").iterdir())) == 3
