"""What every test needs: nothing of the user's own folders is read or written."""

import os

import pytest


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
