"""What a sheet is engraved from: a melody newly written down, or its author's own score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from phrasing.instruments import Instrument
from phrasing.marking.marking import Marking
from phrasing.marks import UNMARKED
from phrasing.melody import Melody
from phrasing.publishing.score.annotating import annotated_score
from phrasing.publishing.score.musicxml import new_score, note_ids
from phrasing.publishing.score.ownpart import own_part, part_name, written_above
from phrasing.transposing import as_written, moved


@dataclass(frozen=True)
class Manuscript:
    """One part as MusicXML, without its marks and with them.

    ``ids``: each note's id in both; ``read``: the melody at the pitch it is written at, so
    many semitones above the sounding one; ``part``: the name to print.
    """

    plain: bytes
    marked: bytes
    ids: Sequence[str]
    read: Melody
    part: str
    written_above: int = 0


def manuscript(
    melody: Melody,
    marking: Marking,
    instrument: Instrument | None,
    swing: tuple[int, int] | None,
    source: Path | None = None,
) -> Manuscript:
    """The author's own part in ``source`` if the instrument reads it so, else a new one."""
    if source is not None:
        own = from_author(source, melody, marking, swing)
        if instrument is None or instrument.transposition == -own.written_above:
            return own
    return newly_written(melody, marking, instrument, swing)


def newly_written(
    melody: Melody,
    marking: Marking,
    instrument: Instrument | None,
    swing: tuple[int, int] | None,
) -> Manuscript:
    """The melody written down for an instrument, or as it sounds."""
    return Manuscript(
        plain=new_score(melody, instrument=instrument, swing=swing),
        marked=new_score(melody, marking, instrument=instrument, swing=swing),
        ids=note_ids(melody),
        read=as_written(melody, instrument) if instrument else melody,
        part=instrument.name
        if instrument
        else (melody.instrument or "").replace("-", " ").capitalize(),
        written_above=-instrument.transposition if instrument else 0,
    )


def from_author(
    source: Path, melody: Melody, marking: Marking, swing: tuple[int, int] | None
) -> Manuscript:
    """The melody's part of the MusicXML file that it was read from."""
    nothing = np.full(len(marking), UNMARKED)
    blank = replace(marking, mark=nothing, swell_rows=marking.swell_rows[:0])
    plain, marked = (
        own_part(annotated_score(source, melody, marks, swing=swing), melody.ids)
        for marks in (blank, marking)
    )
    move = written_above(plain)
    read = moved(melody, move)
    return Manuscript(plain, marked, melody.ids, read, part_name(plain), move.semitones)
