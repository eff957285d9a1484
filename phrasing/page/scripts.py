"""The page's scripts: ES modules in ``static/``, put together as one script.

A page is a single file, and its policy allows scripts by their hash alone; a module inside an
HTML file cannot import another one. So each module becomes a function of its own, called once,
whose names stay its own; what it exports is what it returns, kept under the module's name with
a $ before it. The modules keep to the part of the language that this needs:
``import { a, b } from "./other.js";`` at their head, and ``export`` before a declaration.
"""

from __future__ import annotations

import re
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib.resources import files

IMPORT = re.compile(r'^import \{([^}]*)\} from "\./(\w+)\.js";\n', re.MULTILINE)
EXPORT = re.compile(r"^export ((?:async )?(?:class|const|function\*?) (\w+))", re.MULTILINE)
STRAY = re.compile(r"^\s*(?:import|export)\b.*$", re.MULTILINE)


def static(name: str) -> str:
    """The text of a file of the page.

    >>> static("blind.html").startswith("<section")
    True
    """
    return files("phrasing.page").joinpath("static", name).read_text(encoding="utf-8")


@cache
def bundled(entry: str) -> str:
    """The module ``entry`` and all that it imports, as one script for a ``script`` element.

    Raises ``ValueError`` for a module that is written otherwise than this room reads, and for
    modules that import each other in a circle.

    >>> bundled("elements").startswith('(() => {\\n"use strict";')
    True
    """
    texts = _reached(entry)
    needs = {name: {other for _, other in IMPORT.findall(text)} for name, text in texts.items()}
    try:
        order = list(TopologicalSorter(needs).static_order())
    except CycleError as error:
        raise ValueError(f"scripts import each other: {error.args[1]}") from error
    modules = "".join(_module(name, texts[name]) for name in order)
    return f'(() => {{\n"use strict";\n{modules}}})();\n'


def _reached(entry: str) -> dict[str, str]:
    """The texts of the modules that ``entry`` needs, itself included, in one fixed order."""
    texts: dict[str, str] = {}
    waiting = [entry]
    while waiting:
        name = waiting.pop()
        if name not in texts:
            texts[name] = static(f"{name}.js")
            waiting += sorted(other for _, other in IMPORT.findall(texts[name]))
    return texts


def _module(name: str, text: str) -> str:
    """One module as a function that is called at once and returns what it exports."""
    offers = ", ".join(offered for _, offered in EXPORT.findall(text))
    body = IMPORT.sub(lambda found: f"const {{{found[1]}}} = ${found[2]};\n", text)
    body = EXPORT.sub(r"\1", body)
    stray = STRAY.search(body)
    if stray:
        raise ValueError(f"{name}.js: “{stray[0].strip()}” is more than this room reads.")
    return f"const ${name} = (() => {{\n{body}return {{ {offers} }};\n}})();\n"
