"""Where a fault can be put into a file, and what the file says then.

A comparison is turned round, a sum becomes a difference, a number changes, a condition is
taken the other way, the larger becomes the smaller, a line is left out. Messages, docstrings
and types are left alone.
"""

from __future__ import annotations

import ast
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

COMPARED: dict[type[ast.cmpop], tuple[str, str]] = {
    ast.Lt: ("<", ">="), ast.GtE: (">=", "<"), ast.Gt: (">", "<="), ast.LtE: ("<=", ">"),
    ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="), ast.In: (" in ", " not in "),
    ast.NotIn: (" not in ", " in "), ast.Is: (" is ", " is not "),
    ast.IsNot: (" is not ", " is "),
}  # fmt: skip
REACHED: dict[type[ast.operator], tuple[str, str]] = {
    ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "*"), ast.Mod: ("%", "+"), ast.BitAnd: ("&", "|"),
    ast.BitOr: ("|", "&"),
}  # fmt: skip
TWINS = {
    "min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum",
    "maximum": "minimum", "argmin": "argmax", "argmax": "argmin", "before": "after",
    "after": "before", "floor": "ceil", "ceil": "floor", "True": "False", "False": "True",
}  # fmt: skip
ALIKE = ("min", "max", "minimum", "maximum", "gcd", "lcm", "hypot", "isclose", "isdisjoint",
         "corrcoef", "dot")  # fmt: skip
"""What does the same whichever way round its arguments stand."""
MORE = 1.5
"""A fraction is changed by this factor: what can be heard or seen of it changes, too."""


@dataclass(frozen=True)
class Site:
    """A place in a file (characters ``start`` to ``end``), and what is put there instead."""

    file: Path
    line: int
    start: int
    end: int
    instead: str
    kind: str

    def applied(self, text: str) -> str:
        """The file's text with the fault in it."""
        return text[: self.start] + self.instead + text[self.end :]

    def lot(self, seed: int) -> bytes:
        """Where the seed puts it among all others, whatever stands on other lines."""
        text = self.file.read_text(encoding="utf-8")
        begin = text.rfind("\n", 0, self.start) + 1
        line = text[begin : text.find("\n", self.start)]
        said = f"{seed} {self.file.name} {line} {self.start - begin} {self.instead}"
        return hashlib.blake2b(said.encode(), digest_size=8).digest()

    def shown(self, text: str) -> str:
        """What is changed, as one line."""
        was = " ".join(text[self.start : self.end].split())
        return f"{was[:40]} → {' '.join(self.instead.split())[:40] or '(nothing)'}"


def sites_in(file: Path) -> list[Site]:
    """All places in the file where a fault can be put."""
    text = file.read_text(encoding="utf-8")
    if file.suffix == ".js":
        return list(_in_script(file, text))
    return list(_Finder(file, text).found())


