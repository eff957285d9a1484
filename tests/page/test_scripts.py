"""The page's scripts as one: modules in order, each with its own names; their tests."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from phrasing.page import practice, scripts
from phrasing.page.listening import STYLES
from phrasing.page.scripts import bundled

STATIC = Path(scripts.__file__).parent / "static"
NODE = shutil.which("node")
NO_NODE = (
    "NOT TESTED: the page's scripts outside a browser. There is no node here; on Debian, "
    "“apt-get install nodejs” brings it."
)
LINTER = Path(sys.executable).with_name("oxlint")


def test_a_module_comes_after_those_it_imports():
    text = bundled("listening")
    order = re.findall(r"^const \$(\w+) = \(\(\) => \{$", text, re.MULTILINE)
    assert order[-1] == "listening"
    for name in order:
        needed = re.findall(r'from "\./(\w+)\.js"', (STATIC / f"{name}.js").read_text())
        assert all(order.index(other) < order.index(name) for other in needed)


def test_nothing_is_left_that_only_a_module_may_say():
    assert not re.search(r"^\s*(import|export)\b", bundled("listening"), re.MULTILINE)


@pytest.mark.parametrize(
    "line",
    [
        'import * as all from "./elements.js";',
        'import "./elements.js";',
        "export default 3;",
        "export { a };",
    ],
)
def test_what_is_not_read_is_refused(line, monkeypatch):
    monkeypatch.setattr(scripts, "static", lambda name: f"{line}\n")
    with pytest.raises(ValueError, match="more than this room reads"):
        bundled.__wrapped__("one")


def test_scripts_that_import_each_other_are_refused(monkeypatch):
    other = {"one.js": "two", "two.js": "one"}
    monkeypatch.setattr(
        scripts, "static", lambda name: f'import {{ a }} from "./{other[name]}.js";\n'
    )
    with pytest.raises(ValueError, match="import each other"):
        bundled.__wrapped__("one")


def test_every_file_of_the_pages_is_used():
    both = bundled("listening") + bundled("practising")
    in_use = {f"{name}.js" for name in re.findall(r"^const \$(\w+) = \(\(", both, re.M)}
    styles = {*STYLES, *practice.STYLES}
    assert {file.name for file in STATIC.iterdir()} == {
        *styles,
        "page.html",
        "stand.html",
        "blind.html",
        "practice.html",
        *in_use,
    }


@pytest.mark.skipif(not LINTER.exists(), reason="the linter is not installed")
def test_the_linter_has_no_complaint():
    desk = STATIC.parents[1] / "desk" / "static"
    tests = Path(__file__).parents[1]
    folders = [STATIC, desk, tests / "page" / "scripts", tests / "desk" / "scripts"]
    done = subprocess.run([LINTER, *folders], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


@pytest.mark.long
@pytest.mark.skipif(NODE is None, reason=NO_NODE)
@pytest.mark.parametrize("file", sorted((Path(__file__).parent / "scripts").glob("*.test.js")))
def test_of_a_script(file):
    passes(file)


def passes(file: Path) -> None:
    """The tests in a script pass, and there are some."""
    done = subprocess.run([NODE, "--test", file], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    assert "\n# fail 0" in done.stdout
    assert not re.search(r"^# pass 0$", done.stdout, re.MULTILINE)
