"""MIDI files: the melody in them, quantized."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import erfc, sqrt
from pathlib import Path

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.limits import BARS, MIDI_BYTES, NOTES, at_most
from phrasing.reading.midi import smf
from phrasing.reading.midi.barlines import pickup_in
from phrasing.reading.midi.bars import FRAMES_ONLY, NO_TEMPO, Signatures, read_sheet, title_of
from phrasing.reading.midi.feels import feel_said, manners
from phrasing.reading.midi.freely import Asked, FreeTake, sung, without_click
from phrasing.reading.midi.quantizing import Quantized, quantize
from phrasing.reading.midi.tracks import (
    SingleLine,
    Tidied,
    TrackPart,
    melody_part,
    one_line,
    parts_of,
)
from phrasing.reading.source import bytes_of
from phrasing.score.doubts import Doubt, counted, pickup_doubt
from phrasing.score.melody import Grace, Manner, Melody, Reading
from phrasing.score.meters import TICKS, Bar, Ints, Meter, bars_of_meters

NAMED_BARS = 4
"""Bars that a warning names before it says how many more there are."""
EARLY_START = (
    "The triplets tell that the file starts with a pickup of an eighth, and it is counted so; "
    "--pickup 0 counts from the first note."
)
SHOWN_PICKUP = (
    "Long notes, chords and repeated bars tell that the file starts with a pickup of "
    "{quarters}, and it is counted so; --pickup 0 counts from the first note."
)
STILL = 1.0
"""Milliseconds: notes moved by less have not been moved."""
LATE = 0.010
LOOSE = 0.032
"""Seconds of lateness, of timing noise, that are worth telling."""
ALIKE = 1.02
"""Tempos whose ratio is less are the same."""
DOUBTFUL, DOUBTFUL_FREELY = 0.02, 0.005
"""Share of notes that may be misread that is worth telling: to a click, and without one, where
one note misread may bend the beats around it."""


@dataclass(frozen=True, eq=False)
class Heard:
    """The melody as it is to be written: its ``line`` in score time, the ``bars``, what was
    ``found`` in it, sentences on how (``said``), and what is left open (``doubts``). ``free``:
    played without a click."""

    line: SingleLine
    bars: tuple[Bar, ...]
    found: Quantized
    said: tuple[str, ...] = ()
    free: bool = False
    doubts: tuple[Doubt, ...] = ()


def reading_of(
    melody: Melody,
    file: smf.MidiFile,
    sheet: Signatures,
    part: TrackPart,
    heard: Heard,
) -> Reading:
    """The report on how ``melody`` was read."""
    found = heard.found
    speed = np.asarray(melody.tempos.at(found.onset), dtype=np.float64) * TICKS / 60
    moved = np.abs(found.off) / speed * 1000
    worst = int(moved.argmax())
    still = found.noise == 0 and found.late == 0 and moved[worst] < STILL
    warnings = [
        *_of_file(melody, file, part),
        *heard.said,
        *sheet.warnings,
        *_of_line(melody, heard.line.tidied),
        *_of_take(melody, found, heard.free),
    ]
    return Reading(
        format=f"MIDI file, format {file.format}",
        part=str(part),
        moved_median=None if still else float(np.median(moved)),
        moved_worst=None if still else float(moved[worst]),
        moved_worst_bar=None if still else int(melody.bar_number[worst]),
        swing_found=found.swing,
        warnings=tuple(warnings),
        doubts=tuple(filter(None, [part.doubt, *heard.doubts, part.instrument_doubt])),
        is_free=heard.free,
        no_tempo=NO_TEMPO if NO_TEMPO in sheet.warnings else "",
    )


def _of_file(melody: Melody, file: smf.MidiFile, part: TrackPart) -> Iterator[str]:
    if part.cut:
        bar = melody.bars[int(melody.bar_index_at(round(part.end)))].number
        place = f"bar {bar}" if bar else "the pickup"
        yield f"The file is cut off in {place}; from there on the melody is missing."
    elif file.missing or any(track.cut for track in file.tracks):
        yield "The file is cut off after this track; other tracks of it are missing."
    oddities: Counter[str] = Counter()
    for track in file.tracks:
        oddities.update(track.oddities)
    if oddities:
        yield f"The file is damaged: {' and '.join(sorted(oddities))} were passed over."


def _of_line(melody: Melody, tidied: Tidied) -> Iterator[str]:
    done = (
        (tidied.chord_notes, "1 note under the top line was left out",
         "{} notes under the top line were left out"),
        (tidied.duplicates, "1 note was there twice; one of the two is kept",
         "{} notes were there twice; one of each two is kept"),
        (tidied.overlaps, "1 note was held into the next; it now ends there",
         "{} notes were held into the next; each now ends there"),
        (tidied.hung, "1 note never ended; it now lasts to the next",
         "{} notes never ended; each now lasts to the next"),
        (tidied.graces, "1 note without length was read as a grace note",
         "{} notes without length were read as grace notes"),
    )  # fmt: skip
    for onsets, of_one, of_many in done:
        if onsets:
            said = of_one if len(onsets) == 1 else of_many.format(len(onsets))
            yield f"{_where(melody, onsets)}: {said}."


def _where(melody: Melody, onsets: list[float]) -> str:
    """“Bar 3”, “Bars 3, 5 and 8”, “Bars 3, 5, 8, 9 and 4 more”."""
    indices = melody.bar_index_at(np.rint(onsets)).tolist()
    numbers = list(dict.fromkeys(melody.bars[index].number for index in indices))
    named = [str(n) if n else "0 (the pickup)" for n in numbers[:NAMED_BARS]]
    if len(numbers) > NAMED_BARS:
        named.append(f"{len(numbers) - NAMED_BARS} more")
    if len(named) == 1:
        return f"Bar {named[0]}" if numbers[0] else "The pickup"
    return f"Bars {', '.join(named[:-1])} and {named[-1]}"


def _of_take(melody: Melody, found: Quantized, free: bool) -> Iterator[str]:
    yield from feel_said(found, melody.bars)
    if abs(found.late) >= LATE and not free:
        side = "behind" if found.late > 0 else "ahead of"
        yield (
            f"The whole take lies {abs(found.late) * 1000:.0f} ms {side} the beat; "
            "it was put on the beat."
        )
    most = DOUBTFUL_FREELY if free else DOUBTFUL
    if found.noise >= LOOSE or _doubtful(melody, found) > most:
        remedy = "" if free else "; was it played to the click of its own tempo?"
        yield (
            f"The timing is loose (about {found.noise * 1000:.0f} ms), so some rhythms may be "
            f"misread{remedy or '.'}"
        )


def _doubtful(melody: Melody, found: Quantized) -> float:
    """Share of notes that so loose a timing puts nearer to a neighbour's place than to their
    own."""
    if not found.noise or len(found.onset) < 2:
        return 0.0
    gaps = np.diff(np.asarray(melody.tempos.seconds(found.onset)))
    nearest = np.minimum(np.append(np.inf, gaps), np.append(gaps, np.inf))
    return float(np.mean([erfc(gap / 2 / found.noise / sqrt(2)) for gap in nearest.tolist()]))


LONGEST = 1000
"""Bars of 4/4 of rest or of one note that no melody has."""
MOST_PICKUP = 16
"""Quarter notes before bar 1 at most."""
EARLY = 0.5
"""Quarter notes of a pickup that is tried where triplets straddle the beats without it."""
THIRDS = (TICKS // 3, TICKS - TICKS // 3)
STRADDLING = (TICKS // 6, TICKS - TICKS // 6)
STEADY = 0.018
"""Seconds of timing noise that may hide such triplets."""
EARLY_COST = 20.0
"""Nats that it takes to believe in such a pickup."""
ROUND_END = TICKS // 8
"""A last note that reaches no further than this into a bar does not make that bar."""


def read_midi(
    path: Path,
    *,
    track: str | None = None,
    pickup: float | None = None,
    meter: str | None = None,
    tempo: float | None = None,
) -> Melody:
    """The melody of a MIDI file.

    ``track`` chooses by number (from 1, of the tracks with notes) or name; otherwise the
    most melodic one is taken. ``pickup``: quarter notes that come before bar 1; where none
    is given, a short first bar is one, or what the notes tell. ``meter`` (such as 3/4) in
    place of the file's. Where the notes keep to no click, their own beats are followed, and
    ``tempo`` (quarter notes a minute) chooses among readings. Raises ``PhrasingError`` where
    there is no melody to read.
    """
    name = str(path)
    file, sheet, part, line = _line_in(path, track, meter)
    asked = Asked(tempo, sheet.meters.get(0) if meter else _unusual(sheet), pickup)
    heard = _by_the_file(sheet, line, pickup, name)
    free = without_click(line, heard.found, sheet.tempos, asked)
    if free is not None:
        sheet, part, heard = _by_own_beats(sheet, part, line, free)
    melody = _melody(sheet, part, heard)
    reading = reading_of(melody, file, sheet, part, heard)
    return replace(melody, title=title_of(file, path), reading=reading)


def _line_in(
    path: Path, track: str | None = None, meter: str | None = None
) -> tuple[smf.MidiFile, Signatures, TrackPart, SingleLine]:
    """The file, what it says besides its notes, its melody's part, and the line as played."""
    name = str(path)
    file = smf.parse(bytes_of(path, largest=MIDI_BYTES), name)
    if file.format == 2:
        raise PhrasingError(
            f"{name}: is a MIDI file of format 2 (separate patterns); "
            "export it as format 0 or 1."
        )
    sheet = _with_meter(read_sheet(file, name), meter, name)
    part = melody_part(_parts(file, sheet, name), track, name)
    at_most(len(part.notes), NOTES, "notes in a track", path, "choose another with --track")
    line = one_line(list(part.notes), part.end)
    if not len(line.onset):
        raise PhrasingError(f"{name}: {part} has no notes that last; choose another track.")
    return file, sheet, part, line


