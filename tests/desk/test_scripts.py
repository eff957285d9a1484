"""What the desk's scripts reckon, outside a browser."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.page.test_scripts import NO_NODE, NODE, passes

pytestmark = pytest.mark.long
SCRIPTS = sorted((Path(__file__).parent / "scripts").glob("*.test.js"))


@pytest.mark.skipif(NODE is None, reason=NO_NODE)
@pytest.mark.parametrize("file", SCRIPTS, ids=lambda file: file.name)
def test_of_a_script_of_the_desk(file):
    passes(file)
