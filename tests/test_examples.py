"""Every example in a docstring is run, and whatever a room offers to others has one.

Besides what its module knows, an example may use ``melody`` (short tunes in letters, see
``tests.lines``), ``chart`` (a chord chart from its text), ``lesson`` (on such a tune), ``np``
and ``folder``, an empty one.
"""

from __future__ import annotations

import ast
import doctest
import importlib
import importlib.util
import inspect
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from phrasing.lesson.lesson import Lesson, lesson_on
from phrasing.lesson.request import Request
from tests.band.charts import chart
from tests.lines import melody
from tests.test_house import house, room

FLAGS = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS


WITHOUT = (
    "app.commands.main", "desk.server.serve", "lesson.handout.write_handout",
    "lesson.playalong.play_along", "page.practice.practice_page",
    "page.score.redraw_systems", "paper.alike.engrave_alike", "paper.alike.engrave_some",
    "paper.annotating.annotated_score", "paper.fonts.font_faces",
    "paper.manuscript.stressed_ids", "paper.original.ids_in", "paper.sheet.write_sheet",
    "paper.smallprint.draw_sign", "reading.musicxml.file.note_names",
    "reading.musicxml.file.open_score", "reading.musicxml.signs.says_where_to_go",
    "sound.checking.checked", "sound.soundfonts.find_soundfont",
)  # fmt: skip
"""What serves, writes or draws on what it is given: an example would show nothing more."""


def offered() -> Iterator[tuple[str, str | None]]:
    """The functions that a room offers to others, each with its docstring."""
    trees = {name: tree_of(name) for name in house()}
    taken = {
        (module, name)
        for importer, tree in trees.items()
        for module, name in imports(tree)
        if module in trees and room(module) != room(importer)
    }
    for module, name in sorted(taken):
        for node in trees[module].body:
            if isinstance(node, ast.FunctionDef) and node.name == name:
                yield f"{module}.{name}".removeprefix("phrasing."), ast.get_docstring(node)


def tree_of(name: str) -> ast.Module:
    module = importlib.util.find_spec(name)
    assert module is not None
    assert module.origin is not None
    return ast.parse(Path(module.origin).read_text(encoding="utf-8"))


def imports(tree: ast.Module) -> Iterator[tuple[str, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from ((node.module, alias.name) for alias in node.names)


@pytest.mark.long
def test_whatever_a_room_offers_has_an_example() -> None:
    without = [name for name, words in offered() if ">>>" not in (words or "")]
    assert sorted(set(without) - set(WITHOUT)) == []
    assert len(list(offered())) > 100


def examples() -> Iterator[doctest.DocTest]:
    """Every docstring of the house that has an example."""
    finder = doctest.DocTestFinder(exclude_empty=True)
    for name in sorted(house()):
        if name != "phrasing.__main__":
            module = importlib.import_module(name)
            yield from (test for test in finder.find(module) if test.examples)


@pytest.mark.parametrize("example", examples(), ids=lambda test: test.name)
def test_an_example_does_what_it_says(example: doctest.DocTest, tmp_path: Path) -> None:
    def lesson(words: str, **asked: Any) -> Lesson:
        return lesson_on(melody(words), tmp_path / "tune.mid", Request(**asked))

    known = {"melody": melody, "chart": chart, "lesson": lesson, "np": np, "folder": tmp_path}
    example.globs |= {name: each for name, each in known.items() if name not in example.globs}
    told: list[str] = []
    doctest.DocTestRunner(optionflags=FLAGS).run(example, out=told.append)
    assert not told, "".join(told)


def test_the_examples_are_found() -> None:
    names = {test.name for test in examples()}
    assert "phrasing.desk.changes.decided" in names
    modules = (name for name in house() if name != "phrasing.__main__")
    assert all(inspect.getdoc(importlib.import_module(name)) for name in modules)
