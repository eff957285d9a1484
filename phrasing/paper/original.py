"""An author's score as a file, what is asked to be changed in it, and the score so changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from phrasing.paper.cutting import Copies, cut_score, written_out
from phrasing.paper.rewriting import move_score
from phrasing.reading.musicxml.file import note_names, open_score
from phrasing.reading.musicxml.measures import number
from phrasing.score.instruments import Instrument
from phrasing.score.melody import Melody
from phrasing.score.transposing import STAY, Move

if TYPE_CHECKING:
    from lxml import etree


@dataclass(frozen=True)
class Original:
    """An author's score at ``path``, and how it is to be changed.

    ``move``: how far the melody's part is to sound from where it does, and ``others`` the other
    parts. ``reader``: who reads the melody's part; it is written anew for that instrument where
    the key would be another one, and always where the instrument ``is_asked_for``. ``bars``:
    the printed bars to keep (indices from 0) in played order; none keeps all, with the repeats.
    """

    path: Path
    move: Move = STAY
    others: Move = STAY
    reader: Instrument | None = None
    is_asked_for: bool = False
    bars: tuple[int, ...] = ()

    @property
    def is_written_out(self) -> bool:
        """Whether bars that come again are written out."""
        return written_out(self.bars)


@dataclass(frozen=True)
class Changed:
    """The score, changed: its ``tree``, and the ``<note>`` and id of notes of the melody.

    A note that is played again from the same place on the page is there once, by the index at
    which it is first played.
    """

    tree: etree._ElementTree
    notes: Mapping[int, etree._Element] = field(default_factory=dict)
    ids: Mapping[int, str] = field(default_factory=dict)


def changed(original: Original, melody: Melody) -> Changed:
    """The score with what is asked for changed in it.

    ``melody``: what was read from it, moved and cut alike. Raises ``PhrasingError`` where the
    file cannot be read.
    """
    tree = open_score(original.path)
    root = tree.getroot()
    by_name = {name: note for note, name in note_names(tree).items()}
    own = _own_part(root, melody, by_name)
    if own is not None:
        reader = _reader(root, own, original)
        if reader is not None or {original.move, original.others} != {STAY}:
            move_score(root, own, original.move, original.others, reader)
    copies = cut_score(root, original.bars) if original.bars else {}
    ids = ids_in(original, melody)
    notes = _notes(melody, by_name, copies, original)
    return Changed(tree, notes, {index: ids[index] for index in notes})


def ids_in(original: Original, melody: Melody) -> Sequence[str]:
    """The id of each note of the melody in the changed score."""
    if not original.is_written_out:
        return melody.ids
    times = _times(melody)
    return tuple(
        f"{name}-{time + 1}" if time else name
        for name, time in zip(melody.ids, times, strict=True)
    )


def _times(melody: Melody) -> list[int]:
    """How often each note's printed bar came by before, in the melody's bars."""
    seen: Counter[int] = Counter()
    before = []
    for bar in melody.bars:
        before.append(seen[bar.printed])
        seen[bar.printed] += 1
    return [before[bar] for bar in melody.bar_index.tolist()]


def _notes(
    melody: Melody, by_name: Mapping[str, etree._Element], copies: Copies, original: Original
) -> dict[int, etree._Element]:
    found: dict[int, etree._Element] = {}
    done: set[tuple[str, int]] = set()
    times = _times(melody) if original.is_written_out else [0] * len(melody.ids)
    for index, (name, time) in enumerate(zip(melody.ids, times, strict=True)):
        note = by_name.get(name)
        if note is not None and (name, time) not in done:
            found[index] = copies[note][time - 1] if time else note
        done.add((name, time))
    return found


def _own_part(
    root: etree._Element, melody: Melody, by_name: Mapping[str, etree._Element]
) -> etree._Element | None:
    """The part that the melody's notes stand in."""
    note = next((by_name[name] for name in melody.ids if name in by_name), None)
    if note is None:
        return None
    return next((e for e in note.iterancestors("part")), None)


def _reader(root: etree._Element, own: etree._Element, original: Original) -> Instrument | None:
    """Who the part is to be written for anew; None where it can stay as it is written."""
    reader = original.reader
    if reader is None or original.is_asked_for:
        return reader
    transpose = own.find("measure/attributes/transpose")
    semitones = 0
    if transpose is not None and root.find("defaults/concert-score") is None:
        semitones = round(number(transpose.findtext("chromatic")))
    differs = (reader.transposition - semitones) % 12
    return reader if differs and reader.is_named else None
