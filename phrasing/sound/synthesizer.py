"""FluidSynth, found wherever it is, behind the few calls that rendering needs.

pyfluidsynth binds the library while it is imported, so the library is found first: the one
named by ``PHRASING_FLUIDSYNTH``, the system's, or the one inside the pygame-ce package.
Times are in samples; whatever is sent takes effect at the next block of ``STEP`` samples.
"""

from __future__ import annotations

import contextlib
import ctypes
import ctypes.util
import importlib.metadata
import io
import os
import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from threading import RLock
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phrasing.errors import NoSoundError, PhrasingError
from phrasing.sound.soundfonts import Soundfont

SETTING = "PHRASING_FLUIDSYNTH"
"""Environment variable that names the library's file."""
STEP = 64
"""Samples between the instants at which FluidSynth takes up events."""
START, CUTOFF, ATTACK, RELEASE, ATTENUATION, COARSE_TUNE = 0, 8, 34, 38, 48, 51
"""Generators (SoundFont 2.01, section 8.1.2): start within the sample (frames), filter cutoff
(cents), attack and release of the volume envelope (timecents), initial attenuation
(centibels), tuning (semitones)."""
HIGH_PASS, HIGH_PASS_Q = 61, 62
"""FluidSynth's own generators of a second filter: its cutoff (cents), and its quality, where
0 leaves it out."""
HIGH_PASS_KIND, HIGH_PASS_FLAGS = 2, 0b111
"""A high-pass whose quality is given as it is, off at 0, without a gain of its own."""
GAIN = 10.0
"""The most FluidSynth has: samples are floats, which do not clip, and the fixed level at which
it takes a dying note for silence is then far below the music."""
PAN, EXPRESSION = 10, 11
MOST_VOICES = 64
DRUM_BANK = 128
ONE_AT_A_TIME = RLock()
"""Held while the library is bound and while a synthesizer is made: with the first one
FluidSynth sets up what all of them share, such as how velocity becomes level, and a second one
made at the same instant would take that half done and sound otherwise."""
NAMES = ("fluidsynth", "fluidsynth-3", "libfluidsynth-3", "libfluidsynth", "libfluidsynth-2")
HOMES = (
    "/opt/homebrew/lib/libfluidsynth.dylib",
    "/usr/local/lib/libfluidsynth.dylib",
    "C:/tools/fluidsynth/bin/libfluidsynth-3.dll",
)
"""Where package managers put the library that the loader does not look by itself."""
REMEDIES = {
    "win32": "install FluidSynth 2 (“choco install fluidsynth”, or its zip on the PATH)",
    "darwin": "run “brew install fluid-synth” or “pip install pygame-ce”",
    "linux": "run “pip install pygame-ce” or “sudo apt install libfluidsynth3”",
}
"""What to install, by ``sys.platform``."""
SETTINGS: dict[str, int | float | str] = {
    "synth.cpu-cores": 1,
    "synth.polyphony": 256,
    "synth.dynamic-sample-loading": 1,
    "synth.reverb.active": 0,
    "synth.chorus.active": 0,
    "synth.lock-memory": 0,
    "synth.threadsafe-api": 0,
    "synth.min-note-length": 0,
}
"""Set so that the same events give the same samples, dry."""
BRIEF: dict[str, tuple[Any, ...]] = {
    "noteon": 3 * (ctypes.c_int,),
    "noteoff": 2 * (ctypes.c_int,),
    "cc": 3 * (ctypes.c_int,),
    "pitch_bend": 2 * (ctypes.c_int,),
    "pitch_wheel_sens": 2 * (ctypes.c_int,),
    "set_gen": (ctypes.c_int, ctypes.c_int, ctypes.c_float),
    "all_sounds_off": (ctypes.c_int,),
    "get_active_voice_count": (),
    "get_voicelist": (ctypes.POINTER(ctypes.c_void_p), ctypes.c_int, ctypes.c_int),
    "set_custom_filter": 2 * (ctypes.c_int,),
}
"""Calls that last microseconds, and what they take besides the synthesizer."""


