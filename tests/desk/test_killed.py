"""Killed in the middle, the desk has kept every change that it said was done."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from phrasing.desk.keeping import opened
from phrasing.lesson.request import Request
from phrasing.score.marks import MARK_NAMES
from tests.desk.test_server import TUNE, Client

HOUSE = Path(__file__).parents[2]


@pytest.mark.long
@pytest.mark.skipif(os.name == "nt", reason="there is no such signal")
@pytest.mark.parametrize("seed", range(3))
def test_no_change_that_was_shown_as_done_is_lost(tmp_path, seed):
    shutil.copy(HOUSE / "examples" / TUNE, tmp_path)
    command = [
        sys.executable,
        "-u",
        str(HOUSE / "cli.py"),
        "desk",
        "--no-browser",
        str(tmp_path),
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=tmp_path) as server:
        assert server.stdout is not None
        server.stdout.readline()
        client = Client(server.stdout.readline().strip())
        chance, done = random.Random(seed), {}
        last = chance.randrange(10, 30)
        for number in range(30):
            note = chance.randrange(40)
            kind, value = chance.choice(
                [
                    ("mark", chance.choice(MARK_NAMES)),
                    ("level", chance.choice([-6, 2.5])),
                    ("gate", chance.choice([0.3, 0.8])),
                ]
            )
            last_key = f"{kind}:{note}"
            wish = {"set": {last_key: value}}
            if number == last:
                line = client.begun("POST", f"/change/{TUNE}", wish)
                server.send_signal(signal.SIGKILL)
                line.close()
                break
            status, answer = client.json("POST", f"/change/{TUNE}", wish)
            assert status == 200
            assert answer["melody"]["steps"][-1]["sets"] == {last_key: value}
            done[last_key] = value
    again = opened(tmp_path / TUNE, Request())
    steps = json.loads((tmp_path / "late_bus_home.desk.json").read_text())["steps"]
    assert len(steps) in (last, last + 1)
    assert {k: v for k, v in again.held.items() if k != last_key} == {
        k: v for k, v in done.items() if k != last_key
    }
