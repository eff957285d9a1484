"""What every test needs: nothing of the user's own folders is read or written."""

import os

import pytest

from tests.browser.chromium import browser
from tests.browser.pages import built, hostile

__all__ = ["browser", "built", "hostile"]


@pytest.fixture(autouse=True, scope="session")
def _own_cache(tmp_path_factory: pytest.TempPathFactory):
    """Soundfonts are measured afresh for each run of the tests, and not remembered after."""
    before = dict(os.environ)
    for name in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        os.environ[name] = str(tmp_path_factory.mktemp("cache"))
    for name in ("PHRASING_SOUNDFONT", "PHRASING_FLUIDSYNTH"):
        os.environ.pop(name, None)
    yield
    os.environ.clear()
    os.environ.update(before)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter):
    """Say aloud at the end what could not be tested here."""
    skipped = terminalreporter.stats.get("skipped", [])
    reasons = {str(report.longrepr[2]).removeprefix("Skipped: ") for report in skipped}
    for reason in sorted(reason for reason in reasons if reason.startswith("NOT TESTED")):
        terminalreporter.write_line("")
        terminalreporter.write_line(reason, red=True, bold=True)
