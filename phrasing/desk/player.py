"""The synthesizer in a process of its own: a crash in it costs one answer, not the desk."""

from __future__ import annotations

import io
import multiprocessing
import tempfile
import wave
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np

from phrasing.errors import NoSoundError, PhrasingError

if TYPE_CHECKING:
    from phrasing.performing.performance import Performance
    from phrasing.sound.streams import Samples

RATE = 44100
PATIENCE = 120.0
"""Seconds after which a player that does not answer is given up."""
AGAIN = "The synthesizer stopped; it is started anew. Press play again."


@dataclass(frozen=True)
class Heard:
    """Versions as WAV files by name, the gain (dB) that each took, and when the music starts
    (seconds from the start of each). ``parts``: the dB that each part took before."""

    files: Mapping[str, bytes]
    gains: Mapping[str, float]
    starts: float
    parts: Mapping[str, tuple[float, ...]] = field(default_factory=dict)

    def fits(self, name: str, performance: Performance) -> bool:
        """Whether as many play in it as in this version."""
        return len(self.parts.get(name, (0.0,))) == len(performance.parts)

    def placed(self, name: str, performance: Performance) -> Performance:
        """A performance that ``fits``, each player at the level that he had in this version."""
        parts = zip(performance.parts, self.parts.get(name, (0.0,)), strict=True)
        return replace(performance, parts=tuple(replace(p, gain=gain) for p, gain in parts))


class Player:
    """Plays what it is asked to, one thing at a time, in its own process.

    Every call raises ``NoSoundError`` without a synthesizer or soundfont, and
    ``PhrasingError`` where the process died; the next call starts another.
    """

    def __init__(self, soundfont: Path | None = None) -> None:
        self._soundfont = soundfont
        self._lock = Lock()
        self._process: Any = None
        self._line: Connection | None = None

    def whole(self, performances: Mapping[str, Performance]) -> Heard:
        """All versions, equally loud, as the command line writes them."""
        heard: Heard = self._asked("whole", dict(performances))
        return heard

    def stretch(self, performance: Performance, start: float, end: float, gain: float) -> bytes:
        """A WAV file of the seconds from ``start`` to ``end``, ``gain`` dB louder than the
        synthesizer's own level."""
        content: bytes = self._asked("stretch", performance, start, end, gain)
        return content

    def close(self) -> None:
        """End the process."""
        with self._lock:
            self._end()

    def _asked(self, what: str, *arguments: Any) -> Any:
        with self._lock:
            try:
                answer = self._answer((what, *arguments))
            except (EOFError, OSError) as error:
                self._end()
                raise PhrasingError(AGAIN) from error
        if isinstance(answer, PhrasingError):
            raise answer
        return answer

    def _answer(self, question: tuple[Any, ...]) -> Any:
        if self._line is None:
            self._begin()
        assert self._line is not None
        self._line.send(question)
        if not self._line.poll(PATIENCE):
            raise EOFError
        return self._line.recv()

    def _begin(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._line, other = context.Pipe()
        self._process = context.Process(
            target=serve, args=(other, self._soundfont), daemon=True, name="phrasing player"
        )
        self._process.start()
        other.close()

    def _end(self) -> None:
        if self._line is not None:
            self._line.close()
        if self._process is not None:
            self._process.kill()
            self._process.join()
        self._line = self._process = None


def serve(line: Connection, soundfont: Path | None) -> None:
    """Answer until the other end is closed; what cannot be played is answered by its error."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    work: dict[str, Callable[..., Any]] = {"whole": _whole, "stretch": _stretch}
    while True:
        try:
            what, *arguments = line.recv()
        except (EOFError, OSError):
            return
        try:
            answer: Any = work[what](soundfont, *arguments)
        except NoSoundError as error:
            answer = NoSoundError(str(error))
        except PhrasingError as error:
            answer = PhrasingError(str(error))
        line.send(answer)


def _whole(soundfont: Path | None, performances: Mapping[str, Performance]) -> Heard:
    from phrasing.sound.soundfiles import write_sound
    from phrasing.sound.soundfonts import find_soundfont

    font = find_soundfont(soundfont)
    numbered = {str(i): performance for i, performance in enumerate(performances.values())}
    with tempfile.TemporaryDirectory(prefix="phrasing-") as folder:
        made = write_sound(numbered, Path(folder), rate=RATE, soundfont=font)
        files = {i: made.files[i].path.read_bytes() for i in numbered}
    names = dict(zip(performances, numbered, strict=True))
    return Heard(
        {name: files[i] for name, i in names.items()},
        {name: made.files[i].gain for name, i in names.items()},
        made.music_starts,
        {name: made.gains[i] for name, i in names.items()},
    )


def _stretch(
    soundfont: Path | None, performance: Performance, start: float, end: float, gain: float
) -> bytes:
    from phrasing.sound.soundfonts import find_soundfont
    from phrasing.sound.stretches import stretch

    sound = stretch(performance, find_soundfont(soundfont), start, end, rate=RATE)
    return wav(sound * np.float32(10 ** (gain / 20)))


def wav(sound: Samples) -> bytes:
    """Samples, shape (2, n), as a WAV file of 16 bits; what is over full scale is cut.

    >>> len(wav(np.zeros((2, 100), np.float32)))
    444
    """
    numbers = np.clip(np.rint(sound.T * 32767.0), -32768, 32767).astype("<i2")
    content = io.BytesIO()
    with wave.open(content, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(numbers.tobytes())
    return content.getvalue()
