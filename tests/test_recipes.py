"""Every recipe in DEVELOPERS.md is performed in a copy, and does what it says."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests.house_map import PAGE, with_map

HOUSE = PAGE.parent
RECIPES = dict(
    re.findall(r"^### ([^\n]+)\n(.*?)(?=^##)", PAGE.read_text(encoding="utf-8"), re.M | re.S)
)
STEP = re.compile(
    r"^In `([^`]+)`, (above|below) `([^`]+)`(, at the end)?:\n\n((?: {4}.*\n|\n)+)", re.M
)
RUN = """import doctest, sys
from tests.band.charts import chart
from tests.lines import melody
test = doctest.DocTestParser().get_doctest(
    sys.stdin.read(), {"melody": melody, "chart": chart}, "recipe", None, 0
)
assert test.examples
sys.exit(doctest.DocTestRunner().run(test).failed)
"""


def performed(recipe: str, copy: Path) -> int:
    """Carry out the steps of a recipe in a copy; how many there were."""
    steps = STEP.findall(recipe)
    for name, side, anchor, at_end, block in steps:
        file = copy / name
        lines = file.read_text(encoding="utf-8").splitlines()
        (at,) = (n for n, line in enumerate(lines) if line == anchor)
        code = textwrap.dedent(block).strip("\n").splitlines()
        inside = anchor.endswith(("(", ":")) and side == "below"
        kept = len(anchor) - len(anchor.lstrip()) + 4 * inside
        code = [" " * kept + line if line else line for line in code]
        if at_end:
            at = lines.index(")", at) - 1
        above = [*code, "", ""] if side == "above" else code
        place = at + (side == "below")
        lines[place:place] = above
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(steps)


@pytest.mark.long
@pytest.mark.parametrize("name", RECIPES)
def test_a_recipe_does_what_it_says(name: str, tmp_path: Path) -> None:
    leave = shutil.ignore_patterns("__pycache__")
    shutil.copytree(HOUSE / "phrasing", tmp_path / "phrasing", ignore=leave)
    for part in ("__init__.py", "lines.py", "band/__init__.py", "band/charts.py"):
        (tmp_path / "tests" / part).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(HOUSE / "tests" / part, tmp_path / "tests" / part)
    recipe = RECIPES[name]
    assert performed(recipe, tmp_path) >= 1
    done = subprocess.run(
        [sys.executable, "-c", RUN],
        cwd=tmp_path,
        input=textwrap.dedent(recipe[recipe.index("Then:") + 5 :]),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_there_is_a_recipe_for_everything_that_is_added_by_a_row() -> None:
    assert list(RECIPES) == [
        "A rule",
        "A rule over the line",
        "A mark",
        "An instrument",
        "A drum figure",
        "A groove",
        "A style",
    ]


def test_the_map_is_that_of_the_house() -> None:
    """``python -m tests.house_map`` draws it anew."""
    page = PAGE.read_text(encoding="utf-8")
    assert page == with_map(page)