def _unusual(sheet: Signatures) -> Meter | None:
    """The file's meter where someone has set one: programs write 4/4 unasked."""
    meter = sheet.meters.get(0)
    return None if meter == Meter() else meter


def _with_meter(sheet: Signatures, text: str | None, name: str) -> Signatures:
    """With this meter throughout, if one is given."""
    if text is None:
        return sheet
    found = re.fullmatch(r"\s*(\d{1,2})\s*/\s*(1|2|4|8|16|32)\s*", text)
    if not found or not int(found[1]):
        raise PhrasingError(f"{name}: “{text}” is no meter; give one such as 3/4 or 6/8.")
    return replace(sheet, meters={0: Meter(int(found[1]), int(found[2]))})


def _by_the_file(sheet: Signatures, line: SingleLine, pickup: float | None, name: str) -> Heard:
    """As the file's beats have it; where it counts from its first note, perhaps after a
    pickup that the notes show."""
    bars = _bars(sheet, line, pickup, name)
    heard = Heard(line, bars, _quantized(sheet, line, bars))
    counts_from_first = bars[0].number == 1 and line.onset[0] < ROUND_END
    if pickup is not None or not counts_from_first:
        return heard
    if _starts_early(sheet, heard, name):
        return _again(sheet, line, EARLY, name, EARLY_START)
    shown = _shown_pickup(heard)
    if not shown:
        return heard
    said = SHOWN_PICKUP.format(quarters=counted(shown / TICKS))
    again = _again(sheet, line, shown / TICKS, name, said)
    return heard if again.found.noise else again


