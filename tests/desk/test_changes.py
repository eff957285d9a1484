"""What a page may ask the desk to change."""

from __future__ import annotations

import math

import pytest

from phrasing.desk.changes import checked
from phrasing.errors import PhrasingError


@pytest.mark.parametrize(
    "key,value",
    [
        ("mark:7", "ghost"), ("mark:0", "none"), ("line:slur:0:7", True),
        ("line:end:7:7", True), ("level:7", -2.5), ("ask:tempo", 96), ("rule:dip", False),
        ("mark:3", None),
    ],
)  # fmt: skip
def test_what_can_be_changed_is_taken_as_it_is(key, value):
    assert checked({key: value}, notes=8) == {key: value}


@pytest.mark.parametrize(
    "key,value",
    [
        ("mark:8", "ghost"), ("mark:-1", "ghost"), ("mark:²", "ghost"), ("mark:1", "loud"),
        (f"mark:{'9' * 5000}", "ghost"), (f"level:{'9' * 5000}", 1.0),
        (f"line:slur:0:{'9' * 5000}", True), ("line:slur:7:0", True), ("line:slur:0:8", True),
        ("line:end:0:7", True), ("line:slur:0:7", False), ("level:7", math.nan),
        ("ask:coffee", 1), ("ask:tempo", True),
        ("ask:tempo", 10**400), ("ask:tempo", math.nan), ("feel:strength", math.inf),
        ("rule:dip", True), ("", 1), ("x", None),
    ],
)  # fmt: skip
def test_what_cannot_is_refused_in_a_line(key, value):
    with pytest.raises(PhrasingError, match=r"cannot be changed to that\.$") as caught:
        checked({key: value}, notes=8)
    assert len(str(caught.value)) < 90


@pytest.mark.parametrize(
    "sets", [None, [], {}, "mark:1", {f"mark:{i}": 1 for i in range(6000)}]
)
def test_a_page_that_is_out_of_date_is_told(sets):
    with pytest.raises(PhrasingError, match="out of date"):
        checked(sets, notes=8)
