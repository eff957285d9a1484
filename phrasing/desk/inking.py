"""What is drawn of a melody, kept so that after a change only the touched systems are engraved.

The lines keep their bars meanwhile, and the blocks their scale as far as it goes, so that
nothing moves under a hand; when all is drawn again, they may be divided anew.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from threading import Lock
from typing import Any

import numpy as np

from phrasing.desk.work import Work
from phrasing.errors import PhrasingError
from phrasing.lesson.versions import Version
from phrasing.page.facts import shown
from phrasing.page.part import PlayersPart, players_part
from phrasing.page.score import LAYOUTS, Frame, draw_score, redraw_systems, scale_for
from phrasing.paper.fonts import faces_for

ONE_AT_A_TIME = Lock()
"""The engraver reads another thread's score as its own."""
NUMBERED = re.compile(rb'(<(?:slur|wedge)\b[^>]*?) number="\d+"')
MOSTLY = 0.5
"""Share of the systems from which on all are drawn anew."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """A layout as a page has it: the work of an edition, its part, and how it is divided."""

    edition: int
    work: Work
    part: PlayersPart
    frame: Frame


class Ink:
    """The score of one melody, layout by layout."""

    def __init__(self) -> None:
        self._last: dict[str, Drawn] = {}

    def draw(
        self, work: Work, edition: int, layout: str | None = None, have: int | None = None
    ) -> dict[str, Any]:
        """The score: ``layouts``, each with SVG texts by the place of the system, ``counts`` of
        systems, the ``glyphs`` they need by id, and the ``faces`` of the words.

        ``layout``: that one alone; ``have``: the edition of it that the page
        has, of which only what is not the same is drawn. Raises ``PhrasingError`` for a layout
        that there is none of.
        """
        if layout is not None and layout not in LAYOUTS:
            raise PhrasingError("There is no such layout; the page is out of date.")
        with ONE_AT_A_TIME:
            part = players_part(work.lesson, work.versions)
            before = self._last.get(layout or "")
            if layout and before and before.edition == have:
                now = Drawn(edition, work, part, before.frame)
                wanted = touched_systems(before, now)
                if wanted is not None:
                    self._last[layout] = now
                    return _some(now, layout, wanted)
            return self._whole(work, edition, part, layout)

    def _whole(
        self, work: Work, edition: int, part: PlayersPart, layout: str | None
    ) -> dict[str, Any]:
        score = draw_score(
            work.lesson,
            work.as_read,
            work.versions,
            shown=shown(work.versions),
            only=layout,
            part=part,
        )
        for name, frame in score.frames.items():
            self._last[name] = Drawn(edition, work, part, frame)
        return {
            "layouts": {n: dict(enumerate(texts)) for n, texts in score.layouts.items()},
            "counts": {name: len(texts) for name, texts in score.layouts.items()},
            "glyphs": score.glyphs,
            "faces": faces_for(score.words),
        }


def _some(now: Drawn, layout: str, wanted: range) -> dict[str, Any]:
    """The wanted systems of a layout alone."""
    systems: list[str] = []
    glyphs: dict[str, str] = {}
    if wanted:
        versions = now.work.versions
        systems, glyphs = redraw_systems(
            now.part,
            now.work.as_read,
            versions,
            layout,
            now.frame,
            wanted,
            shown=shown(versions),
        )
    return {
        "layouts": {layout: dict(zip(wanted, systems, strict=True))},
        "counts": {layout: len(now.frame.lines)},
        "glyphs": glyphs,
        "faces": None,
    }


def touched_systems(before: Drawn, now: Drawn) -> range | None:
    """The systems that look otherwise now; None where all is to be drawn anew."""
    one, two = before.work.versions, now.work.versions
    if not _same_music(before, now) or not now.frame.scale.holds(scale_for(two)):
        return None
    bars = {*_bars_written(before.part, now.part), *_bars_played(now.work, one, two)}
    ends = list(accumulate(now.frame.lines))
    systems = [int(np.searchsorted(ends, bar, "right")) for bar in sorted(bars)]
    if not systems:
        return range(0)
    found = range(systems[0], systems[-1] + 1)
    return found if len(found) <= max(1, MOSTLY * len(ends)) else None


def _same_music(before: Drawn, now: Drawn) -> bool:
    one, two = before.work, now.work
    names = [[version.name for version in each.versions] for each in (one, two)]
    same = names[0] == names[1] and one.lesson.instrument is two.lesson.instrument
    return same and np.array_equal(one.as_read.pitch, two.as_read.pitch)


def _bars_written(one: PlayersPart, two: PlayersPart) -> Iterator[int]:
    """The bars that are written otherwise in a version."""
    for old, new in zip(one.scores, two.scores, strict=True):
        if old != new:
            texts = [_bars_of(score) for score in (old, new)]
            yield from (k for k, (a, b) in enumerate(zip(*texts, strict=False)) if a != b)
            yield from range(*sorted(map(len, texts)))


def _bars_of(score: bytes) -> list[bytes]:
    """The bars as text, without the numbers that tell one slur from another."""
    from lxml import etree

    bars = etree.fromstring(score).iterfind("part/measure")
    return [NUMBERED.sub(rb"\1", etree.tostring(bar)) for bar in bars]


def _bars_played(work: Work, one: Sequence[Version], two: Sequence[Version]) -> Iterator[int]:
    """The bars with a block that is otherwise, or a star."""
    bars = work.lesson.melody.bar_index
    for old, new in zip(one, two, strict=True):
        other = (old.shape.level != new.shape.level) | (old.shape.gate != new.shape.gate)
        if old.marking and new.marking:
            other |= old.marking.mark != new.marking.mark
        yield from np.unique(bars[other]).tolist()