def library_name() -> str:
    """The file of the FluidSynth library in use; raises ``NoSoundError`` without one.

    >>> bool(library_name())
    True
    """
    return _library()[1]


def library_version() -> str:
    """The version of the FluidSynth library in use; raises ``NoSoundError`` without one."""
    version = [ctypes.c_int() for _ in range(3)]
    _library()[0]._fl.fluid_version(*map(ctypes.byref, version))
    return ".".join(str(number.value) for number in version)


class Synthesizer:
    """A FluidSynth with one soundfont; use it in a ``with`` block.

    ``rate`` in Hz; ``channels`` a multiple of 16. Raises ``NoSoundError`` without a library,
    ``PhrasingError`` where the soundfont cannot be loaded.
    """

    def __init__(self, soundfont: Soundfont, rate: int = 44100, channels: int = 16) -> None:
        fluid, path = _library()
        with ONE_AT_A_TIME:
            self._synth = fluid.Synth(
                gain=GAIN, samplerate=float(rate), channels=channels, **SETTINGS
            )
        self._handle = ctypes.c_void_p(self._synth.synth)
        self._write = fluid._fl.fluid_synth_write_float
        self._call = _brief(path)
        self._call.fluid_synth_set_custom_filter(self._handle, HIGH_PASS_KIND, HIGH_PASS_FLAGS)
        self._font = self._synth.sfload(os.fspath(soundfont.path))
        if self._font < 0:
            self.close()
            raise PhrasingError(
                f"{soundfont.path}: the synthesizer cannot load this soundfont; choose another"
                " with --soundfont."
            )

    def __enter__(self) -> Synthesizer:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Free the library's memory; the object is not to be used after."""
        if self._synth is not None:
            self._synth.delete()
            self._synth = None

    def program(self, channel: int, program: int, *, drums: bool = False) -> bool:
        """Put a program or drum set (from 1) on a channel; where it is missing, the first.

        Tells whether it is there.
        """
        bank, preset = (DRUM_BANK if drums else 0), program - 1
        select = self._synth.program_select
        if select(channel, self._font, bank, preset) >= 0:
            return True
        select(channel, self._font, bank, 0)
        return False

    def note_on(self, channel: int, pitch: int, velocity: int) -> None:
        """Press a key."""
        self._call.fluid_synth_noteon(self._handle, channel, pitch, velocity)

    def note_off(self, channel: int, pitch: int) -> None:
        """Let a key go."""
        self._call.fluid_synth_noteoff(self._handle, channel, pitch)

    def expression(self, channel: int, value: int) -> None:
        """Set controller 11, 0 to 127."""
        self._call.fluid_synth_cc(self._handle, channel, EXPRESSION, value)

    def pan(self, channel: int, value: int) -> None:
        """Set controller 10, 0 (left) over 64 (middle) to 127 (right)."""
        self._call.fluid_synth_cc(self._handle, channel, PAN, value)

    def bend_range(self, channel: int, semitones: int) -> None:
        """Set how far a full bend moves the channel's pitch."""
        self._call.fluid_synth_pitch_wheel_sens(self._handle, channel, semitones)

    def bend(self, channel: int, value: int) -> None:
        """Bend the channel's pitch; ``value`` from -8192 to 8191."""
        self._call.fluid_synth_pitch_bend(self._handle, channel, value + 8192)

    def generator(self, channel: int, generator: int, value: float) -> None:
        """Move a generator of all the channel's notes, sounding or to come, by ``value``."""
        self._call.fluid_synth_set_gen(self._handle, channel, generator, value)

    def silence(self, channel: int) -> None:
        """Cut off whatever sounds on the channel."""
        self._call.fluid_synth_all_sounds_off(self._handle, channel)

    @property
    def voices(self) -> int:
        """How many voices sound, tails included."""
        return int(self._call.fluid_synth_get_active_voice_count(self._handle))

    def own(self, generator: int) -> float:
        """The highest value that the soundfont gives the voices that sound; 0 without any."""
        voices = (ctypes.c_void_p * MOST_VOICES)()
        self._call.fluid_synth_get_voicelist(self._handle, voices, MOST_VOICES, -1)
        values = [self._call.fluid_voice_gen_get(voice, generator) for voice in voices if voice]
        return float(max(values, default=0.0))

    def pull(self, samples: NDArray[np.float32], start: int, stop: int) -> None:
        """Fill columns ``start`` to ``stop`` of ``samples``, shape (2, n) in C order."""
        left = samples.ctypes.data
        self._write(
            self._handle, stop - start, left, start, 1, left, samples.shape[1] + start, 1
        )


