"""What is said on the terminal about what was made."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
import rich.progress

from phrasing.app import report
from phrasing.app.report import (
    CAUTION,
    PRACTICE_CAUTION,
    print_backing,
    print_practice,
    progress,
)

LESSON = SimpleNamespace(warnings=["Bar 3 is short."])
SOUND = {
    "seconds": 4.0, "soundfont": "Small", "lowered_db": 0.0,
    "files": {"a.wav": {"loudness_lufs": -18.0, "true_peak_dbtp": -3.0, "gain_db": 1.0}},
}  # fmt: skip


def said(capsys: pytest.CaptureFixture[str]) -> str:
    return " ".join(capsys.readouterr().out.split())


def backing(ratio: float = 2.0) -> SimpleNamespace:
    parts = [SimpleNamespace(name="Bass"), SimpleNamespace(name="Drums")]
    return SimpleNamespace(parts=parts, groove="four to the bar", ratio=ratio)


def test_who_plays_with_a_band_is_told_to_mind_the_ears(capsys, monkeypatch):
    monkeypatch.setattr(report, "sound_report", lambda recording: SOUND)
    made = SimpleNamespace(folder=Path("out"), files=("mix.wav",), recording=object())
    print_backing(LESSON, backing(), made)
    told = said(capsys)
    assert "Note: Bar 3 is short." in told
    assert "out/mix.wav" in told
    assert "bass, drums: four to the bar, the ride swings 2 : 1 (full swing)" in told
    assert told.endswith(CAUTION)


def test_where_no_sound_was_made_no_ears_are_minded(capsys):
    made = SimpleNamespace(folder=Path("out"), files=("mix.mid",), recording=None)
    print_backing(LESSON, backing(1.0), made)
    told = said(capsys)
    assert CAUTION not in told
    assert "the ride" not in told


def test_practice_is_told_to_mind_hands_and_ears(capsys):
    print_practice(SimpleNamespace(entries=(1, 2), minutes=3.4, folder=Path("out")))
    told = said(capsys)
    assert told.startswith("2 files, 3 minutes in all, once each.")
    assert told.endswith(PRACTICE_CAUTION)


def test_on_a_terminal_each_file_moves_the_bar_by_one(monkeypatch):
    moves = []

    class Bar:
        def __init__(self, **_):
            pass

        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

        def add_task(self, title, total):
            assert total == 3

        def update(self, task, advance, description):
            moves.append(advance)

    monkeypatch.setattr(rich.progress, "Progress", Bar)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    with progress(3) as step_on:
        for title in "abc":
            step_on(SimpleNamespace(title=title))
    assert sum(moves) == 3
