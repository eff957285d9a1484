"""The count-in: clicks before the band comes in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from phrasing.backing.drums import STROKE
from phrasing.backing.kit import SIDE_STICK
from phrasing.backing.plan import Plan
from phrasing.backing.strokes import Stroke

Clicks = Literal["all", "2,4"]


def clicked(plan: Plan, clicks: Clicks) -> Iterator[Stroke]:
    """Clicks on all beats of the count-in, or on 2 and 4 (in other groups, on all of them)."""
    level = plan.band.drums.click
    for beat in plan.beats:
        if beat.onset >= plan.start or not plan.form.counted:
            return
        four = beat.size % 2 == 0
        if clicks == "all" or not four or beat.place % 2:
            yield Stroke(beat.onset, beat.onset + STROKE, SIDE_STICK, level, steady=True)
