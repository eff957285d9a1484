"""What is to be engraved: one part as MusicXML, without its marks and with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.marking.marking import Marking
from phrasing.paper.annotating import annotated_score, own_part, part_name, written_above
from phrasing.paper.musicxml import new_score
from phrasing.paper.notes import note_ids, parsed
from phrasing.paper.original import Original, ids_in
from phrasing.score.instruments import Instrument
from phrasing.score.marks import CODE, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.transposing import as_written, moved, stays_in_midi


@dataclass(frozen=True)
class Manuscript:
    """One part as MusicXML, without its marks and with them.

    ``ids``: each note's id in both; ``read``: the melody at the pitch it is written at, so
    many semitones above the sounding one; ``part``: the name to print; ``credits``: who wrote
    it, a line each.
    """

    plain: bytes
    marked: bytes
    ids: Sequence[str]
    read: Melody
    part: str
    written_above: int = 0
    credits: tuple[str, ...] = ()

    def stressed(self, marking: Marking) -> tuple[str, ...]:
        """The ids of the notes that have the sign for stress; of a repeated one the first."""
        return stressed_ids(self.ids, marking)


def stressed_ids(ids: Sequence[str], marking: Marking | None) -> tuple[str, ...]:
    """The names of the notes that have the sign for stress; of a repeated one the first."""
    if marking is None:
        return ()
    first: dict[str, bool] = {}
    for name, stress in zip(ids, (marking.mark == CODE["stress"]).tolist(), strict=True):
        first.setdefault(name, stress)
    return tuple(name for name, stress in first.items() if stress)


def manuscript(
    melody: Melody,
    marking: Marking,
    instrument: Instrument | None,
    swing: tuple[int, int] | None,
    source: Path | Original | None,
    *,
    slurs: bool,
) -> Manuscript:
    """The author's own part in ``source``, as the instrument reads it, else a new one."""
    if source is None:
        return newly_written(melody, marking, instrument, swing, slurs=slurs)
    original = source if isinstance(source, Original) else Original(source, reader=instrument)
    return from_author(original, melody, marking, swing, slurs=slurs)


def newly_written(
    melody: Melody,
    marking: Marking,
    instrument: Instrument | None,
    swing: tuple[int, int] | None,
    *,
    slurs: bool,
) -> Manuscript:
    """The melody written down for an instrument, or as it sounds."""
    return Manuscript(
        plain=new_score(melody, instrument=instrument, swing=swing),
        marked=new_score(melody, marking, instrument=instrument, swing=swing, slurs=slurs),
        ids=note_ids(melody),
        read=as_written(melody, instrument) if instrument else melody,
        part=instrument.name
        if instrument
        else (melody.instrument or "").replace("-", " ").capitalize(),
        written_above=-instrument.transposition if instrument else 0,
    )


def from_author(
    source: Original,
    melody: Melody,
    marking: Marking,
    swing: tuple[int, int] | None,
    *,
    slurs: bool,
) -> Manuscript:
    """The melody's part of the MusicXML file that it was read from."""
    ids = ids_in(source, melody)
    blank = as_its_author_marked(melody, marking)
    plain, marked = (
        own_part(annotated_score(source, melody, marks, swing=swing, slurs=own), ids)
        for marks, own in ((blank, False), (marking, slurs))
    )
    move = written_above(plain)
    if not stays_in_midi(melody, move.semitones):
        raise PhrasingError(
            f"{source.path}: its part is written {move.semitones:+d} semitones from how it "
            "sounds, where notes leave the range of MIDI (0 to 127); mend its transposition."
        )
    read = moved(melody, move)
    return Manuscript(
        plain, marked, ids, read, part_name(plain), move.semitones, credits_of(plain)
    )


def as_its_author_marked(melody: Melody, marking: Marking) -> Marking:
    """A marking without what the rules add to its author's marks.

    >>> from phrasing.marking.precedence import mark
    >>> tune = melody("C5:2 D5:2")
    >>> as_its_author_marked(tune, mark(tune)).mark.tolist()
    [-1, -1]
    """
    own = np.full(len(marking), UNMARKED)
    for note, name in melody.marks.items():
        own[note] = CODE[name]
    return replace(marking, mark=own, swell_rows=marking.swell_rows[:0])


def credits_of(score: bytes) -> tuple[str, ...]:
    """Who wrote a score: its composer, and whose words they are, a line each.

    >>> creator = "<creator type='composer'>Ida Lund</creator>"
    >>> credits_of(f"<s><identification>{creator}</identification></s>".encode())
    ('Ida Lund',)
    """
    lines: dict[str, str] = {}
    for creator in parsed(score).iterfind("identification/creator"):
        name = " ".join((creator.text or "").split())
        kind = (creator.get("type") or "composer").strip().lower()
        if name:
            lines.setdefault(kind, name)
    words = lines.get("lyricist") or lines.get("poet")
    found = [lines.get("composer", ""), f"words {words}" if words else ""]
    return tuple(line for line in found if line)
