"""A plugin for pytest: tells coverage the name of each test, and keeps how long it took."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path

import coverage
import pytest

SECONDS: dict[str, float] = {}


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[object]:
    """What runs from here on, fixtures included, runs for this test."""
    running = coverage.Coverage.current()
    if running is not None:
        running.switch_context(item.nodeid)
    return (yield)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Add up a test's setting up, call and clearing away."""
    SECONDS[report.nodeid] = SECONDS.get(report.nodeid, 0.0) + report.duration


def pytest_sessionfinish() -> None:
    """Hand the times on."""
    Path(os.environ["MUTANTS"], "seconds.json").write_text(json.dumps(SECONDS))