def _again(sheet: Signatures, line: SingleLine, pickup: float, name: str, said: str) -> Heard:
    bars = _bars(sheet, line, pickup, name)
    doubts = (pickup_doubt(pickup, 0.0),)
    return Heard(line, bars, _quantized(sheet, line, bars), (said,), doubts=doubts)


def _shown_pickup(heard: Heard) -> int:
    """Ticks of the pickup that the notes show in a file of a notation program, where the meter
    never changes. Who plays to a click starts where the pickup is."""
    if heard.found.noise or len({bar.meter for bar in heard.bars}) > 1:
        return 0
    return pickup_in(sung(heard.line, heard.found), heard.bars[0].meter)


def _by_own_beats(
    sheet: Signatures, part: TrackPart, line: SingleLine, free: FreeTake
) -> tuple[Signatures, TrackPart, Heard]:
    """The same in the score time of the take's own beats."""
    clock = replace(sheet.clock, tempos=free.tempos)
    no_tempo = any(said in sheet.warnings for said in (NO_TEMPO, FRAMES_ONLY))
    passed_over = () if no_tempo else tuple(_own_tempos(sheet, free.tempos.tempos[0]))
    keys = tuple(replace(key, onset=0) for key in sheet.keys[:1])
    kept = tuple(said for said in sheet.warnings if said not in (NO_TEMPO, FRAMES_ONLY))
    end = float(np.interp(part.end, line.onset, free.line.onset))
    sheet = Signatures(clock, {0: free.bars[-1].meter}, keys, kept)
    return (
        sheet,
        replace(part, end=end),
        Heard(free.line, free.bars, free.found, free.said + passed_over, True, free.doubts),
    )


