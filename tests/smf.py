"""MIDI files for tests, byte by byte, so that they may also be wrong.

Times are in quarter notes::

    path.write_bytes(midi_file(track((0, 1, 60), (1, 0.5, 62)), tempo=120))
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

Event = tuple[float, bytes]
NoteRow = tuple[float, float, int]

DIVISION = 480


def note_events(notes: Iterable[NoteRow], channel: int = 0, velocity: int = 80) -> list[Event]:
    """(quarter, message) of notes (onset, length, pitch), ends before beginnings."""
    rows = []
    for onset, length, pitch in notes:
        rows.append((onset, 1, bytes([0x90 | channel, pitch, velocity])))
        rows.append((onset + length, 0, bytes([0x80 | channel, pitch, 64])))
    return [(at, message) for at, _, message in sorted(rows)]


def track(
    *notes: NoteRow,
    name: str | bytes | None = None,
    program: int | None = None,
    channel: int = 0,
    events: Iterable[Event] = (),
) -> list[Event]:
    """The events of a track; ``program`` counts from 1, ``events`` come before its notes."""
    head: list[Event] = []
    if name is not None:
        raw = name.encode("utf-8") if isinstance(name, str) else name
        head.append((0, meta(3, raw)))
    if program is not None:
        head.append((0, bytes([0xC0 | channel, program - 1])))
    return [*head, *events, *note_events(notes, channel)]


def midi_file(
    *tracks: list[Event],
    tempo: float | None = 120.0,
    meters: Mapping[float, str] | None = None,
    key: tuple[int, bool] | None = None,
    title: str | bytes | None = None,
    division: int = DIVISION,
    kind: int = 1,
) -> bytes:
    """A MIDI file of these tracks, with a first track for tempo, meters, key and title.

    ``meters``: such as ``{0: "4/4"}``, by quarter. Of format 0, all goes into one track.
    """
    first: list[Event] = []
    if title is not None:
        first.append((0, meta(3, title.encode() if isinstance(title, str) else title)))
    if tempo is not None:
        first.append((0, meta(0x51, round(60e6 / tempo).to_bytes(3, "big"))))
    first += [(at, meter(text)) for at, text in (meters or {}).items()]
    if key is not None:
        first.append((0, meta(0x59, bytes([key[0] & 0xFF, key[1]]))))
    chunks = [first, *tracks] if kind else [[*first, *(e for t in tracks for e in t)]]
    if not first and kind:
        chunks = list(tracks)
    return header(kind, len(chunks), division) + b"".join(
        chunk(track_bytes(events, division)) for events in chunks
    )


def header(kind: int, count: int, division: int) -> bytes:
    """The header chunk."""
    words = b"".join(word.to_bytes(2, "big") for word in (kind, count, division))
    return b"MThd" + (6).to_bytes(4, "big") + words


def chunk(data: bytes) -> bytes:
    """A track chunk around its bytes."""
    return b"MTrk" + len(data).to_bytes(4, "big") + data


def track_bytes(events: Iterable[Event], division: int = DIVISION, end: bool = True) -> bytes:
    """The bytes of a track: events by time (those at one time in their order), then its end."""
    out, last = b"", 0
    for at, message in sorted(events, key=lambda event: event[0]):
        tick = round(at * division)
        out += number(tick - last) + message
        last = tick
    return out + (number(0) + meta(0x2F, b"") if end else b"")


def number(value: int) -> bytes:
    """A variable-length quantity."""
    out = [value & 0x7F]
    while value := value >> 7:
        out.append(value & 0x7F | 0x80)
    return bytes(reversed(out))


def meta(kind: int, data: bytes) -> bytes:
    """A meta event."""
    return bytes([0xFF, kind]) + number(len(data)) + data


def meter(text: str) -> bytes:
    """A time signature event."""
    beats, unit = map(int, text.split("/"))
    return meta(0x58, bytes([beats, unit.bit_length() - 1, 24, 8]))
