"""Takes without a click, from the file on."""

from pathlib import Path

import numpy as np
import pytest

from phrasing.errors import PhrasingError
from phrasing.reading import read
from phrasing.reading.midi.freely import Asked, followed
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS
from tests.smf import midi_file, track

TUNE = [(0, 1.5, 60), (1.5, 0.5, 62), (2, 1, 64), (3, 0.5, 64), (3.5, 0.5, 62), (4, 1, 65),
        (5, 0.5, 62), (5.5, 0.5, 60), (6, 2, 59), (8, 1.5, 60), (9.5, 0.5, 62), (10, 1, 64),
        (11, 1, 67), (12, 2, 62), (14, 2, 60)]  # fmt: skip
TIMES = 4


def take(
    tmp_path: Path,
    bpm: float = 141.0,
    drift: float = 0.04,
    jitter: float = 0.012,
    file_tempo: float | None = 120.0,
    **asked,
) -> Melody:
    """The tune four times over at a tempo that the file does not tell (it says 120)."""
    rng = np.random.default_rng(5)
    rows = [(on + 16 * i, le, p) for i in range(TIMES) for on, le, p in TUNE]
    onset, length, pitch = np.array(rows).T
    seconds = np.cumsum(np.full(70, 60 / bpm) * (1 + drift * np.sin(np.arange(70) / 7)))
    begin = np.interp(onset + 1, np.arange(70), seconds) + rng.normal(0, jitter, len(onset))
    end = np.interp(onset + 1 + 0.9 * length, np.arange(70), seconds)
    notes = zip(2 * begin, 2 * (end - begin), pitch.astype(int).tolist(), strict=True)
    path = tmp_path / "take.mid"
    played = track(*((float(o), float(d), p) for o, d, p in notes))
    path.write_bytes(midi_file(played, tempo=file_tempo))
    return read(path, **asked)


WANTED = [round((on + 16 * i) * TICKS) for i in range(TIMES) for on, _, _ in TUNE]


@pytest.mark.parametrize("tempo", [97, 141, 163])
def test_a_take_without_a_click_is_read_by_its_own_beats(tmp_path: Path, tempo: float):
    melody = take(tmp_path, tempo)
    assert melody.onset.tolist() == WANTED
    assert (str(melody.meter), melody.pickup) == ("4/4", 0)
    assert melody.tempos.tempos[0] == pytest.approx(tempo, rel=0.04)
    assert "played without a click, at about" in melody.reading.warnings[0]


def test_the_tempo_of_the_file_is_passed_over_aloud(tmp_path: Path):
    said = " ".join(take(tmp_path).reading.warnings)
    assert "It does not keep to the file's own tempo (120), which counts for nothing" in said
    without = " ".join(take(tmp_path, file_tempo=None).reading.warnings)
    assert "The file gives no tempo" not in without
    assert "file's own tempo" not in without


def test_what_is_asked_decides(tmp_path: Path):
    assert take(tmp_path, pickup=1).pickup == TICKS
    assert str(take(tmp_path, meter="2/4").meter) == "2/4"
    half = take(tmp_path, 176.0, tempo=88)
    assert half.tempos.tempos[0] == pytest.approx(88, rel=0.04)
    assert half.onset.tolist() == [at // 2 for at in WANTED]


@pytest.mark.parametrize("tempo", [105, 120, 250])
def test_a_tempo_to_play_it_at_does_not_change_how_it_is_read(tmp_path: Path, tempo: float):
    """Slowed for practice, a take came out in other note values."""
    melody = take(tmp_path, 176.0, tempo=tempo)
    assert melody.tempos.tempos[0] == pytest.approx(176, rel=0.04)
    assert melody.onset.tolist() == WANTED


def test_a_take_to_the_click_keeps_the_click(tmp_path: Path):
    melody = take(tmp_path, 120.0, 0.0, 0.025)
    assert not any("click, at about" in said for said in melody.reading.warnings)
    assert melody.tempos.tempos == (120.0,)


def test_a_meter_that_is_none(tmp_path: Path):
    with pytest.raises(PhrasingError, match="“waltz” is no meter; give one such as 3/4"):
        take(tmp_path, meter="waltz")


def test_the_tempo_that_the_file_says_is_likelier_than_others():
    rng = np.random.default_rng(1)
    onset = np.array([on + 16 * i for i in range(TIMES) for on, _, _ in TUNE]) * 60 / 141
    onset = np.sort(onset + rng.normal(0, 0.012, len(onset)))
    plain = followed(onset, onset + 0.2, Asked())
    tempo = plain[0].tempo
    own = {r.tempo: r.liking for r in followed(onset, onset + 0.2, Asked(own=tempo * 1.002))}
    gains = {r.tempo: round(own[r.tempo] - r.liking) for r in plain}
    assert tempo == pytest.approx(141, rel=0.01)
    assert gains[tempo] == 4
    assert {gain for other, gain in gains.items() if abs(other - tempo) > 3} <= {0}


def test_notes_spread_over_hours_are_no_take(tmp_path: Path):
    """Beats that nobody could keep in mind are not looked for: the file's own are kept."""
    rng = np.random.default_rng(1)
    seconds = np.concatenate([np.arange(20) * 0.43, 1800 + np.arange(20) * 0.43])
    rows = [
        (float(2 * s + rng.normal(0, 0.05)), 0.7, 60 + i % 7) for i, s in enumerate(seconds)
    ]
    path = tmp_path / "take.mid"
    path.write_bytes(midi_file(track(*((max(o, 0), d, p) for o, d, p in rows))))
    found = read(path)
    assert not found.reading.is_free
    assert found.tempos.tempos == (120.0,)
