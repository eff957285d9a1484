"""What was found in a MIDI file and done to it, in a music teacher's words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from phrasing.melody import Melody, Reading
from phrasing.reading import smf
from phrasing.reading.midisheet import Sheet
from phrasing.reading.quantizing import Quantized
from phrasing.reading.sounding import Line, Tidied
from phrasing.reading.tracks import TrackPart
from phrasing.tempo import TICKS

NAMED_BARS = 4
"""Bars that a warning names before it says how many more there are."""
EARLY_START = (
    "The triplets tell that the file starts with a pickup of an eighth, and it is counted so; "
    "--pickup 0 counts from the first note."
)
STILL = 1.0
"""Milliseconds: notes moved by less have not been moved."""
LATE = 0.010
LOOSE = 0.032
"""Seconds of lateness, of timing noise, that are worth telling."""


def reading_of(
    melody: Melody,
    file: smf.MidiFile,
    sheet: Sheet,
    part: TrackPart,
    line: Line,
    found: Quantized,
    pickup_found: bool,
) -> Reading:
    """The report on how ``melody`` was read."""
    speed = np.asarray(melody.tempos.at(found.onset), dtype=np.float64) * TICKS / 60
    moved = np.abs(found.off) / speed * 1000
    worst = int(moved.argmax())
    still = found.noise == 0 and found.late == 0 and moved[worst] < STILL
    warnings = [
        *_of_file(melody, file, part),
        *([EARLY_START] if pickup_found else []),
        *sheet.warnings,
        *_of_line(melody, line.tidied),
        *_of_take(found),
    ]
    return Reading(
        format=f"MIDI file, format {file.format}",
        part=str(part),
        moved_median=None if still else float(np.median(moved)),
        moved_worst=None if still else float(moved[worst]),
        moved_worst_bar=None if still else int(melody.bar_number[worst]),
        swing_found=found.swing,
        warnings=tuple(warnings),
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


def _of_take(found: Quantized) -> Iterator[str]:
    if found.swing is not None:
        yield (
            f"It is already played with swing, about {found.swing:.1f} : 1; "
            "its pairs are read as eighths."
        )
    if abs(found.late) >= LATE:
        side = "behind" if found.late > 0 else "ahead of"
        yield (
            f"The whole take lies {abs(found.late) * 1000:.0f} ms {side} the beat; "
            "it was put on the beat."
        )
    if found.noise >= LOOSE:
        yield (
            f"The timing is loose (about {found.noise * 1000:.0f} ms), so some rhythms may be "
            "misread; was it played to the click of its own tempo?"
        )
