"""How notes are touched, so that they are heard as asked."""

import json

import numpy as np
import pytest

from phrasing.sound import touch
from phrasing.sound.sound import render, starts_at
from phrasing.sound.soundfonts import embedded_soundfont
from phrasing.sound.synthesizer import ATTENUATION, COARSE_TUNE, CUTOFF, RELEASE
from phrasing.sound.touch import CUTOFFS, ask, touch_of
from tests.outside.hearing import decibels, k_weighted
from tests.sound.playing import part, performance

KEYS = [(60, 80), (67, 48)]


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """A cache folder of the test's own, and nothing known."""
    monkeypatch.setattr(touch, "_cache_folder", lambda: tmp_path)
    monkeypatch.setattr(touch, "_known", {})
    return tmp_path


def answers(program: int = 72):
    return ask(embedded_soundfont(), part(program=program), KEYS)


def forget(monkeypatch):
    monkeypatch.setattr(touch, "_known", {})


def test_a_key_gets_darker_and_softer_as_the_filter_closes(cache):
    answer = answers().notes[67, 48]
    assert answer.levels[0] < answer.levels[-1] - 6
    assert answer.centroids[0] < 0.8 * answer.centroids[-1]
    assert len(answer.levels) == len(CUTOFFS)


def test_what_was_measured_is_remembered_to_the_last_digit(cache, monkeypatch):
    first = answers()
    forget(monkeypatch)
    monkeypatch.setattr(touch, "_listen", lambda *_: pytest.fail("measured again"))
    again = answers()
    assert again.notes == first.notes
    assert (again.falls, again.rises) == (first.falls, first.rises)


def test_only_new_keys_are_measured(cache, monkeypatch):
    answers()
    heard = []
    listen = touch._listen
    monkeypatch.setattr(
        touch, "_listen", lambda f, p, keys, a: heard.extend(keys) or listen(f, p, keys, a)
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
    monkeypatch.setattr(touch, "_cache_folder", lambda: cache / "file")
    assert (60, 80) in answers().notes
    assert (cache / "file").read_text() == "in the way"


def test_every_program_and_kit_has_a_memory_of_its_own(cache):
    answers(72)
    answers(67)
    ask(embedded_soundfont(), part(program=0, kit=1), [(51, 80)])
    assert len(list((cache / "probes").iterdir())) == 3


@pytest.mark.parametrize("system", ["linux", "darwin", "win32"])
def test_every_system_has_a_cache_folder(monkeypatch, system):
    monkeypatch.setattr(touch.sys, "platform", system)
    assert touch._cache_folder().name == "phrasing"


def touched(*rows, **options):
    return touch_of(part(*rows, **options), embedded_soundfont())


def heard(notes, quarters) -> list[float]:
    """K-weighted level of the first 200 ms of the notes at these quarters (120 a minute)."""
    blocks = render(performance(notes), embedded_soundfont(), room=False)
    wave = k_weighted(np.concatenate(list(blocks), axis=1).T.astype(float), 44100)
    at = [round((starts_at(44100) + quarter / 2) * 44100) for quarter in quarters]
    return [decibels(wave[start : start + 8820]) for start in at]


def test_a_key_the_soundfont_leaves_out_is_played_by_its_neighbour():
    """The small soundfont's alto saxophone has no E4: the note had been silence."""
    touch = touched((0, 1, 62), (1, 2, 64), program=66)
    assert touch.key.tolist() == [62, 63]
    assert touch.generators[COARSE_TUNE].tolist() == [0, 1]
    levels = heard(part((0, 1, 62), (1, 2, 64), (2, 3, 65), program=66), (0, 1, 2))
    assert np.ptp(levels) < 1


def test_the_neighbour_sounds_at_the_note_s_own_pitch():
    def pitch(key: int) -> float:
        notes = performance(part((0, 2, key), program=66))
        wave = np.concatenate(list(render(notes, embedded_soundfont(), room=False)), axis=1)[0]
        spectrum = np.abs(np.fft.rfft(wave[9000:40000] * np.hanning(31000), 1 << 19))
        low, high = (round(f * (1 << 19) / 44100) for f in (280, 400))
        return (low + int(np.argmax(spectrum[low:high]))) * 44100 / (1 << 19)

    assert 12 * np.log2(pitch(64) / pitch(63)) == pytest.approx(1, abs=0.06)
    assert 12 * np.log2(pitch(65) / pitch(64)) == pytest.approx(1, abs=0.06)


@pytest.mark.parametrize("program", [1, 57, 65, 66, 67, 72])
def test_plain_notes_are_equally_loud_whatever_their_pitch(program):
    """Neighbouring keys had differed by up to 5 dB, more than a mark."""
    notes = part(*[(i, i + 0.8, 56 + i) for i in range(22)], program=program)
    assert np.ptp(heard(notes, range(22))) < 2


def test_a_ghost_is_darker_and_a_marcato_brighter():
    cutoff = touched((0, 1, 62, -9, -1), (1, 2, 62), (2, 3, 62, 4.5, 0.5)).generators[CUTOFF]
    assert cutoff[0] < cutoff[1] - 500 < cutoff[2] - 500


def test_what_the_filter_takes_away_is_given_back():
    touch = touched((0, 1, 62, 0, -1), (1, 2, 62, 0, 0), (2, 3, 62, 0, 1))
    quieter = touch.generators[ATTENUATION]
    assert quieter[0] < quieter[1] - 20
    assert (quieter >= 0).all()


def test_notes_in_a_chord_are_not_cut_as_if_they_were_slurred():
    chord = [(0, 2, 60), (0, 2, 64), (1, 3, 67)]
    line = [(0, 1.1, 60), (1, 2, 62)]
    assert np.isinf(touched(*chord).overlap[:1]).all()
    assert np.isfinite(touched(*line).overlap[0])
    held = [(0, 4, 48), (1, 2, 60), (2, 3, 62)]
    assert np.isinf(touched(*held).overlap[0])


def test_a_slurred_note_lets_go_faster_than_a_last_one():
    release = touched((0, 1.1, 60), (1, 2, 60)).generators[RELEASE]
    assert release[0] < release[1] < 0


def test_a_part_s_gain_is_its_level_whatever_plays_it():
    levels = [heard(part((0, 1, 60), program=p, gain=-6), (0,))[0] for p in (57, 1, 72)]
    plain = heard(part((0, 1, 60), program=57), (0,))[0]
    assert levels == pytest.approx([plain - 6] * 3, abs=0.7)
