"""MIDI files: the melody in them, quantized."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from phrasing.errors import PhrasingError
from phrasing.instruments import instrument_of_program
from phrasing.melody import Bar, Grace, Key, Melody, Meter, Reading, bars_of_meters
from phrasing.reading import bytes_of, smf
from phrasing.reading.quantizing import Quantized, quantize
from phrasing.reading.sounding import Line, one_line, paired
from phrasing.reading.text import decoded
from phrasing.reading.tracks import TrackPart, melody_part
from phrasing.tempo import SMF_TEMPO, TICKS, Ints, TempoMap

SLOWEST, FASTEST = 5.0, 1000.0
"""Tempos outside are taken for damage and passed over."""
LONGEST_SILENCE = 1000
"""Bars of rest before a note that no piece has."""
FINEST_UNIT = 64
MOST_BEATS = 64


@dataclass(frozen=True, eq=False)
class _Sheet:
    """What the file says besides its notes, in score time; ``scale``: ticks per file tick."""

    scale: float
    tempos: TempoMap
    meters: dict[int, Meter]
    keys: tuple[Key, ...]
    warnings: tuple[str, ...]


def read_midi(path: Path, *, track: str | None = None, pickup: float | None = None) -> Melody:
    """The melody of a MIDI file.

    ``track`` chooses by number (from 1, of the tracks with notes) or name; otherwise the
    most melodic one is taken. ``pickup``: quarter notes that come before bar 1.
    Raises ``PhrasingError`` where there is no melody to read.
    """
    name = str(path)
    file = smf.parse(bytes_of(path), name)
    if file.format == 2:
        raise PhrasingError(
            f"{name}: is a MIDI file of format 2 (separate patterns); "
            "export it as format 0 or 1."
        )
    sheet = _sheet(file, name)
    part = melody_part(_parts(file, sheet.scale), track, name)
    line = one_line(list(part.notes), part.end)
    if not len(line.onset):
        raise PhrasingError(f"{name}: {part} holds no notes that last; choose another track.")
    return _melody(path, file, sheet, part, line, pickup)


def _melody(
    path: Path,
    file: smf.MidiFile,
    sheet: _Sheet,
    part: TrackPart,
    line: Line,
    pickup: float | None,
) -> Melody:
    before = _pickup(pickup, sheet.meters, str(path))
    bars = _bars(sheet, line, before, str(path))
    found = quantize(line.onset, line.release, bars, sheet.tempos, sheet.scale)
    kept = np.flatnonzero(found.kept)
    melody = Melody(
        found.onset[kept],
        found.length[kept],
        line.pitch[kept],
        bars=bars,
        tempos=sheet.tempos,
        keys=sheet.keys,
        graces=_graces(line, found),
        title=_title(file, path),
        program=part.program,
        instrument=_instrument(part.program),
    )
    return replace(melody, reading=_reading(melody, file, sheet, part, line, found))


TEMPO_DIGITS = 2
"""A MIDI file holds whole microseconds a quarter: 152 a minute comes back as 151.99994."""


def _pickup(quarters: float | None, meters: dict[int, Meter], name: str) -> int:
    """Ticks before bar 1: as asked, or a first bar in a shorter meter of its own.

    The latter is how notation programs write a pickup (common practice, no source).
    """
    if quarters is None:
        first, later = meters.get(0), min((tick for tick in meters if tick > 0), default=0)
        shorter = first is not None and later == first.bar_length < meters[later].bar_length
        return later if shorter else 0
    if not 0 <= quarters <= 16:
        raise PhrasingError(f"{name}: a pickup of {quarters:g} beats cannot be; give 0 to 16.")
    return round(quarters * TICKS)


def _instrument(program: int | None) -> str | None:
    instrument = instrument_of_program(program) if program is not None else None
    return instrument.key if instrument else None


def _sheet(file: smf.MidiFile, name: str) -> _Sheet:
    metas = sorted((m for t in file.tracks for m in t.metas), key=lambda m: m[0])
    scale = _scale(file, name)
    tempos: dict[int, float] = {}
    meters: dict[int, Meter] = {}
    keys: dict[int, Key] = {}
    for tick, kind, data in metas:
        at = round(tick * scale)
        if kind == smf.TEMPO and len(data) >= 3:
            micros = int.from_bytes(data[:3], "big")
            if micros and SLOWEST <= 60e6 / micros <= FASTEST:
                tempos[at] = round(60e6 / micros, TEMPO_DIGITS)
        elif kind == smf.METER and len(data) >= 2:
            if 1 <= data[0] <= MOST_BEATS and 1 << min(data[1], 8) <= FINEST_UNIT:
                meters[at] = Meter(data[0], 1 << data[1])
        elif kind == smf.KEY and len(data) >= 2:
            fifths = data[0] - 256 if data[0] > 127 else data[0]
            keys[at] = Key(at, max(-7, min(7, fifths)), data[1] == 1)
    tempos.setdefault(0, next(iter(tempos.values()), SMF_TEMPO) if tempos else SMF_TEMPO)
    ordered = sorted(tempos)
    tempo_map = TempoMap(tuple(ordered), tuple(tempos[t] for t in ordered))
    return _Sheet(scale, tempo_map, meters, tuple(keys.values()), ())


def _scale(file: smf.MidiFile, name: str) -> float:
    """Ticks of score time to a tick of the file."""
    if file.frames is not None:
        raise PhrasingError(f"{name}: counts time in film frames; export it with beats.")
    if file.division == 0:
        raise PhrasingError(f"{name}: says no ticks a beat; export it again.")
    return TICKS / file.division


def _parts(file: smf.MidiFile, scale: float) -> list[TrackPart]:
    parts: list[TrackPart] = []
    for track in file.tracks:
        names = [decoded(data) for _, kind, data in track.metas if kind == smf.NAME]
        programs = {channel: program + 1 for _, channel, program in reversed(track.programs)}
        for channel in sorted({event[1] for event in track.notes}):
            events = [(t * scale, p, v) for t, c, p, v in track.notes if c == channel]
            notes = paired(events)
            if notes:
                parts.append(
                    TrackPart(
                        len(parts) + 1,
                        next(iter(names), ""),
                        channel,
                        programs.get(channel),
                        notes,
                        track.end * scale,
                        track.cut,
                    )
                )
    return parts


def _bars(sheet: _Sheet, line: Line, pickup: int, name: str) -> tuple[Bar, ...]:
    end = int(max(line.onset[-1] + TICKS / 8, line.release[-1] - TICKS / 8)) + 1
    silence = np.diff(line.onset, prepend=0.0).max() / (4 * TICKS)
    if silence > LONGEST_SILENCE:
        raise PhrasingError(
            f"{name}: has a silence of {silence:.0f} bars; "
            "the file is damaged, export it again."
        )
    end = min(end, int(line.onset[-1]) + LONGEST_SILENCE * 4 * TICKS)
    return bars_of_meters(sheet.meters, end, pickup)


def _graces(line: Line, found: Quantized) -> tuple[Grace, ...]:
    """Grace notes by the main note's index among the notes kept."""
    kept: Ints = np.cumsum(found.kept) - found.kept
    before: dict[int, list[int]] = {}
    for main, pitch in line.graces:
        before.setdefault(int(kept[main]), []).append(pitch)
    for index in np.flatnonzero(~found.kept):
        before.setdefault(int(kept[index]), []).append(int(line.pitch[index]))
    return tuple(Grace(main, tuple(pitches)) for main, pitches in sorted(before.items()))


