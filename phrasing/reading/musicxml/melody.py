"""MusicXML scores: the melody in one part, repeats played out, everything at sounding pitch.

The reading keeps to the MusicXML 4.0 standard; where scores leave it or say nothing, it does
what a player would, and says so in a warning.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.limits import BARS, MEASURES, NOTES, at_most
from phrasing.reading.musicxml.bars import (
    LONGEST_BAR,
    AtPlace,
    BarShape,
    PlayedBar,
    Transpositions,
    bar_shapes,
    every_time,
    in_force,
    played_bars,
)
from phrasing.reading.musicxml.chords import chord_symbols, tells_root_alone
from phrasing.reading.musicxml.file import note_names, open_score
from phrasing.reading.musicxml.line import TopVoice, top_voice
from phrasing.reading.musicxml.manner import manners
from phrasing.reading.musicxml.measures import PartBar, number, part_bars
from phrasing.reading.musicxml.ornaments import with_ornaments
from phrasing.reading.musicxml.parts import (
    ScorePart,
    choose_part,
    instrument_doubt,
    instrument_of,
    part_doubt,
    score_parts,
)
from phrasing.reading.musicxml.play import PlayedLine, phrasing_of, play
from phrasing.reading.musicxml.signs import bar_signs, rehearsal_marks, tempos
from phrasing.reading.repeats import BarSigns, TooLongError, inner_sections, played_order
from phrasing.score.melody import ChordSymbol, Key, Manner, Melody, Reading, Section
from phrasing.score.meters import SMF_TEMPO, TempoMap
from phrasing.score.pitches import moved_signature
from phrasing.style import usual_tempos

if TYPE_CHECKING:
    from lxml import etree


NO_TEMPO = f"The score gives no tempo; {SMF_TEMPO:g} quarter notes a minute are taken."
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
    _check_size(scoreparts, chosen, path)
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


def _check_size(scoreparts: Sequence[ScorePart], chosen: int, path: Path) -> None:
    """Raise ``PhrasingError`` where there is more than anybody reads, before it is read."""
    alone = "save the melody's part alone, or in pieces"
    counts = [sum(1 for _ in part.element.iterchildren("measure")) for part in scoreparts]
    at_most(max(counts), BARS, "bars", path, alone)
    at_most(sum(counts), MEASURES, "bars in all its parts", path, alone)
    at_most(scoreparts[chosen].notes, NOTES, "notes in a part", path, alone)


def _bars_in_words(numbers: Sequence[int]) -> str:
    """Bars for the beginning of a sentence: "Bars 3, 5 and 2 more"."""
    named = [str(n) if n else "0 (the pickup)" for n in numbers[:NAMED_BARS]]
    more = len(numbers) - len(named)
    if more:
        return f"Bars {', '.join(named)} and {more} more"
    if len(named) == 1:
        return f"Bar {named[0]}" if numbers[0] else "The pickup"
    return f"Bars {', '.join(named[:-1])} and {named[-1]}"


def read_musicxml(path: Path, *, part: str | None = None, as_written: bool = False) -> Melody:
    """The melody of a MusicXML score, at sounding pitch, with repeats played out.

    ``part``: a part's name or its number from 1; otherwise the one that most likely is the
    melody. Of several voices the top one is read, of a chord its top note, of a tie chain one
    note. ``as_written`` leaves the repeats: every bar once, in printed order. ``ids`` are the
    names that ``scorefile.note_names`` gives to the first ``<note>`` of each tie chain (the
    top one of a chord), so that a note can be found again in the score it came from. A score
    of chord symbols alone gives a melody without notes.

    Raises ``PhrasingError`` for a file that is no score, is damaged, or has no such part or
    no pitched notes.
    """
    score = opened(path, part)
    played = _played(score, as_written)
    voice = _without_ornaments(
        score, top_voice(score.bars, score.is_concert, score.part.slashed)
    )
    line = play(voice.bars, played)
    if not line.notes and not score.part.has_chords:
        raise PhrasingError(f"{path}: the part “{score.part.name}” has no notes that last.")
    _warn_of_bars(score)
    _warn_of_notes(score, voice, line)
    return _melody(score, played, voice, line, part is None)


def _melody(
    score: Score,
    played: Sequence[PlayedBar],
    voice: TopVoice,
    line: PlayedLine,
    by_itself: bool,
) -> Melody:
    """``by_itself``: nobody asked for the part."""
    names = note_names(score.tree)
    slurs, ends = phrasing_of(line, [place.bar for place in played])
    instrument, program = instrument_of(score.part)
    keys = in_force(list(_keys(score)), played)
    asked = manners(score.parts, score.tree.getroot(), played) or (Manner(0),)
    first, *later = asked
    return Melody(
        onset=np.array([note.onset for note in line.notes]),
        length=np.array([note.end - note.onset for note in line.notes]),
        pitch=np.array([note.pitch for note in line.notes]),
        bars=tuple(place.bar for place in played),
        tempos=_tempo_map(score, played, asked),
        keys=tuple(replace(key, onset=tick) for tick, key in keys),
        chords=_chords(score, played),
        sections=tuple(
            Section(tick, name)
            for tick, name in every_time(rehearsal_marks(score.parts), played)
        ),
        slurs=slurs,
        phrase_ends=ends,
        graces=line.graces,
        marks=line.marks,
        inflections=line.inflections,
        title=_title(score),
        instrument=instrument,
        program=program,
        swing=first.swing,
        style_words=first.words,
        sixteenths=first.sixteenths,
        manners=tuple(later),
        ids=tuple(names[note.element] for note in line.notes),
        reading=_reading(score, voice, by_itself),
    )


def _played(score: Score, as_written: bool) -> list[PlayedBar]:
    """The bars in the order of playing, or as they are printed."""
    order = list(range(len(score.shapes)))
    if not as_written:
        try:
            order = played_order(score.signs)
        except TooLongError:
            raise PhrasingError(
                f"{score.path}: its repeats play out to more than {BARS:,} bars; "
                "read it as written, or put the repeat signs right."
            ) from None
        _warn_of_jumps(score, order)
    return played_bars(score.shapes, order)


def _tempo_map(score: Score, played: Sequence[PlayedBar], asked: Sequence[Manner]) -> TempoMap:
    """The tempos in figures, or else those that the words for the feel (``asked``) name."""
    changes = dict(in_force(tempos(score.parts), played))
    if not changes:
        changes = usual_tempos(asked)
        score.warnings.append(_of_tempo(asked, changes))
    changes.setdefault(0, SMF_TEMPO)
    ticks = sorted(changes)
    return TempoMap(tuple(ticks), tuple(changes[tick] for tick in ticks))


def _of_tempo(asked: Sequence[Manner], by_feel: Mapping[int, float]) -> str:
    """What is said where no tempo is given in figures."""
    usual = ", ".join(
        f"“{manner.words}” at {by_feel[manner.onset]:g}"
        for manner in asked
        if manner.onset in by_feel
    )
    if usual:
        return f"The score gives no tempo in figures; {usual} quarter notes a minute is usual."
    return NO_TEMPO


def _keys(score: Score) -> Iterator[AtPlace[Key]]:
    """The concert key signatures of the chosen part, from tick 0 each."""
    by = Transpositions(score.is_concert)
    for index, bar in enumerate(score.bars):
        for placed in bar.all("attributes"):
            by.take(placed.element)
            for key in placed.element.iterchildren("key"):
                fifths = key.findtext("fifths")
                if fifths is not None and key.get("number", "1") == "1":
                    own = int(number(fifths))
                    concert = by.of("1").key(own)
                    minor = (key.findtext("mode") or "").strip() in ("minor", "aeolian")
                    known = None if moved_signature(concert, own - concert) == own else own
                    yield AtPlace(index, placed.at, Key(0, concert, minor, known))


def _chords(score: Score, played: Sequence[PlayedBar]) -> tuple[ChordSymbol, ...]:
    """The chord symbols of the chosen part or, failing these, of the first that has any."""
    count = len(score.shapes)
    for bars in (score.bars, *score.parts):
        events, nameless = chord_symbols(bars[:count], score.is_concert)
        if events or nameless:
            bare = [
                index
                for index, bar in enumerate(bars[:count])
                if any(map(tells_root_alone, bar.element.iterchildren("harmony")))
            ]
            score.warn(
                bare,
                "has a chord of which only the root is told; it is taken as a major triad.",
                "have chords of which only the root is told; these are taken as major triads.",
            )
            score.warn(
                nameless,
                "has a chord that no root names (a Roman numeral, say); it is left out.",
                "have chords that no root names (Roman numerals, say); these are left out.",
            )
            return tuple(ChordSymbol(tick, text) for tick, text in every_time(events, played))
    return ()


def _title(score: Score) -> str:
    root = score.tree.getroot()
    titles = [root.findtext("work/work-title"), root.findtext("movement-title")]
    for credit in root.iterchildren("credit"):
        if (credit.findtext("credit-type") or "").strip() == "title":
            titles.append("".join(words.text or "" for words in credit.iter("credit-words")))
    plain = (" ".join((title or "").split()) for title in titles)
    return next((title for title in plain if title), score.path.stem)


def _reading(score: Score, voice: TopVoice, by_itself: bool) -> Reading:
    version = score.tree.getroot().get("version", "").strip()
    part = score.part.name
    if len(score.scoreparts) > 1:
        part += f" (part {score.part.number} of {len(score.scoreparts)})"
    if voice.staves > 1:
        part += f", staff {voice.staff}"
    if voice.voices > 1:
        part += f", voice {voice.voice} of {voice.voices}"
    doubts = [part_doubt(score.scoreparts) if by_itself else None, instrument_doubt(score.part)]
    return Reading(
        format=f"MusicXML {version}".strip(),
        part=part,
        warnings=tuple(score.warnings),
        doubts=tuple(filter(None, doubts)),
        no_tempo=NO_TEMPO if NO_TEMPO in score.warnings else "",
    )


def _warn_of_bars(score: Score) -> None:
    damaged = [index for index, shape in enumerate(score.shapes) if shape.damaged]
    score.warn(
        damaged,
        "does not hold what its meter asks for; it is taken as it is.",
        "do not hold what their meter asks for; they are taken as they are.",
    )


def _without_ornaments(score: Score, voice: TopVoice) -> TopVoice:
    """The voice with written-out ornaments as grace notes, and a word on them."""
    marks = tempos(score.parts)
    starts = [mark.bar for mark in marks]
    bars = []
    for index, line in enumerate(voice.bars):
        last = bisect_right(starts, index) - 1
        bars.append(with_ornaments(line, marks[last].value if last >= 0 else SMF_TEMPO))
    score.warn(
        [i for i, (old, new) in enumerate(zip(voice.bars, bars, strict=True)) if old != new],
        "has quick notes before a longer one; they are read as its grace notes.",
        "have quick notes before a longer one; they are read as its grace notes.",
    )
    return replace(voice, bars=bars)


def _warn_of_notes(score: Score, voice: TopVoice, line: PlayedLine) -> None:
    dropped = sum(voice.dropped.values())
    left_out = f"{dropped} lower notes are" if dropped > 1 else "one lower note is"
    score.warn(
        list(voice.dropped),
        f"has chords; the top note is taken and {left_out} left out.",
        f"have chords; their top notes are taken and {left_out} left out.",
    )
    score.warn(
        line.cut,
        "has a note that lasts into the next one; it is cut short.",
        "have notes that last into the next one; these are cut short.",
    )
    score.warn(
        voice.unplayable,
        "has a note without a playable pitch; it is left out.",
        "have notes without a playable pitch; these are left out.",
    )


def _warn_of_jumps(score: Score, order: Sequence[int]) -> None:
    """Say where the signs leave something open, and what was done."""
    signs = score.signs
    jumps = [index for index, bar in enumerate(signs) if bar.jumps]
    by_sign = [index for index in jumps if signs[index].dal_segno is not None]
    if by_sign and all(bar.segno is None for bar in signs):
        score.warn(by_sign, "says D.S., but there is no sign; it goes back to the beginning.")
    stops = any(bar.fine for bar in signs) or any(bar.coda is not None for bar in signs)
    if jumps and not stops:
        score.warn(jumps[-1:], "goes back without Fine or Coda; it is played to the end.")
    leads = [index for index, bar in enumerate(signs) if bar.to_coda is not None]
    if jumps and leads and all(bar.coda is None for bar in signs):
        score.warn(leads[:1], "leads to a coda that is not there; it goes on.")
    inner = sorted(inner_sections(signs))
    score.warn(
        inner,
        "begins a repeat inside another one; it is played each time the outer one is.",
        "begin repeats inside others; these are played each time the outer ones are.",
    )
    pickup = signs[0].pickup and 0 in order[:1]
    if pickup and 0 not in order[1:] and order[1:].count(1) > 1:
        score.warnings.append(
            "The pickup is played only once: the bar before the repeat has no room for it."
        )