def _library() -> tuple[Any, str]:
    """pyfluidsynth bound to the first library that works, and that library's path."""
    with ONE_AT_A_TIME:
        return _bound()


@lru_cache(maxsize=1)
def _bound() -> tuple[Any, str]:
    for path in _candidates():
        module = _bound_to(path)
        if module is not None:
            return module, path
    if os.environ.get(SETTING):
        raise NoSoundError(
            f"{os.environ[SETTING]}, named by {SETTING}, is no FluidSynth library."
        )
    remedy = REMEDIES.get(sys.platform, REMEDIES["linux"])
    raise NoSoundError(f"No synthesizer library (FluidSynth 2) was found: {remedy}.")


@lru_cache(maxsize=2)
def _brief(path: str) -> ctypes.PyDLL:
    """The library at ``path`` for its brief calls, during which no other thread gets its turn.

    It would get it too late and keep this one waiting for milliseconds: versions that are
    played side by side would then take as long as one after the other.
    """
    library = ctypes.PyDLL(path)
    for name, kinds in BRIEF.items():
        getattr(library, f"fluid_synth_{name}").argtypes = (ctypes.c_void_p, *kinds)
    library.fluid_voice_gen_get.argtypes = (ctypes.c_void_p, ctypes.c_int)
    library.fluid_voice_gen_get.restype = ctypes.c_float
    return library


def _candidates() -> Iterator[str]:
    setting = os.environ.get(SETTING)
    if setting:
        yield setting
        return
    found = (ctypes.util.find_library(name) for name in NAMES)
    yield from (path for path in found if path)
    yield from (path for path in HOMES if Path(path).exists())
    yield from _bundled()


def _bundled() -> Iterator[str]:
    """The library that pygame-ce's wheels bring for their own use."""
    try:
        files = importlib.metadata.files("pygame-ce") or []
    except importlib.metadata.PackageNotFoundError:
        return
    yield from (str(f.locate()) for f in files if f.name.startswith("libfluidsynth"))


def _bound_to(path: str) -> Any:
    """pyfluidsynth bound to this library, None where that fails."""
    find = ctypes.util.find_library
    ctypes.util.find_library = lambda name: path
    sys.modules.pop("fluidsynth", None)
    try:
        with contextlib.redirect_stdout(io.StringIO()):  # it talks where CI is set
            import fluidsynth

        return _prepared(fluidsynth)
    except (ImportError, OSError, AttributeError, TypeError):
        return None
    finally:
        ctypes.util.find_library = find


def _prepared(fluidsynth: Any) -> Any:
    """The module with the calls it does not wrap declared, and its library kept quiet."""
    library, number = fluidsynth._fl, ctypes.c_int
    write = [ctypes.c_void_p, number] + 2 * [ctypes.c_void_p, number, number]
    library.fluid_synth_write_float.argtypes = write
    library.fluid_set_log_function.argtypes = (number, ctypes.c_void_p, ctypes.c_void_p)
    for severity in range(5):
        library.fluid_set_log_function(severity, None, None)
    return fluidsynth
