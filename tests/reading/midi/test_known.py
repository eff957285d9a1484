"""How loosely played takes are read is how they were last compared with what was meant."""

from __future__ import annotations

import numpy as np
import pytest

from phrasing.reading.midi.melody import read_midi
from phrasing.score.meters import TICKS
from tests.known import lines
from tests.smf import midi_file, track

LOOSE = {"exact": 0.0, "tight": 0.01, "loose": 0.025}
"""Standard deviation of each onset in seconds."""


def take(line, seed: int, spread: float, click: bool) -> bytes:
    """The line, played: swung in every other take, with loose onsets and gates of its own."""
    dice = np.random.default_rng(seed)
    tempo = line.tempos.tempos[0]
    at, length = line.onset / TICKS, line.length / TICKS
    if seed % 2:
        at = at + (np.abs(at % 1 - 0.5) < 0.01) / 6
    at = np.maximum(at + dice.normal(0, spread * tempo / 60, len(at)), 0)
    at = np.maximum.accumulate(at) + np.arange(len(at)) * 1e-3
    end = np.minimum(at + length * dice.uniform(0.7, 0.95, len(at)), [*at[1:], np.inf])
    pace = tempo / 120 if not click else 1.0
    notes = zip(at / pace, np.maximum(end - at, 0.02) / pace, line.pitch.tolist(), strict=True)
    meter = line.bars[0].meter
    meters = {0: f"{meter.beats}/{meter.unit}"} if click else None
    return midi_file(track(*notes), tempo=tempo if click else None, meters=meters)


@pytest.mark.parametrize("click", [True, False], ids=["on a click", "free"])
@pytest.mark.parametrize("name", LOOSE)
def test_known_takes(name, click, known, tmp_path):
    found = {}
    for i, line in enumerate(lines(6, notes=20)):
        path = tmp_path / f"{i}.mid"
        path.write_bytes(take(line, i, LOOSE[name], click))
        read = read_midi(path)
        bars = [(bar.onset, bar.length) for bar in read.bars]
        found[f"take {i}"] = [
            read.onset, read.length, read.pitch, bars, read.tempos.tempos,
            [(g.note, g.pitches) for g in read.graces], [*read.reading.warnings],
            [*map(repr, read.reading.doubts)], [(key.onset, key.fifths) for key in read.keys],
        ]  # fmt: skip
    known(f"reading-{name}-{'click' if click else 'free'}", found)
