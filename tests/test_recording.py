"""The progress bar over a long wait: on a terminal, and nowhere else."""

import io
import sys

from phrasing import recording
from phrasing.recording import progress_bar


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_off_a_terminal_there_is_no_bar(monkeypatch):
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with progress_bar("sound") as progress:
        assert progress is None


def test_a_long_wait_shows_how_far_it_is(monkeypatch):
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    monkeypatch.setattr(recording, "PATIENCE", -1.0)
    with progress_bar("sound") as progress:
        progress(0.25)
        progress(1.0)
    assert "sound" in terminal.getvalue()
    assert "100%" in terminal.getvalue()


def test_a_short_wait_shows_nothing(monkeypatch):
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    monkeypatch.setattr(recording, "PATIENCE", 1000.0)
    with progress_bar("sound") as progress:
        progress(1.0)
    assert terminal.getvalue() == ""
