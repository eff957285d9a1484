"""What the teacher asks for, as the command line or a script hands it on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast, get_args

from phrasing.errors import PhrasingError

Format = Literal["wav", "flac", "mp3", "opus"]


@dataclass(frozen=True)
class Request:
    """What the teacher asks for; None and empty leave it to the file or the defaults.

    ``style``: the name of one, or auto; ``swing`` as in ``swing.swing_from_text``;
    ``strength`` 0 to 1; ``leave_out``: names of rules; ``only``: bars such as ``"1-4"``;
    ``pickup``: quarter notes before bar 1; ``meter``: such as ``"3/4"``;
    ``transpose`` and ``octave`` as in ``transposing``. ``second_reading``: what some players
    do where others do as the rules say, everywhere or (by its name) in one choice. ``slurs``:
    print those that are played (None: for a wind instrument). ``options``: a file with more
    of these, as ``optionsfile`` reads it.
    """

    tempo: float | None = None
    style: str | None = None
    swing: str | None = None
    strength: float | None = None
    instrument: str | None = None
    transpose: str | None = None
    octave: int | None = None
    marks: Path | None = None
    leave_out: tuple[str, ...] = ()
    only: str | None = None
    feel: Path | None = None
    track: str | None = None
    pickup: float | None = None
    meter: str | None = None
    as_written: bool = False
    slurs: bool | None = None
    second_reading: bool | str = False
    options: Path | None = None


@dataclass(frozen=True)
class SoundForm:
    """The form of the sound files: ``loudness`` in LUFS, ``rate`` in samples a second.

    Without a ``rate`` it is 44100, and 48000 for opus, which has no other.
    """

    soundfont: Path | None = None
    format: str = "wav"
    rate: int | None = None
    bits: int = 16
    loudness: float = -18.0

    @property
    def kind(self) -> Format:
        """The format, once ``checked_form`` has seen it."""
        return cast(Format, self.format)

    @property
    def is_lossless(self) -> bool:
        """Whether a file of this form has all that was played."""
        return self.format in ("wav", "flac")

    @property
    def samples_a_second(self) -> int:
        """The rate that was asked for, or else the format's usual one."""
        return self.rate or (OPUS_RATE if self.format == "opus" else RATES[0])


@dataclass(frozen=True)
class BandRequest:
    """What the teacher asks of the band.

    ``parts``: who plays, of bass, drums and chords; ``mute``: who of them does not;
    ``clicks``: the count-in on all beats or on 2 and 4; ``comping``: piano or guitar;
    ``two``: the first chorus in two. ``intro``: none, four or last-four; ``ending``: ring,
    ritard, tag, stop or none; ``trade``: bars that the drums answer alone, 0 for none.
    """

    choruses: int = 1
    count_in: int = 2
    clicks: str = "all"
    parts: tuple[str, ...] = ()
    mute: tuple[str, ...] = ()
    comping: str = "piano"
    two: bool = False
    intro: str = "none"
    ending: str = "ring"
    trade: int = 0
    seed: int = 0


FORMATS = get_args(Format)
RATES = (44100, 48000)
OPUS_RATE = 48000
BITS = (16, 24)
QUIETEST, LOUDEST = -40.0, -9.0
"""LUFS between which files can be written without running into the peak limit or silence."""


def checked_form(form: SoundForm) -> SoundForm:
    """The form if it can be written, else ``PhrasingError``.

    >>> checked_form(SoundForm(format="opus")).samples_a_second
    48000
    """
    for name, value, choices in (
        ("format", form.format, FORMATS),
        ("rate", form.samples_a_second, RATES),
        ("bits", form.bits, BITS),
    ):
        if value not in choices:
            known = ", ".join(map(str, choices))
            raise PhrasingError(f"--{name} {value}: choose one of {known}.")
    if form.format == "opus" and form.samples_a_second != OPUS_RATE:
        raise PhrasingError("--format opus has 48000 samples a second: leave out --rate.")
    if not QUIETEST <= form.loudness <= LOUDEST:
        raise PhrasingError(
            f"--loudness {form.loudness:g}: choose from {QUIETEST:g} to {LOUDEST:g} LUFS."
        )
    return form