def _own_tempos(sheet: Signatures, played: float) -> Iterator[str]:
    """What is said of a file's tempos where it is ``played`` at another (quarters a minute)."""
    slow, fast = (round(of(sheet.tempos.tempos)) for of in (min, max))
    named = f"tempo ({slow})" if slow == fast else f"tempos ({slow} to {fast})"
    if max(fast / played, played / slow) > ALIKE:
        yield f"It does not keep to the file's own {named}, which counts for nothing here."


def _quantized(sheet: Signatures, line: SingleLine, bars: tuple[Bar, ...]) -> Quantized:
    return quantize(line.onset, line.release, bars, sheet.tempos, sheet.clock.resolution)


def _starts_early(sheet: Signatures, heard: Heard, name: str) -> bool:
    """Whether triplets that straddle the beats tell of a pickup that the file does not say."""
    found = heard.found
    if heard.bars[0].meter.has_no_off_beats:
        return False
    if not _count(found, STRADDLING) and found.noise < STEADY:
        return False
    better = _quantized(sheet, heard.line, _bars(sheet, heard.line, EARLY, name))
    straddles = _count(better, STRADDLING, round(EARLY * TICKS))
    has_triplets = _count(better, THIRDS, round(EARLY * TICKS)) > 2 and not straddles
    return has_triplets and better.evidence > found.evidence + EARLY_COST


def _count(found: Quantized, places: tuple[int, ...], pickup: int = 0) -> int:
    """How many notes lie at these places (ticks) of their quarters."""
    return int(np.isin((found.onset - pickup) % TICKS, places).sum())


def _parts(file: smf.MidiFile, sheet: Signatures, name: str) -> list[TrackPart]:
    parts = parts_of(file, sheet.clock)
    if parts:
        return parts
    if file.missing or any(track.cut for track in file.tracks):
        raise PhrasingError(f"{name}: is cut off before its first note; export it again.")
    raise PhrasingError(f"{name}: holds no notes; export the melody again.")


