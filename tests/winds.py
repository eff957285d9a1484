"""How winds are heard, on every soundfont found: ``python -m tests.winds``.

Prints a table, a row for each instrument, soundfont and tempo, and one with all tempos
together, measured in the sound files by ``tests.outside.hearing``, which shares nothing with
what made them. ``python -m tests.winds FluidR3_GM flute,trombone 160`` asks for some of it.

onset: ms from when a note is due to when it is there: median, and what 95 of 100 keep to.
swing: ratio heard against the ratio asked: median, and what nine in ten beats keep to.
slur, tongue: dB that the sound falls between two notes, most and median; least, median, most.
level: dB by which notes are louder over their first 60 ms than asked, against the plain
version: what 95 of 100 keep to. ghost, accent: dB by which their power above 3 kHz rises
against the rest, and how much higher their centroid is, median. click: dB of the loudest
against the sound around it.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from phrasing.feel import Feel
from phrasing.marking.marking import Marking
from phrasing.marking.precedence import mark
from phrasing.performing.performance import Performance, perform
from phrasing.score.instruments import BY_KEY
from phrasing.score.marks import CODE
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS
from phrasing.sound.soundfonts import Soundfont, available, embedded_soundfont
from phrasing.style import SWING
from tests.lines import melody
from tests.outside.hearing import Line, line_of, recorded

LOWEST = {
    "trumpet": 57, "flugelhorn": 57, "trombone": 46, "soprano-sax": 60, "alto-sax": 53,
    "tenor-sax": 49, "baritone-sax": 41, "clarinet": 55, "flute": 64,
}  # fmt: skip
"""Each instrument, and where its line lies lowest (MIDI number)."""
TEMPOS = (80, 120, 160, 200, 240, 320)
CONTOUR = (
    *(1, 3, 5, 6, 8, 10, 8, 6, 5, 3, 1, 5, 8, 13, 12, 10, 8, 5, 6, 8, 10, 11, 10, 8, 6, 3, 5),
    *(1, 0, 1),
)
"""Semitones over the lowest note: steps, skips, leaps, turns and dips, an eighth each."""
DIPS = (2, 11, 19, 23, 27)
"""Which notes of it are ghosted: low ones, off and on the beat, slurred and tongued."""
TOPS = (5, 14, 22)
"""Which are accented."""
HIGHER = 4
NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")

Values = NDArray[np.float64]


def line(lowest: int, tempo: float) -> Melody:
    """The line twice, the second time a third higher, each time with a rest after it."""
    words = []
    for above in (0, HIGHER):
        pitches = [lowest + above + step for step in CONTOUR]
        words += [f"{NAMES[pitch % 12]}{pitch // 12 - 1}:1" for pitch in pitches] + ["r:2"]
    return melody(" ".join(words), tempo=tempo)


def marked(tune: Melody) -> Marking:
    """As the rules mark it, with an author's ghosts and accents."""
    by_rules = mark(tune, style=SWING)
    marks = by_rules.mark.copy()
    for first in (0, len(CONTOUR)):
        marks[[first + dip for dip in DIPS]] = CODE["ghost"]
        marks[[first + top for top in TOPS]] = CODE["accent"]
    return replace(by_rules, mark=marks)


