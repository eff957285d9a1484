"""A score opened for reading: its parts bar by bar, the one that was chosen, and warnings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from phrasing.errors import PhrasingError
from phrasing.reading.repeats import BarSigns
from phrasing.reading.scorebars import LONGEST_BAR, BarShape, PartBar, bar_shapes, part_bars
from phrasing.reading.scorefile import open_score
from phrasing.reading.scorejumps import bar_signs
from phrasing.reading.scoreparts import ScorePart, choose_part, score_parts

if TYPE_CHECKING:
    from lxml import etree

NAMED_BARS = 4
"""Bars that a warning names before it says how many more there are."""


@dataclass(frozen=True)
class Score:
    """A score with one part chosen; ``parts`` are the bars of each of its ``scoreparts``."""

    path: Path
    tree: etree._ElementTree
    scoreparts: Sequence[ScorePart]
    parts: Sequence[Sequence[PartBar]]
    chosen: int
    shapes: Sequence[BarShape]
    signs: Sequence[BarSigns]
    warnings: list[str] = field(default_factory=list)

    @property
    def part(self) -> ScorePart:
        """The chosen part."""
        return self.scoreparts[self.chosen]

    @property
    def bars(self) -> Sequence[PartBar]:
        """The printed bars of the chosen part."""
        return self.parts[self.chosen]

    @property
    def is_concert(self) -> bool:
        """Whether it is printed at concert pitch."""
        return self.tree.getroot().find("defaults/concert-score") is not None

    def warn(self, bars: Sequence[int], said: str, said_of_many: str | None = None) -> None:
        """Add a warning about printed bars (indices), if there are any."""
        numbers = list(dict.fromkeys(self.shapes[index].number for index in bars))
        if numbers:
            text = said if len(numbers) == 1 or not said_of_many else said_of_many
            self.warnings.append(f"{_bars_in_words(numbers)} {text}")


def opened(path: Path, wanted: str | None) -> Score:
    """The score in a file with one part chosen, by its name or number or by itself.

    Raises ``PhrasingError`` where there is no such part or what it holds cannot be music.
    """
    tree = open_score(path)
    scoreparts = score_parts(tree)
    chosen = scoreparts.index(choose_part(scoreparts, wanted, path))
    parts = [part_bars(part.element) for part in scoreparts]
    shapes = bar_shapes(parts, chosen)
    if not shapes:
        raise PhrasingError(
            f"{path}: the notes of “{scoreparts[chosen].name}” stand in no bars, so the file "
            "must be damaged; export the score again."
        )
    for shape in shapes:
        if shape.length > LONGEST_BAR:
            raise PhrasingError(
                f"{path}: bar {shape.number} is {float(shape.length):g} quarter notes long, "
                "so the file must be damaged; export the score again."
            )
    return Score(
        path, tree, scoreparts, parts, chosen, shapes, bar_signs(parts, chosen, shapes)
    )


def _bars_in_words(numbers: Sequence[int]) -> str:
    """Bars for the beginning of a sentence: "Bars 3, 5 and 2 more"."""
    named = [str(n) if n else "0 (the pickup)" for n in numbers[:NAMED_BARS]]
    more = len(numbers) - len(named)
    if more:
        return f"Bars {', '.join(named)} and {more} more"
    if len(named) == 1:
        return f"Bar {named[0]}" if numbers[0] else "The pickup"
    return f"Bars {', '.join(named[:-1])} and {named[-1]}"
