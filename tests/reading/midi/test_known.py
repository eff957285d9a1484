"""How played takes of the examples are read is how they were last compared with what was
meant."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from phrasing.reading import read
from phrasing.reading.midi.melody import read_midi
from phrasing.score.meters import TICKS
from tests.smf import midi_file, track

EXAMPLES = Path(__file__).parents[3] / "examples"
TUNES = ("late_bus_home.mid", "caretakers_keys.mid", "folding_chairs_waltz.mid")
LOOSE = {"tight": 0.008, "loose": 0.02}
"""Standard deviation of each onset in seconds."""
SWUNG = {"even": 1.0, "swung": 1.8}


def take(line, ratio: float, spread: float, click: bool) -> bytes:
    """The line, played: swung from its middle on, with loose onsets and gates, and with two
    quick notes that lead to one on a beat."""
    dice = np.random.default_rng(3)
    tempo = line.tempos.tempos[0]
    at, length, pitch = line.onset / TICKS, line.length / TICKS, line.pitch
    off_beat = (np.abs(at % 1 - 0.5) < 0.01) & (at >= at[len(at) // 2])
    at = at + off_beat * (ratio / (1 + ratio) - 0.5)
    at = np.maximum(at + dice.normal(0, spread * tempo / 60, len(at)), 0)
    end = np.minimum(at + length * dice.uniform(0.7, 0.95, len(at)), [*at[1:], np.inf])
    main = int(np.flatnonzero((line.onset % TICKS == 0) & (length >= 1))[1])
    quick = at[main] - np.array([0.09, 0.045]) * tempo / 60
    end[main - 1] = min(end[main - 1], quick[0])
    at, end = np.insert(at, main, quick), np.insert(end, main, [quick[1], at[main]])
    pitch = np.insert(pitch, main, pitch[main] - np.array([2, 1]))
    # A file that says no tempo counts at 120, whatever was played.
    pace = 1.0 if click else tempo / 120
    notes = zip(at / pace, np.maximum(end - at, 0.02) / pace, pitch.tolist(), strict=True)
    meter = line.bars[0].meter
    meters = {0: f"{meter.beats}/{meter.unit}"} if click else None
    return midi_file(track(*notes), tempo=tempo if click else None, meters=meters)


@pytest.mark.parametrize("click", [True, False], ids=["on a click", "free"])
@pytest.mark.parametrize("name", TUNES, ids=lambda name: Path(name).stem)
def test_known_takes(name, click, known, tmp_path):
    line, found = read(EXAMPLES / name), {}
    for (way, ratio), (how, spread) in ((w, s) for w in SWUNG.items() for s in LOOSE.items()):
        path = tmp_path / "take.mid"
        path.write_bytes(take(line, ratio, spread, click))
        again = read_midi(path)
        if click:
            assert again.onset.tolist() == line.onset.tolist()
            assert again.pitch.tolist() == line.pitch.tolist()
        found[f"{way} {how}"] = [
            again.onset, again.length, again.pitch, again.tempos.tempos,
            [(bar.onset, bar.length) for bar in again.bars],
            [(grace.note, grace.pitches) for grace in again.graces],
            [*again.reading.warnings], [*map(repr, again.reading.doubts)],
            [(key.onset, key.fifths) for key in again.keys],
        ]  # fmt: skip
    known(f"reading-{Path(name).stem}-{'click' if click else 'free'}", found)
