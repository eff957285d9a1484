"""The probe: asked once, remembered, and never in the way."""

import json

import pytest

from phrasing.rendering import probing
from phrasing.rendering.probing import CUTOFFS, ask
from phrasing.rendering.soundfonts import embedded_soundfont
from tests.rendering.playing import part

KEYS = [(60, 80), (67, 48)]


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """A cache folder of the test's own, and nothing known."""
    monkeypatch.setattr(probing, "_cache_folder", lambda: tmp_path)
    monkeypatch.setattr(probing, "_known", {})
    return tmp_path


def answers(program: int = 72):
    return ask(embedded_soundfont(), part(program=program), KEYS)


def forget(monkeypatch):
    monkeypatch.setattr(probing, "_known", {})


def test_a_key_gets_darker_and_softer_as_the_filter_closes(cache):
    answer = answers().notes[67, 48]
    assert answer.levels[0] < answer.levels[-1] - 6
    assert answer.centroids[0] < 0.8 * answer.centroids[-1]
    assert len(answer.levels) == len(CUTOFFS)


def test_what_was_measured_is_remembered_to_the_last_digit(cache, monkeypatch):
    first = answers()
    forget(monkeypatch)
    monkeypatch.setattr(probing, "_listen", lambda *_: pytest.fail("measured again"))
    again = answers()
    assert again.notes == first.notes
    assert (again.falls, again.rises) == (first.falls, first.rises)


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


def test_a_key_struck_again_is_heard_from_its_start(cache):
    """The note before had been cut off, and the next one started in its middle."""
    once = answers().notes[67, 48].levels
    open_filter = [level for cutoff, level in zip(CUTOFFS, once, strict=True) if cutoff >= 0]
    assert max(open_filter) - min(open_filter) < 0.1


@pytest.mark.parametrize(
    "content",
    ["", "{", "[]", "{}", '{"notes": {}, "falls": 3}', '{"notes": {}, "falls": {"x": 1}}',
     '{"notes": {"60": {"80": {"levels": [1], "centroids": [2]}}}, "falls": {"60": 0.1}}'],
)  # fmt: skip
def test_a_cache_that_makes_no_sense_is_measured_again(cache, monkeypatch, content):
    first = answers()
    (path,) = (cache / "probes").iterdir()
    path.write_text(content)
    forget(monkeypatch)
    assert answers().notes == first.notes
    assert json.loads(path.read_text())["notes"]["60"]["80"]["levels"]


def test_a_cache_folder_that_cannot_be_made_is_done_without(cache, monkeypatch):
    (cache / "file").write_text("in the way")
    monkeypatch.setattr(probing, "_cache_folder", lambda: cache / "file")
    assert (60, 80) in answers().notes
    assert (cache / "file").read_text() == "in the way"


def test_every_program_and_kit_has_a_memory_of_its_own(cache):
    answers(72)
    answers(67)
    ask(embedded_soundfont(), part(program=0, kit=1), [(51, 80)])
    assert len(list((cache / "probes").iterdir())) == 3


@pytest.mark.parametrize("system", ["linux", "darwin", "win32"])
def test_every_system_has_a_cache_folder(monkeypatch, system):
    monkeypatch.setattr(probing.sys, "platform", system)
    assert probing._cache_folder().name == "phrasing"