def _title(file: smf.MidiFile, path: Path) -> str:
    names = [decoded(d) for _, kind, d in file.tracks[0].metas if kind == smf.NAME]
    stem = " ".join(path.stem.replace("_", " ").replace("-", " ").split())
    return next((n for n in names if n), stem[:1].upper() + stem[1:])


def _reading(
    melody: Melody,
    file: smf.MidiFile,
    sheet: _Sheet,
    part: TrackPart,
    line: Line,
    found: Quantized,
) -> Reading:
    warnings = list(sheet.warnings)
    if part.cut:
        bar = int(melody.bar_number[-1])
        warnings.append(f"The file is cut off: everything after bar {bar} may be missing.")
    if line.tidied.chord_notes:
        warnings.append(f"{line.tidied.chord_notes} notes under the top line were left out.")
    moved = np.abs(found.off) / (np.asarray(sheet.tempos.at(found.onset)) * TICKS / 60) * 1000
    worst = int(moved.argmax())
    still = found.noise == 0 and moved[worst] < 1
    return Reading(
        format=f"MIDI file, format {file.format}",
        part=str(part),
        moved_median=None if still else float(np.median(moved)),
        moved_worst=None if still else float(moved[worst]),
        moved_worst_bar=None if still else int(melody.bar_number[min(worst, len(melody) - 1)]),
        swing_found=None if found.swing is None else float(found.swing),
        warnings=tuple(warnings),
    )
