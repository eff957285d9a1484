"""Every example in a docstring is run, and whatever a room offers to others has one.

Besides what its module knows, an example may use ``melody`` (short tunes in letters, see
``tests.lines``), ``chart`` (a chord chart from its text), ``np`` and ``folder``, an empty one.
"""

from __future__ import annotations

import doctest
import importlib
import inspect
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.band.charts import chart
from tests.lines import melody
from tests.test_house import house

FLAGS = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS


def examples() -> Iterator[doctest.DocTest]:
    """Every docstring of the house that has an example."""
    finder = doctest.DocTestFinder(exclude_empty=True)
    for name in sorted(house()):
        if name != "phrasing.__main__":
            module = importlib.import_module(name)
            yield from (test for test in finder.find(module) if test.examples)


@pytest.mark.parametrize("example", examples(), ids=lambda test: test.name)
def test_an_example_does_what_it_says(example: doctest.DocTest, tmp_path: Path) -> None:
    example.globs |= {"melody": melody, "chart": chart, "np": np, "folder": tmp_path}
    told: list[str] = []
    doctest.DocTestRunner(optionflags=FLAGS).run(example, out=told.append)
    assert not told, "".join(told)


def test_the_examples_are_found() -> None:
    names = {test.name for test in examples()}
    assert "phrasing.desk.changes.decided" in names
    modules = (name for name in house() if name != "phrasing.__main__")
    assert all(inspect.getdoc(importlib.import_module(name)) for name in modules)
