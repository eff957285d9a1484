"""Chromium for the tests that drive a page; without it they are skipped, and say so loudly."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
MISSING = (
    "NOT TESTED: the listening page in a browser. There is no Chromium here; on Debian, "
    "“apt-get install chromium” brings it, or “playwright install chromium”."
)
FLAGS = ["--no-sandbox", "--autoplay-policy=user-gesture-required", "--mute-audio"]


def chromium_path(bundled: str) -> str | None:
    """The system's Chromium, or the one that playwright installed."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    return found or (bundled if Path(bundled).is_file() else None)


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """A running Chromium; skips the test where there is none."""
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        path = chromium_path(driver.chromium.executable_path)
        if path is None:
            pytest.skip(MISSING)
        chromium = driver.chromium.launch(executable_path=path, args=FLAGS)
        yield chromium
        chromium.close()
