"""What every test needs: nothing of the user's own folders is read or written."""

import os
import random
import tempfile
from itertools import groupby
from pathlib import Path

import pytest

from tests.browser.chromium import browser
from tests.browser.firefox import firefox
from tests.browser.pages import built, hostile
from tests.known import Known

TESTS = Path(__file__).parent
LONG = ("test_fuzz.py", "test_commands_more.py", "test_folders.py")
"""Files of tests that `make check` leaves to `make test`."""
os.environ["NUMBA_CACHE_DIR"] = os.path.join(
    tempfile.gettempdir(), "phrasing-numba-" + os.environ.get("PYTEST_XDIST_WORKER", "alone")
)
"""What librosa compiles, kept apart for each worker: two that fill one cache crash."""

__all__ = ["browser", "built", "firefox", "hostile"]


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


def pytest_addoption(parser: pytest.Parser) -> None:
    """``--shuffle 7``: the files, and the tests in each, in another order."""
    parser.addoption("--shuffle", type=int, metavar="SEED", help="tests in another order")
    parser.addoption("--renew", action="store_true", help="write down what is known")


@pytest.fixture
def known(request: pytest.FixtureRequest) -> Known:
    """What is known of what is made; see ``tests.known``."""
    return Known(request.config.getoption("--renew"))


def shuffled(items: list[pytest.Item], seed: int) -> list[pytest.Item]:
    """The tests in an order drawn by the seed, those of a file together."""
    chance = random.Random(seed)
    files = [list(group) for _, group in groupby(items, key=lambda item: item.path)]
    chance.shuffle(files)
    for tests in files:
        chance.shuffle(tests)
    return [test for tests in files for test in tests]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Whole folders and files of tests are marked by where they stand."""
    seed = config.getoption("--shuffle")
    if seed is not None:
        items[:] = shuffled(items, seed)
    for item in items:
        if Path(str(item.path)).name in LONG:
            item.add_marker("long")
        for folder in Path(str(item.path)).relative_to(TESTS).parts[:-1]:
            if folder in ("outside", "browser", "sound"):
                item.add_marker(folder)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter):
    """Say aloud at the end what could not be tested here."""
    skipped = terminalreporter.stats.get("skipped", [])
    reasons = {str(report.longrepr[2]).removeprefix("Skipped: ") for report in skipped}
    for reason in sorted(reason for reason in reasons if reason.startswith("NOT TESTED")):
        terminalreporter.write_line("")
        terminalreporter.write_line(reason, red=True, bold=True)