@dataclass(frozen=True, eq=False)
class Heard:
    """A line as it is heard in one version."""

    tune: Melody
    played: Performance
    line: Line

    @property
    def late(self) -> Values:
        """ms by which each note is there late."""
        return (self.line.onsets() - self.line.due) * 1000

    @property
    def swing(self) -> Values:
        """By how much the ratio of each swung beat is larger than asked."""
        on = np.flatnonzero(
            (self.tune.onset[:-2] % TICKS == 0)
            & (np.diff(self.tune.onset)[:-1] == TICKS // 2)
            & (np.diff(self.tune.onset)[1:] == TICKS // 2)
        )
        heard, due = self.line.onsets(), self.line.due
        return _ratios(heard, on) - _ratios(due, on)

    @property
    def dips(self) -> tuple[Values, Values]:
        """dB that the sound falls before slurred notes, and before tongued ones."""
        dips, slurred = self.line.dips(), self.line.slurred
        there = ~np.isnan(dips)
        return dips[there & slurred], dips[there & ~slurred]


def _ratios(onsets: Values, on: NDArray[np.int64]) -> Values:
    return (onsets[on + 1] - onsets[on]) / (onsets[on + 2] - onsets[on + 1])


def heard(key: str, soundfont: Soundfont, tempo: float) -> dict[str, Heard]:
    """An instrument's line, plain and shaped."""
    tune, feel = line(LOWEST[key], tempo), Feel()
    versions = {
        "plain": perform(tune, None, feel, instrument=BY_KEY[key]),
        "shaped": perform(tune, marked(tune), feel, instrument=BY_KEY[key]),
    }
    with tempfile.TemporaryDirectory() as folder:
        takes = recorded(versions, Path(folder), soundfont=soundfont)
    return {
        name: Heard(tune, played, line_of(takes[name], played))
        for name, played in versions.items()
    }


def level_errors(versions: dict[str, Heard]) -> Values:
    """dB by which each note is louder than asked over its first 60 ms, against plain."""
    asked = versions["shaped"].played.parts[0].level
    plain, shaped = (versions[name].line.first() for name in ("plain", "shaped"))
    return np.asarray(shaped - plain - asked)


def shades(versions: dict[str, Heard]) -> dict[str, tuple[Values, Values]]:
    """For tongued ghosts and accents, which begin as a plain note does: how their highs rise
    (dB), and their centroids (a factor)."""
    plain, shaped = (versions[name].line for name in ("plain", "shaped"))
    brightness = versions["shaped"].played.parts[0].brightness
    higher, centroid = shaped.highs() - plain.highs(), shaped.centroids() / plain.centroids()
    tongued = ~shaped.slurred
    marked = {"ghost": tongued & (brightness <= -0.9), "accent": tongued & (brightness >= 0.5)}
    return {name: (higher[which], centroid[which]) for name, which in marked.items()}


def found(key: str, soundfont: Soundfont, tempo: float) -> dict[str, Values]:
    """All that is measured in an instrument's line, by what it is and in which version."""
    versions = heard(key, soundfont, tempo)
    measured = {"level": level_errors(versions)}
    for name, each in versions.items():
        slurs, tongues = each.dips
        measured |= {f"{name} late": each.late, f"{name} swing": each.swing}
        measured |= {f"{name} slur": slurs, f"{name} tongue": tongues}
        measured[f"{name} click"] = each.line.clicks()
    for name, (higher, centroid) in shades(versions).items():
        measured |= {f"{name} higher": higher, f"{name} centroid": centroid}
    return measured


def together(several: Sequence[dict[str, Values]]) -> dict[str, Values]:
    """What was measured at several tempos as one."""
    return {name: np.concatenate([each[name] for each in several]) for name in several[0]}


def cells(measured: dict[str, Values]) -> Iterator[str]:
    """The cells of a row of the table, but for what it is about."""
    for version in ("plain", "shaped"):
        late, swing, slurs, tongues = (
            measured[f"{version} {name}"] for name in ("late", "swing", "slur", "tongue")
        )
        missed = int(np.isnan(late).sum())
        late, swing = late[~np.isnan(late)], swing[~np.isnan(swing)]
        yield (
            f"{np.median(late):+.1f} {np.percentile(np.abs(late), 95):.0f}"
            + (f" ({missed} not found)" if missed else "")
        )
        yield f"{np.median(swing):+.2f} {np.percentile(np.abs(swing), 90):.2f}"
        if version == "shaped":
            yield f"{slurs.min():.1f} {np.median(slurs):.1f}"
        least, middle, most = np.percentile(tongues, (0, 50, 100))
        yield f"{least:.0f} {middle:.0f} {most:.0f}"
    yield f"{np.percentile(np.abs(measured['level']), 95):.1f}"
    for name in ("ghost", "accent"):
        higher, centroid = measured[f"{name} higher"], measured[f"{name} centroid"]
        yield f"{np.median(higher):+.1f} {np.median(centroid):.2f}" if len(higher) else "-"
    yield f"{max(measured['plain click'].max(), measured['shaped click'].max()):.0f}"


def main() -> None:
    """Print the tables: every tempo, and all tempos together."""
    asked = dict(enumerate(sys.argv[1:]))
    fonts = {font.name: font for font in [*available(), embedded_soundfont()]}
    columns = ["plain: onset", "swing", "tongue", "shaped: onset", "swing", "slur", "tongue"]
    columns += ["level", "ghost", "accent", "click"]
    every = Table("instrument", "soundfont", "tempo", *columns)
    whole = Table("instrument", "soundfont", *columns)
    for name in asked.get(0, ",".join(fonts)).split(","):
        for key in asked.get(1, ",".join(LOWEST)).split(","):
            tempos = asked.get(2, ",".join(map(str, TEMPOS))).split(",")
            measured = [found(key, fonts[name], float(tempo)) for tempo in tempos]
            for tempo, each in zip(tempos, measured, strict=True):
                every.add_row(key, name, tempo, *cells(each))
            whole.add_row(key, name, *cells(together(measured)))
    for table in (every, whole):
        Console(width=170).print(table)


if __name__ == "__main__":
    main()