def _melody(sheet: Signatures, part: TrackPart, heard: Heard) -> Melody:
    found = heard.found
    bars = _trimmed(heard.bars, found)
    first, *later = manners(found, bars) or (Manner(0),)
    return Melody(
        found.onset,
        found.length,
        heard.line.pitch[found.kept],
        bars=bars,
        swing=first.swing,
        manners=tuple(later),
        tempos=sheet.tempos,
        keys=sheet.keys,
        graces=_graces(heard.line, found),
        program=part.program,
        instrument=part.instrument,
    )


def _bars(
    sheet: Signatures, line: SingleLine, pickup: float | None, name: str
) -> tuple[Bar, ...]:
    """Bars from tick 0 to the end of the last note."""
    changes, before = _with_pickup(sheet.meters, pickup, name)
    _check_spans(line, changes, name)
    end = int(max(line.onset[-1], line.release[-1] - 2 * ROUND_END) + ROUND_END) + 1
    shortest = min((m.bar_length for m in changes.values()), default=4 * TICKS)
    if end / shortest > BARS:
        raise PhrasingError(
            f"{name}: makes more than {BARS:,} bars of music; its time signatures or its "
            "ticks are damaged: export it again."
        )
    return bars_of_meters(changes, end, before)


def _check_spans(line: SingleLine, changes: dict[int, Meter], name: str) -> None:
    """Raise ``PhrasingError`` where a rest or note is too long to be one."""
    spans = np.append(np.diff(line.onset, prepend=0.0), line.release[-1] - line.onset[-1])
    endless = np.flatnonzero(spans > LONGEST * 4 * TICKS)
    if len(endless):
        begin = int(line.onset[endless[0] - 1]) if endless[0] else 0
        bar = bars_of_meters(changes, begin + 1)[-1].number
        raise PhrasingError(
            f"{name}: has a rest or a note of over {LONGEST} bars at bar {bar}; "
            "the file is damaged: export it again."
        )


def _with_pickup(
    meters: dict[int, Meter], pickup: float | None, name: str
) -> tuple[dict[int, Meter], int]:
    """The meter changes and the ticks before bar 1: those given, or a short first bar."""
    if pickup is not None:
        if not 0 <= pickup <= MOST_PICKUP:
            raise PhrasingError(
                f"{name}: a pickup of {pickup:g} quarter notes cannot be; "
                f"give 0 to {MOST_PICKUP}."
            )
        return meters, round(pickup * TICKS)
    first, *later = sorted(meters.items()) or [(0, Meter())]
    if first[0] == 0 and later:
        (at, meter), short = later[0], first[1].bar_length
        comes_back = any(other == first[1] for _, other in later)
        if at == short < meter.bar_length and not comes_back:
            return dict(later), at
    return meters, 0


def _trimmed(bars: tuple[Bar, ...], found: Quantized) -> tuple[Bar, ...]:
    """Without bars after the last note, which a late take may have begun.

    A last note that was moved onto the end of the last bar begins another one.
    """
    while found.onset[-1] >= (end := bars[-1].onset + bars[-1].length):
        meter = bars[-1].meter
        bars = (*bars, Bar(end, meter.bar_length, bars[-1].number + 1, meter))
    end = int(found.onset[-1] + found.length[-1])
    keep = 1 + max((i for i, bar in enumerate(bars) if bar.onset < end), default=0)
    first = 1 + next((i for i, bar in enumerate(bars) if bar.number > 0), 0)
    return bars[: max(keep, first)]


def _graces(line: SingleLine, found: Quantized) -> tuple[Grace, ...]:
    """Grace notes by the index of their main note among those kept."""
    before: Ints = np.cumsum(found.kept) - found.kept
    pitches: dict[int, list[int]] = {}
    for main, pitch in line.graces:
        pitches.setdefault(int(before[main]), []).append(pitch)
    for index in np.flatnonzero(~found.kept):
        pitches.setdefault(int(before[index]), []).append(int(line.pitch[index]))
    return tuple(Grace(main, tuple(played)) for main, played in sorted(pitches.items()))
