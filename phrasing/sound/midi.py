"""Performance → Standard MIDI File, format 1 (Standard MIDI Files 1.0, General MIDI 1).

One conductor track (title, tempos, meters), then a named track a part. 960 ticks to the
quarter, so every tick of the performance is a tick of the file. Velocities follow the plain
General MIDI 2 law, 40·log10(velocity/127) dB, and so do volume (controller 7) and expression
(controller 11); brightness is controller 74, vibrato is pitch bend.

A MIDI file has no notion of a pickup: a bar shorter than its meter is written with a meter of
its own length (one quarter before bar 1 is a bar of 1/4).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from phrasing.files import whole_file
from phrasing.performing.performance import Curve, Part, Performance
from phrasing.score.meters import TICKS, Bar
from phrasing.sound.events import (
    CONTROL,
    OFF,
    ON,
    bend_range,
    bend_value,
    expression_value,
    note_ends,
    pan_value,
)

VOLUME = 100
"""Controller 7 where nothing is said (General MIDI 1)."""
SLOWEST = 0xFFFFFF
"""Most microseconds a quarter that a tempo event can hold (three bytes)."""
DRUM_CHANNEL = 9
MELODIC_CHANNELS = tuple(channel for channel in range(16) if channel != DRUM_CHANNEL)
META = ("track_name", "set_tempo", "time_signature")


class Message(NamedTuple):
    """A message of ``kind`` (mido's name for it) at a tick, and its order within the tick."""

    tick: int
    order: int
    kind: str
    fields: dict[str, Any]


def write_midi(performance: Performance, path: Path) -> None:
    """Write the performance to ``path``, whole; the same performance gives the same bytes.

    Raises ``PhrasingError`` where the file cannot be written, ``ValueError`` for more parts
    than a MIDI file has channels.

    >>> from phrasing.performing.performance import perform
    >>> write_midi(perform(melody("C5:2 D5:2"), None), folder / "plain.mid")
    >>> (folder / "plain.mid").read_bytes()[:4]
    b'MThd'
    """
    import mido

    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    end = _end(performance)
    file.tracks.append(_track(_conductor(performance), end))
    for part, channel in zip(performance.parts, _channels(performance), strict=True):
        file.tracks.append(_track(_player(part, channel), end))
    with whole_file(path) as part_path:
        file.save(part_path)


def _end(performance: Performance) -> int:
    return max(performance.end, *(int(p.release.max(initial=0)) for p in performance.parts), 0)


def _channels(performance: Performance) -> list[int]:
    free = iter(MELODIC_CHANNELS)
    channels = [DRUM_CHANNEL if p.is_drums else next(free, -1) for p in performance.parts]
    if -1 in channels:
        raise ValueError(f"a MIDI file has {len(MELODIC_CHANNELS)} channels for parts")
    return channels


def _track(events: Iterator[Message], end: int) -> Any:
    """The events in order of time, as a track of mido's that closes at tick ``end``."""
    import mido

    track, now = mido.MidiTrack(), 0
    for tick, _, kind, fields in sorted(events, key=lambda event: event[:2]):
        make = mido.MetaMessage if kind in META else mido.Message
        track.append(make(kind, time=tick - now, **fields))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(0, end - now)))
    return track


def _conductor(performance: Performance) -> Iterator[Message]:
    yield Message(0, CONTROL, "track_name", {"name": performance.title})
    tempos = performance.tempos
    for tick, tempo in zip(tempos.onsets, tempos.tempos, strict=True):
        yield Message(tick, CONTROL, "set_tempo", {"tempo": min(SLOWEST, round(60e6 / tempo))})
    signature = None
    for bar in performance.bars:
        now = signature_of(bar)
        if now not in (signature, None):
            beats, unit = signature = now
            fields = {"numerator": beats, "denominator": unit}
            yield Message(bar.onset, CONTROL, "time_signature", fields)


def signature_of(bar: Bar) -> tuple[int, int] | None:
    """The meter that fits the bar's length; None where no MIDI meter does (a triplet note)."""
    meter = bar.meter
    if bar.length == meter.bar_length:
        return meter.beats, meter.unit
    whole = 4 * TICKS
    unit = max(meter.unit, whole // math.gcd(bar.length, whole))
    beats = bar.length * unit // whole
    fits = unit & (unit - 1) == 0 and 0 < beats < 256
    return (beats, unit) if fits else None


def _player(part: Part, channel: int) -> Iterator[Message]:
    yield Message(0, CONTROL, "track_name", {"name": part.name})
    program = part.kit if part.is_drums else part.program
    fields = {"channel": channel, "program": program - 1}
    yield Message(0, CONTROL, "program_change", fields)
    for control, value in _settings(part):
        yield _control(0, channel, control, value)
    for curve in part.curves:
        if curve.kind == "expression":
            yield from _expression(curve, channel)
        else:
            yield from _bends(curve, channel, bend_range(part))
    yield from _notes(part, channel)


def _settings(part: Part) -> list[tuple[int, int]]:
    """Controllers and the values they are set to before the first note."""
    volume = max(0, min(127, round(VOLUME * 10 ** (part.gain / 40))))
    controls = [(7, volume), (10, pan_value(part.pan)), (11, 127)]
    if not part.is_drums:
        controls += [(101, 0), (100, 0), (6, bend_range(part)), (38, 0), (101, 127), (100, 127)]
    return controls


def _control(tick: int, channel: int, control: int, value: int) -> Message:
    fields = {"channel": channel, "control": control, "value": value}
    return Message(tick, CONTROL, "control_change", fields)


def _expression(curve: Curve, channel: int) -> Iterator[Message]:
    values = expression_value(curve.values)
    for tick, value in changes(curve.ticks.tolist(), values.tolist()):
        yield _control(tick, channel, 11, value)


def _bends(curve: Curve, channel: int, semitones: int) -> Iterator[Message]:
    pitches = bend_value(curve.values, semitones)
    for tick, pitch in changes(curve.ticks.tolist(), pitches.tolist()):
        yield Message(tick, CONTROL, "pitchwheel", {"channel": channel, "pitch": pitch})


def changes(ticks: list[int], values: list[int]) -> Iterator[tuple[int, int]]:
    """The (tick, value) pairs at which a value differs from the one before."""
    last = None
    for tick, value in zip(ticks, values, strict=True):
        if value != last:
            yield tick, value
        last = value


def _notes(part: Part, channel: int) -> Iterator[Message]:
    shade = 64
    columns = (part.onset, note_ends(part), part.pitch, part.velocity, part.brightness)
    for on, off, pitch, velocity, brightness in zip(
        *(c.tolist() for c in columns), strict=True
    ):
        if off <= on:
            continue
        now = max(0, min(127, round(64 + 63 * brightness)))
        if now != shade and not part.is_drums:
            yield _control(on, channel, 74, now)
            shade = now
        note = {"channel": channel, "note": pitch}
        yield Message(on, ON, "note_on", note | {"velocity": velocity})
        yield Message(off, OFF, "note_off", note)