class _Finder:
    """Walks through a Python file."""

    def __init__(self, file: Path, text: str) -> None:
        self.file, self.text = file, text
        starts = [0]
        for line in text.splitlines(keepends=True):
            starts.append(starts[-1] + len(line))
        self.starts, self.lines = starts, text.splitlines()

    def found(self) -> Iterator[Site]:
        for node in _walked(ast.parse(self.text)):
            yield from self._at(node)

    def _place(self, line: int, column: int) -> int:
        """The character at a line and a column, which Python counts in bytes."""
        own = self.lines[line - 1].encode()[:column].decode()
        return self.starts[line - 1] + len(own)

    def _span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        last, column = node.end_lineno, node.end_col_offset
        assert last is not None
        assert column is not None
        return self._place(node.lineno, node.col_offset), self._place(last, column)

    def _site(self, node: ast.expr | ast.stmt, instead: str, kind: str) -> Site:
        return Site(self.file, node.lineno, *self._span(node), instead, kind)

    def _between(
        self, left: ast.expr, right: ast.expr, pair: tuple[str, str], kind: str
    ) -> Iterator[Site]:
        """The sign between two expressions, exchanged."""
        start, end = self._span(left)[1], self._span(right)[0]
        at = self.text.find(pair[0], start, end)
        if at >= 0:
            line = self.text.count("\n", 0, at) + 1
            yield Site(self.file, line, at, at + len(pair[0]), pair[1], kind)

    def _at(self, node: ast.AST) -> Iterator[Site]:
        if isinstance(node, ast.Compare):
            sides = [node.left, *node.comparators]
            for left, right, how in zip(sides, sides[1:], node.ops, strict=False):
                yield from self._between(left, right, COMPARED[type(how)], "comparison")
        elif isinstance(node, ast.BinOp) and type(node.op) in REACHED:
            if not _is_text(node.left) and not _is_text(node.right):
                pair = REACHED[type(node.op)]
                yield from self._between(node.left, node.right, pair, "arithmetic")
        elif isinstance(node, ast.BoolOp):
            pair = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            yield from self._between(node.values[0], node.values[1], pair, "condition")
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            yield self._site(node, f"({ast.unparse(node.operand)})", "sign")
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield self._site(node, f"bool({ast.unparse(node.operand)})", "condition")
        elif isinstance(node, ast.If | ast.IfExp | ast.While):
            yield self._site(node.test, f"not ({ast.unparse(node.test)})", "condition")
        elif isinstance(node, ast.Constant):
            yield from self._constant(node)
        elif isinstance(node, ast.Name | ast.Attribute):
            yield from self._twin(node)
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
            yield self._site(node, "pass", "line left out")
        elif isinstance(node, ast.Call) and _has_two_unlike(node):
            first, second = map(ast.unparse, node.args)
            start, end = self._span(node.args[0])[0], self._span(node.args[1])[1]
            if first != second and "*" not in first + second:
                instead = f"{second}, {first}"
                yield Site(self.file, node.lineno, start, end, instead, "exchanged")

    def _constant(self, node: ast.Constant) -> Iterator[Site]:
        if isinstance(node.value, bool):
            yield self._site(node, str(not node.value), "number")
        elif isinstance(node.value, int):
            yield self._site(node, str(node.value + 1), "number")
        elif isinstance(node.value, float):
            more = node.value * MORE if node.value else 1.0
            yield self._site(node, repr(round(more, 9)), "number")

    def _twin(self, node: ast.Name | ast.Attribute) -> Iterator[Site]:
        name = node.id if isinstance(node, ast.Name) else node.attr
        if name in TWINS and isinstance(node.ctx, ast.Load):
            end = self._span(node)[1]
            line = node.end_lineno or node.lineno
            yield Site(self.file, line, end - len(name), end, TWINS[name], "twin")


def _has_two_unlike(node: ast.Call) -> bool:
    """Whether it makes a difference which of a call's two arguments comes first."""
    name = ast.unparse(node.func).rpartition(".")[2]
    return len(node.args) == 2 and not node.keywords and name not in ALIKE


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str | bytes)
    )


def _walked(node: ast.AST) -> Iterator[ast.AST]:
    """The node and all below, without what is not code that runs: types, texts, errors."""
    yield node
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not _is_passed_over(child):
                yield from _walked(child)


def _is_passed_over(node: ast.AST) -> bool:
    if isinstance(node, ast.keyword) and node.arg == "strict":
        return True  # it only tells what is a fault already
    if isinstance(node, ast.JoinedStr | ast.Raise | ast.Assert | ast.Import | ast.ImportFrom):
        return True
    if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
        return True
    if isinstance(node, ast.Assign):
        return "TypeVar" in ast.unparse(node.value) or "get_args" in ast.unparse(node.value)
    return isinstance(node, ast.AnnAssign) and "TypeAlias" in ast.unparse(node.annotation)


IN_SCRIPTS = (
    (r"===", "!=="), (r"!==", "==="), (r"(?<= )<(?= )", ">="), (r"(?<= )>(?= )", "<="),
    (r"(?<= )<=(?= )", ">"), (r"(?<= )>=(?= )", "<"), (r"&&", "||"), (r"\|\|", "&&"),
    (r"(?<= )\+(?= )", "-"), (r"(?<= )-(?= )", "+"), (r"(?<= )\*(?= )", "/"),
    (r"\btrue\b", "false"), (r"\bfalse\b", "true"), (r"Math\.min", "Math.max"),
    (r"Math\.max", "Math.min"), (r"(?<=if \()(?!!)(?=\w)", "!"), (r"\b\d+\.\d+\b", "7.7"),
)  # fmt: skip


def _in_script(file: Path, text: str) -> Iterator[Site]:
    """Places in a page's script, outside of remarks and texts."""
    code = re.sub(
        r"//[^\n]*|/\*.*?\*/|\"[^\"\n]*\"|'[^'\n]*'|`[^`]*`", _blank, text, flags=re.S
    )
    for pattern, instead in IN_SCRIPTS:
        for match in re.finditer(pattern, code):
            line = text.count("\n", 0, match.start()) + 1
            yield Site(file, line, match.start(), match.end(), instead, "script")


def _blank(match: re.Match[str]) -> str:
    return re.sub(r"[^\n]", " ", match[0])
