"""What a MIDI file says besides its notes: tempos, meters, keys, its title, and its clock."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from phrasing.errors import PhrasingError
from phrasing.limits import METERS, at_most
from phrasing.reading.midi import smf
from phrasing.reading.source import decoded
from phrasing.score.instruments import INSTRUMENTS
from phrasing.score.melody import Key
from phrasing.score.meters import SMF_TEMPO, TICKS, Floats, Meter, TempoMap

SLOWEST, FASTEST = 5.0, 1000.0
"""Quarter notes a minute; what lies outside is taken for damage."""
FINEST_UNIT, MOST_BEATS = 64, 64
MOST_FIFTHS = 7
NO_TEMPO = f"The file gives no tempo; {SMF_TEMPO:g} is used."
FRAMES_ONLY = (
    "The file counts film frames and gives no tempo: its beats and bars are taken at "
    f"{SMF_TEMPO:g} quarter notes a minute; better export it in ticks per quarter note."
)
NOT_TITLES = frozenset(
    word
    for words in (
        "untitled unnamed new midi mid smf tempo conductor master control meta sequence seq",
        "song project track tracks staff part parts melody lead solo voice vocal vocals right",
        "left hand channel bass drum drums sax saxophone instrument map file type format",
        "the in b e flat bb eb",
        " ".join(instrument.key.replace("-", " ") for instrument in INSTRUMENTS),
    )
    for word in words.split()
)
"""Words of names that say what a track is, not what the piece is called."""


@dataclass(frozen=True, eq=False)
class FileClock:
    """From file ticks to ticks of score time.

    ``per_tick``: score ticks to a file tick, or where the file counts film frames, seconds to
    a file tick (``in_frames``), which ``tempos`` turn into score time.
    """

    per_tick: float
    in_frames: bool
    tempos: TempoMap

    def score(self, ticks: ArrayLike) -> Floats:
        """Score time at these file ticks."""
        at = np.asarray(ticks, dtype=np.float64) * self.per_tick
        return np.asarray(self.tempos.ticks(at) if self.in_frames else at, dtype=np.float64)

    @property
    def resolution(self) -> float:
        """Score ticks between two positions that the file can tell apart."""
        speed = max(self.tempos.tempos) * TICKS / 60
        return self.per_tick * speed if self.in_frames else self.per_tick


@dataclass(frozen=True, eq=False)
class Signatures:
    """Tempos, meters by tick and keys in score time; ``warnings`` are whole sentences."""

    clock: FileClock
    meters: dict[int, Meter]
    keys: tuple[Key, ...]
    warnings: tuple[str, ...]

    @property
    def tempos(self) -> TempoMap:
        """Tempo by tick of score time."""
        return self.clock.tempos


def read_sheet(file: smf.MidiFile, name: str) -> Signatures:
    """All that tracks say besides notes; ``PhrasingError`` where the file tells no time."""
    metas = sorted((meta for track in file.tracks for meta in track.metas), key=lambda m: m[0])
    warnings: list[str] = []
    clock = _clock(file, metas, name, warnings)
    changes = sum(kind == smf.METER for _, kind, _ in metas)
    at_most(changes, METERS, "changes of meter", Path(name), "export the melody again")
    meters = _meters(metas, clock, warnings)
    return Signatures(clock, meters, _keys(metas, clock, warnings), tuple(warnings))


def _clock(
    file: smf.MidiFile, metas: list[smf.Meta], name: str, warnings: list[str]
) -> FileClock:
    frames, per_frame = file.frames, file.division & 0xFF
    if not file.division or (frames is not None and not frames * per_frame):
        raise PhrasingError(
            f"{name}: does not say how long its ticks are; "
            "export it again, in ticks per quarter note."
        )
    tempos = list(_tempos(metas, warnings))
    if frames is None:
        if not tempos:
            warnings.append(NO_TEMPO)
        scale = TICKS / file.division
        return FileClock(scale, False, _tempo_map([(round(t * scale), q) for t, q in tempos]))
    per_tick = 1 / (frames * per_frame)
    if not tempos:
        warnings.append(FRAMES_ONLY)
    return FileClock(per_tick, True, _map_of_seconds([(t * per_tick, q) for t, q in tempos]))


def _tempos(metas: list[smf.Meta], warnings: list[str]) -> Iterator[tuple[int, float]]:
    """(file tick, quarter notes a minute) of each tempo that music can have."""
    odd = False
    for tick, kind, data in metas:
        if kind != smf.TEMPO or len(data) < 3:
            continue
        micros = int.from_bytes(data[:3], "big")
        if micros and SLOWEST <= 60e6 / micros <= FASTEST:
            yield tick, _tempo_meant(micros)
        else:
            odd = True
    if odd:
        warnings.append(
            f"Tempos under {SLOWEST:g} or over {FASTEST:g} quarter notes a minute were passed "
            "over."
        )


def _tempo_meant(micros: int) -> float:
    """The plainest tempo that a file writes as so many microseconds to the quarter."""
    plain = (round(60e6 / micros, digits) for digits in range(4))
    return next((q for q in plain if abs(60e6 / q - micros) < 1), 60e6 / micros)


def _tempo_map(tempos: list[tuple[int, float]]) -> TempoMap:
    """The last tempo given for a tick holds; the first one also before its own tick."""
    by_tick = dict(tempos)
    by_tick.setdefault(0, tempos[0][1] if tempos else SMF_TEMPO)
    ordered = sorted(by_tick)
    return TempoMap(tuple(ordered), tuple(by_tick[tick] for tick in ordered))


def _map_of_seconds(tempos: list[tuple[float, float]]) -> TempoMap:
    """The tempo map of (second, tempo) pairs."""
    at, since, tempo = 0.0, 0.0, tempos[0][1] if tempos else SMF_TEMPO
    rows = [(0, tempo)]
    for second, following in tempos:
        at += (second - since) * tempo * TICKS / 60
        since, tempo = second, following
        rows.append((round(at), tempo))
    return _tempo_map(rows)


def _meters(metas: list[smf.Meta], clock: FileClock, warnings: list[str]) -> dict[int, Meter]:
    """Meters by tick. One that says again what holds already changes nothing, not even where
    bars begin: some programs repeat it wherever a repeated section starts."""
    meters: dict[int, Meter] = {}
    holds = None
    for tick, kind, data in metas:
        if kind != smf.METER or len(data) < 2:
            continue
        unit = 1 << min(data[1], 30)
        if 1 <= data[0] <= MOST_BEATS and unit <= FINEST_UNIT:
            at, meter = round(float(clock.score(tick))), Meter(data[0], unit)
            if meter != holds:
                meters[at] = holds = meter
        else:
            warnings.append(f"The file has a meter of {data[0]}/{unit}; it was passed over.")
    return meters


def _keys(metas: list[smf.Meta], clock: FileClock, warnings: list[str]) -> tuple[Key, ...]:
    keys: dict[int, Key] = {}
    for tick, kind, data in metas:
        if kind != smf.KEY or not data:
            continue
        fifths = data[0] - 256 if data[0] > 127 else data[0]
        if abs(fifths) > MOST_FIFTHS:
            sign = "flats" if fifths < 0 else "sharps"
            warnings.append(f"The file has a key of {abs(fifths)} {sign}; it was passed over.")
        else:
            at = round(float(clock.score(tick)))
            keys[at] = Key(at, fifths, data[1:2] == b"\1")
    return tuple(keys.values())


def title_of(file: smf.MidiFile, path: Path) -> str:
    """The name of the first track where it can be a title, or else the file's own."""
    first = file.tracks[0]
    names = [decoded(data) for _, kind, data in first.metas if kind == smf.NAME]
    name = re.sub(r"\.midi?$", "", names[0], flags=re.IGNORECASE) if names else ""
    is_part = bool(first.notes) and sum(bool(track.notes) for track in file.tracks) > 1
    if not is_part and _can_be_title(name):
        return name
    stem = " ".join(re.split(r"[\s_\-]+", path.stem)).strip() or path.stem
    return stem[:1].upper() + stem[1:]


def _can_be_title(name: str) -> bool:
    words = re.findall(r"[^\W\d_]+", name.casefold())
    return len(name) > 1 and any(word not in NOT_TITLES for word in words)
