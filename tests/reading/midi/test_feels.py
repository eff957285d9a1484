"""With what feel a take was played: what is kept of it, and what is said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from phrasing.reading import read
from phrasing.reading.midi.feels import feel_said, manners
from phrasing.reading.midi.quantizing import Quantized, quantize
from phrasing.reading.midi.takes import Passage
from phrasing.score.melody import Manner, Melody
from phrasing.score.meters import TICKS, TempoMap, bars_of_meters
from phrasing.style import SWING, by_section
from tests.smf import midi_file, track

BAR = 4 * TICKS
BARS = bars_of_meters({}, 16 * BAR)


def found(*passages: Passage, **other: float) -> Quantized:
    plain = quantize(np.array([0.0]), np.array([960.0]), BARS, TempoMap())
    return replace(plain, passages=passages, **other)


def test_how_sure_it_is_that_eighths_are_swung_is_told_where_it_is_not_plain():
    assert list(feel_said(found(swing=1.4, swing_chance=0.8), BARS)) == [
        "It seems (80% sure) to be played with swing, about 1.4 : 1; "
        "its pairs are read as eighths."
    ]
    assert list(feel_said(found(swing_chance=0.2), BARS)) == [
        "Its eighths are read as even; that they are swung is 20% likely."
    ]
    assert not list(feel_said(found(swing_chance=0.01), BARS))


def test_a_passage_begins_at_the_bar_line_between_the_feels_or_else_at_its_first_beat():
    swung = Passage(7 * BAR + TICKS, 7 * BAR + 2 * TICKS, 8 * BAR + TICKS, 0.63, 9.0)
    in_mid_bar = Passage(11 * BAR, 11 * BAR + 2 * TICKS, 11 * BAR + 3 * TICKS, 0.5, 1.0)
    take = found(Passage(0, 0, 0, 0.5, 20.0), swung, in_mid_bar, swing=1.7)
    assert manners(take, BARS) == (
        Manner(0, swing=1.0),
        Manner(8 * BAR, swing=1.7),
        Manner(11 * BAR + 2 * TICKS, swing=1.0),
    )
    assert list(feel_said(take, BARS)) == [
        "Its feel changes: even eighths from the start (99% sure); swing, about 1.7 : 1, "
        "from bar 9 on (99% sure); even eighths from bar 12, beat 3 on (73% sure). Each "
        "passage keeps its own."
    ]


def take(folder: Path, swung_from: int, swung_until: int, tempo: float, click: float) -> Melody:
    """Sixteen bars, some of them swung, at a tempo where the file's beats say ``click``."""
    rng = np.random.default_rng(3)
    line = [(0, 60), (0.5, 62), (1, 64), (1.5, 65), (2, 67), (3, 64), (3.5, 62)]
    rows = []
    for bar in range(16):
        for at, pitch in line:
            late = 0.13 * (at % 1 == 0.5) * (swung_from <= bar < swung_until)
            on = (4 * bar + at + late) * click / tempo + rng.normal(0, 0.012) * click / 60
            rows.append((max(on, 0.0), 0.35, pitch + bar % 4))
    path = folder / "take.mid"
    path.write_bytes(midi_file(track(*rows), tempo=click))
    return read(path)


@pytest.mark.parametrize("click", [150.0, 120.0], ids=["to the click", "without one"])
def test_a_take_that_is_even_and_then_swung_keeps_both(tmp_path: Path, click: float):
    melody = take(tmp_path, 8, 16, 150.0, click)
    first, second = melody.all_manners
    assert (first.onset, first.swing) == (0, 1.0)
    assert abs(second.onset - 8 * BAR) <= TICKS * (click != 150.0)
    assert second.swing == pytest.approx(1.7, abs=0.2)
    assert [style.name for _, style in by_section(melody, SWING)][1:] == ["swing"]
    said = " ".join(melody.reading.warnings)
    assert "swing, about 1.7 : 1, from bar " in said
    assert melody.onset.tolist() == [
        round((4 * bar + at) * TICKS) for bar in range(16) for at in (0, 0.5, 1, 1.5, 2, 3, 3.5)
    ]


def test_one_feel_throughout_is_not_kept(tmp_path: Path):
    assert take(tmp_path, 0, 0, 150.0, 150.0).all_manners == (Manner(0),)
    assert take(tmp_path, 0, 16, 150.0, 150.0).all_manners == (Manner(0),)
