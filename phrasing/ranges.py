"""Whether a melody lies on an instrument, and where it does not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from phrasing.instruments import Instrument
from phrasing.marking.wording import bar_name, beat_name, name_at
from phrasing.melody import Melody
from phrasing.pitchnames import pitch_name
from phrasing.transposing import as_written


@dataclass(frozen=True)
class RangeReport:
    """Whether a melody lies within an instrument's range.

    ``outside``: indices of the notes that do not; ``octaves``: by how many octaves to move
    the melody so that all do (0 where it fits, None where no octave does); ``message``: one
    or two sentences for the player, empty where it fits.
    """

    outside: tuple[int, ...]
    octaves: int | None
    message: str

    @property
    def fits(self) -> bool:
        """Whether every note is within the range."""
        return not self.outside


def fit(melody: Melody, instrument: Instrument) -> RangeReport:
    """Whether the melody lies within the instrument's range, and which octave would.

    The message names the notes outside as the player reads them, with bar and beat.
    """
    low, high = instrument.low, instrument.high
    outside = tuple(
        index for index, pitch in enumerate(melody.pitch.tolist()) if not low <= pitch <= high
    )
    if not outside:
        return RangeReport((), 0, "")
    octaves = _fitting_octave(melody, low, high)
    return RangeReport(outside, octaves, _message(melody, instrument, outside, octaves))


def _fitting_octave(melody: Melody, low: int, high: int) -> int | None:
    least, most = int(melody.pitch.min()), int(melody.pitch.max())
    fitting = [k for k in range(-8, 9) if low <= least + 12 * k and most + 12 * k <= high]
    return min(fitting, key=abs) if fitting else None


NAMED = 4
"""How many notes out of range a warning names before it counts the rest."""


def _message(
    melody: Melody, instrument: Instrument, outside: Sequence[int], octaves: int | None
) -> str:
    read = as_written(melody, instrument)
    named = [f"{name_at(read, i)} ({_place(read, i)})" for i in outside[:NAMED]]
    more = f" and {len(outside) - NAMED} more" if len(outside) > NAMED else ""
    notes = "note is" if len(outside) == 1 else "notes are"
    low, high = (
        pitch_name(p - instrument.transposition) for p in (instrument.low, instrument.high)
    )
    advice = (
        f"--octave {octaves:+d} would fit."
        if octaves is not None
        else "No octave fits all of it; --transpose may."
    )
    written = "written " if instrument.transposition else ""
    extra = ""
    if instrument.remark and all(melody.pitch[i] == instrument.high + 1 for i in outside):
        extra = f" {instrument.remark}"
    return (
        f"{len(outside)} {notes} outside the range of the {instrument.name[0].lower()}"
        f"{instrument.name[1:]} ({written}{low} to {high}): {', '.join(named)}{more}. "
        f"{advice}{extra}"
    )


def _place(melody: Melody, index: int) -> str:
    bar = melody.bars[int(melody.bar_index[index])]
    return f"{bar_name(bar)}, {beat_name(melody, index)}"
