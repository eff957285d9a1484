"""Standard MIDI Files byte by byte, read leniently.

Follows Standard MIDI Files 1.0 and goes on where strict readers give up: chunk lengths that
are wrong, bytes before the header, data bytes above 127, running status after a meta event,
a file that was cut off. What had to be passed over is counted in ``Track.oddities``.

Ticks here are the file's own, not score time. Channels and programs count from 0.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from phrasing.errors import PhrasingError

HEADER, TRACK = b"MThd", b"MTrk"
END = b"\0\xff\x2f\0"
"""The end-of-track event as most files have it."""
UNKNOWN = (0, 0xFFFFFFFF)
"""Lengths of a chunk that was written before its length was known."""
TEXT, COPYRIGHT, NAME = 0x01, 0x02, 0x03
END_OF_TRACK, TEMPO, METER, KEY = 0x2F, 0x51, 0x58, 0x59

FRAME_RATES = {24: 24.0, 25: 25.0, 29: 30000 / 1001, 30: 30.0}
"""SMPTE frames a second by the number that stands for them (SMF 1.0)."""

Meta = tuple[int, int, bytes]
"""A meta event: (tick, type, data)."""

BEFORE_HEADER = 256
"""Bytes in which the header is looked for: RIFF and Macintosh wrappers need at most 128."""


@dataclass
class Track:
    """One track chunk.

    ``notes``: (tick, channel, pitch, velocity), velocity 0 for a note-off, in file order.
    ``programs``: (tick, channel, program). ``metas``: (tick, type, data).
    ``end``: tick of the last event. ``cut``: its data stop before its end. ``oddities``:
    how often each kind of thing was passed over, in words.
    """

    notes: list[tuple[int, int, int, int]] = field(default_factory=list)
    programs: list[tuple[int, int, int]] = field(default_factory=list)
    metas: list[Meta] = field(default_factory=list)
    end: int = 0
    cut: bool = False
    oddities: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True)
class MidiFile:
    """A file: ``division`` as in its header, ``missing`` tracks that it announces and lacks."""

    format: int
    division: int
    tracks: tuple[Track, ...]
    missing: int = 0

    @property
    def frames(self) -> float | None:
        """SMPTE frames a second, or None where ticks divide the quarter note; 0 if unknown."""
        if self.division < 0x8000:
            return None
        return FRAME_RATES.get(256 - (self.division >> 8), 0.0)


def looks_like_midi(content: bytes) -> bool:
    """Whether a MIDI header stands at the start, or right behind a wrapper's."""
    return HEADER in content[:BEFORE_HEADER]


def parse(content: bytes, name: str) -> MidiFile:
    """The file in ``content``; ``name`` is for messages.

    Raises ``PhrasingError`` where there is no header or no track at all.
    """
    start = content.find(HEADER, 0, BEFORE_HEADER)
    if start < 0:
        raise PhrasingError(f"{name}: is not a MIDI file; export the melody as MIDI again.")
    header = content[start + 4 : start + 14]
    if len(header) < 10:
        raise PhrasingError(f"{name}: is cut off in its header; copy or export it again.")
    length = int.from_bytes(header[:4], "big")
    kind, announced, division = (int.from_bytes(header[i : i + 2], "big") for i in (4, 6, 8))
    tracks = _tracks(content, start + 8 + max(length, 6))
    if not tracks:
        tracks = _tracks(content, start + 14)
    if not tracks:
        raise PhrasingError(f"{name}: holds no track; it may be cut off: export it again.")
    return MidiFile(kind, division, tuple(tracks), max(0, announced - len(tracks)))


def _tracks(content: bytes, at: int) -> list[Track]:
    """All track chunks from byte ``at`` on; chunks of other kinds are passed over."""
    tracks: list[Track] = []
    while (at := content.find(TRACK, at)) >= 0:
        length = int.from_bytes(content[at + 4 : at + 8], "big")
        end = at + 8 + length
        lacks = end - len(content)
        marker_lacks = 0 < lacks <= len(END) < length
        whole = lacks == 0 or content[end : end + 4] == TRACK or marker_lacks
        if not whole:
            following = content.find(TRACK, at + 8)
            end = following if following >= 0 else len(content)
        events = _Events(content[at + 8 : end], whole, whole or length in UNKNOWN)
        tracks.append(events.read())
        at = end
    return tracks


class _Events:
    """Walks through the bytes of one track. ``complete``: they are all there as far as one can
    see; ``may_be``: they are if no note sounds on at their end."""

    def __init__(self, data: bytes, complete: bool, may_be: bool) -> None:
        self.data = data
        self.complete = complete
        self.may_be = may_be
        self.at = 0
        self.tick = 0
        self.running = 0
        self.track = Track()

    def read(self) -> Track:
        """All events; an end-of-track event may be left out where nothing else is."""
        track, begun = self.track, 0
        try:
            while self.at < len(self.data):
                begun = self.at
                if not self._event():
                    self.complete = True
                    break
            else:
                self.complete = self.complete or (self.may_be and not self._sounds_on())
        except IndexError:
            self.complete = self.complete and END.startswith(self.data[begun:])
        track.cut = not self.complete
        track.end = self.tick
        return track

    def _sounds_on(self) -> bool:
        """Whether a note has not ended, or none has begun."""
        last = {(channel, pitch): velocity for _, channel, pitch, velocity in self.track.notes}
        return not last or any(last.values())

    def _event(self) -> bool:
        """Read one event; False at the end of the track."""
        delta = self._number()
        status = self.data[self.at]
        self.tick += delta
        if status < 0x80:
            status = self.running
        else:
            self.at += 1
        if status == 0:
            self._pass_over("stray bytes")
            self.at += 1
        elif status < 0xF0:
            self._channel_event(status)
        elif status == 0xFF:
            return self._meta_event()
        else:
            self._system_event(status)
        return True

    def _number(self) -> int:
        """A variable-length quantity: at most four bytes (SMF 1.0)."""
        value = 0
        for _ in range(4):
            byte = self.data[self.at]
            self.at += 1
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                break
        return value

    def _data(self) -> int:
        byte = self.data[self.at]
        self.at += 1
        if byte > 0x7F:
            self._pass_over("data bytes above 127")
        return byte & 0x7F

    def _channel_event(self, status: int) -> None:
        self.running = status
        kind, channel = status & 0xF0, status & 0x0F
        first = self._data()
        if kind == 0xC0:
            self.track.programs.append((self.tick, channel, first))
        if kind in (0xC0, 0xD0):
            return
        second = self._data()
        if kind == 0x90:
            self.track.notes.append((self.tick, channel, first, second))
        elif kind == 0x80:
            self.track.notes.append((self.tick, channel, first, 0))

    def _meta_event(self) -> bool:
        kind = self.data[self.at]
        self.at += 1
        payload = self._payload()
        if kind == END_OF_TRACK:
            return False
        self.track.metas.append((self.tick, kind, payload))
        return True

    def _system_event(self, status: int) -> None:
        """System exclusive with its length, or a system message of a fixed size."""
        if status in (0xF0, 0xF7):
            self._payload()
        else:
            self.at += {0xF1: 1, 0xF2: 2, 0xF3: 1}.get(status, 0)

    def _payload(self) -> bytes:
        length = self._number()
        payload = self.data[self.at : self.at + length]
        self.at += length
        if len(payload) < length:
            raise IndexError
        return payload

    def _pass_over(self, what: str) -> None:
        self.track.oddities[what] += 1
