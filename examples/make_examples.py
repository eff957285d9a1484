"""Writes the example melodies of this folder: ``python examples/make_examples.py``.

All of them are made up for the Millrace Evening School Band, which prepares its spring
concert in a town that does not exist. A melody is written as words: a note name and its
length in eighths (``D5:1``), ``r`` for a rest, ``A4:2/3`` for an eighth-note triplet's note.
A pickup is written as notation programs write it: a first bar in a meter of its own length.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import mido
import numpy as np

from phrasing.paper.musicxml import new_score
from phrasing.score.instruments import instrument_of_program
from phrasing.score.melody import ChordSymbol, Key, Melody
from phrasing.score.meters import TICKS, Meter, TempoMap, bars_of_meters

PPQ = 480
FIFTHS = {"F": -1, "Bb": -2, "G": 1, "Eb": -3}
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SHIFT = {"": 0, "#": 1, "b": -1}


@dataclass(frozen=True)
class Tune:
    """A melody of ours: ``meter`` as (beats, unit), ``key`` as MIDI spells it; ``chords``
    are bars of one chord, or of two that share it."""

    file: str
    title: str
    tempo: int
    meter: tuple[int, int]
    key: str
    program: int
    words: str
    pickup: int = 0
    chords: str = ""


LATE_BUS = Tune(
    "late_bus_home.mid",
    "Late Bus Home",
    152,
    (4, 4),
    "Eb",
    57,
    """
    F4:1 G4:1
    Ab4:1 G4:1 Eb4:1 G4:1 Bb4:2 r:2
    r:1 C5:3 Bb4:1 G4:1 Eb4:1 r:1
    Eb4:1 G4:1 Bb4:1 D5:1 C5:2 r:2
    r:1 F4:1 Bb4:1 Bb4:1 Ab4:1 F4:1 G4:1 r:1
    C4:1 Eb4:1 G4:1 Eb4:1 Ab4:1 Bb4:1 C5:2
    Bb4:1 C5:2 Ab4:1 F4:1 G4:1 r:2
    Eb5:1 Eb5:1 Db5:1 Bb4:1 Ab4:1 F#4:1 G4:2
    r:1 Bb4:2 C5:2 G4:3
    r:2 Ab4:1 C5:1 Eb5:1 G5:1 F5:1 D5:1
    Eb5:2 r:3 C5:1 Bb4:1 Ab4:1
    G4:1 F4:1 D4:1 Eb4:1 F4:1 G4:1 Bb4:2
    Ab4:1 G4:1 F4:1 Eb4:5
    """,
    pickup=2,
)

CARETAKERS_KEYS = Tune(
    "caretakers_keys.mid",
    "The Caretaker's Keys",
    132,
    (4, 4),
    "Bb",
    67,
    """
    D4:1 C4:1 Bb3:1 G3:2 Bb3:1 r:2
    r:1 C4:1 Db4:1 D4:2 Bb3:3
    D4:1 C4:1 Bb3:1 G3:2 Bb3:1 r:2
    r:1 C4:1 Db4:1 D4:1 F4:2 D4:2
    Eb4:1 Db4:1 Bb3:1 G3:2 Bb3:1 r:2
    r:1 C4:1 Db4:1 Eb4:2 Bb3:3
    D4:1 C4:1 Bb3:1 G3:2 Bb3:1 C4:1 D4:1
    F4:2 r:1 D4:2 B3:3
    Eb4:1 D4:1 C4:1 Bb3:1 A3:1 G3:1 F3:1 Eb3:1
    r:1 F3:1 A3:1 C4:1 Eb4:2 D4:1 C4:1
    Bb3:2 r:1 D4:2 Bb3:2 r:1
    Bb3:1 r:7
    """,
    chords="Bb7 | Eb9 | Bb7 | Fm7 Bb13 | Eb9 | E°7 | Bb7 | G7b9 | Cm7 | F13 | Bb7 G7 | Cm7 F7",
)

FOLDING_CHAIRS = Tune(
    "folding_chairs_waltz.mid",
    "Folding Chairs Waltz",
    144,
    (3, 4),
    "G",
    72,
    """
    B4:3 A4:1 G4:1 F#4:1
    G4:2 D4:4
    E4:1 F#4:1 G4:1 A4:1 B4:1 D5:1
    C5:3 B4:3
    r:1 A4:1 C5:1 E5:1 D5:1 C5:1
    B4:2 G4:2 E4:2
    A4:2/3 B4:2/3 C5:2/3 D5:2 r:2
    B4:1 A4:1 r:4
    B4:3 A4:1 G4:1 F#4:1
    G4:2 E5:4
    D5:1 C5:1 B4:1 A4:1 G4:1 F#4:1
    E4:2 r:1 C5:2 r:1
    A4:1 C5:1 E5:1 G5:1 F#5:1 E5:1
    D5:2 r:1 B4:3
    A4:1 B4:1 C5:1 A4:1 F#4:1 A4:1
    G4:6
    """,
)

CORRIDOR = Tune(
    "corridor_line_played.mid",
    "Corridor Line",
    126,
    (4, 4),
    "Eb",
    1,
    """
    r:2 Bb4:1 G4:1 Ab4:1 Bb4:1 C5:1 D5:1
    Eb5:2 C5:1 Bb4:2 G4:1 r:2
    F4:1 G4:1 Ab4:1 C5:1 Bb4:1 G4:1 F4:1 D4:1
    Eb4:3 r:1 G4:1 Bb4:1 Eb5:2
    r:1 D5:1 C5:1 Bb4:1 Ab4:1 G4:1 F4:1 Eb4:1
    D4:2 r:1 Ab4:2 F4:2 r:1
    G4:1 Bb4:1 D5:1 F5:1 Eb5:1 C5:1 Bb4:1 Ab4:1
    G4:2 Eb4:2 r:4
    """,
)


def pitch(name: str) -> int:
    """The MIDI number of a note name such as ``Bb4`` (middle C is ``C4``, 60)."""
    return 12 * (int(name[-1]) + 1) + STEPS[name[0]] + SHIFT[name[1:-1]]


def notes(tune: Tune) -> list[tuple[int, int, int]]:
    """The notes of a tune as (start, length, pitch), in ticks of ``PPQ``."""
    found, at = [], Fraction(0)
    for word in tune.words.split():
        name, eighths = word.split(":")
        length = Fraction(eighths) * PPQ / 2
        if name != "r":
            found.append((int(at), int(length), pitch(name)))
        at += length
    return found


def flat(tune: Tune) -> list[tuple[int, bool, int, int]]:
    """Note events as a notation program writes them: all alike."""
    events = []
    for start, length, key in notes(tune):
        events += [(start, True, key, 80), (start + length, False, key, 0)]
    return events


def played(
    tune: Tune, ratio: float = 1.7, loose: float = 12.0, seed: int = 7
) -> list[tuple[int, bool, int, int]]:
    """Note events as somebody plays them to a click: swung, ``loose`` ms (one standard
    deviation) off, some notes short and some running into the next, touched unevenly."""
    chance, events = random.Random(seed), []
    tick = tune.tempo * PPQ / 60_000
    for start, length, key in notes(tune):
        swung = start + (PPQ * (ratio / (1 + ratio) - 0.5) if start % PPQ else 0)
        on = max(0, round(swung + chance.gauss(0, loose) * tick))
        off = on + round(length * chance.uniform(0.7, 1.04))
        events += [(on, True, key, chance.randint(58, 98)), (off, False, key, 0)]
    return events


def write(tune: Tune, events: list[tuple[int, bool, int, int]], folder: Path) -> None:
    """One Standard MIDI File, format 1: a conductor track and the melody."""
    file = mido.MidiFile(type=1, ticks_per_beat=PPQ)
    beats, unit = tune.meter
    file.tracks.append(
        mido.MidiTrack(
            [
                mido.MetaMessage("track_name", name=tune.title),
                mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tune.tempo)),
                mido.MetaMessage("key_signature", key=tune.key),
            ]
        )
    )
    if tune.pickup:
        first = mido.MetaMessage("time_signature", numerator=tune.pickup // 2, denominator=4)
        file.tracks[0].append(first)
    file.tracks[0].append(
        mido.MetaMessage(
            "time_signature",
            numerator=beats,
            denominator=unit,
            time=tune.pickup * PPQ // 2,
        )
    )
    track = mido.MidiTrack([mido.MetaMessage("track_name", name="Melody")])
    track.append(mido.Message("program_change", program=tune.program - 1))
    now = 0
    for at, is_on, key, velocity in sorted(events):
        kind = "note_on" if is_on else "note_off"
        track.append(mido.Message(kind, note=key, velocity=velocity, time=at - now))
        now = at
    file.tracks.append(track)
    file.save(folder / tune.file)


def score(tune: Tune) -> bytes:
    """The tune as MusicXML, with its chord symbols."""
    beats, unit = tune.meter
    onset, length, key = (
        np.array(column) * TICKS // PPQ for column in zip(*notes(tune), strict=True)
    )
    bar = Meter(beats, unit).bar_length
    written = [cell.split() for cell in tune.chords.split("|")]
    chords = [
        ChordSymbol(number * bar + place * bar // len(cell), text)
        for number, cell in enumerate(written)
        for place, text in enumerate(cell)
    ]
    melody = Melody(
        onset,
        length,
        key * PPQ // TICKS,
        bars_of_meters({0: Meter(beats, unit)}, len(written) * bar),
        TempoMap((0,), (float(tune.tempo),)),
        keys=(Key(0, FIFTHS[tune.key]),),
        chords=tuple(chords),
        title=tune.title,
    )
    return new_score(melody, instrument=instrument_of_program(tune.program))


def main() -> None:
    folder = Path(__file__).parent
    for tune in (LATE_BUS, CARETAKERS_KEYS, FOLDING_CHAIRS):
        write(tune, flat(tune), folder)
    write(CORRIDOR, played(CORRIDOR), folder)
    path = folder / CARETAKERS_KEYS.file
    path.with_suffix(".musicxml").write_bytes(score(CARETAKERS_KEYS))


if __name__ == "__main__":
    main()
