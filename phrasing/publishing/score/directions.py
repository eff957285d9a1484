"""What stands over and under the notes: tempo, swing, rehearsal letters, chords and wedges."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol, TypeVar

from phrasing.melody import Meter
from phrasing.publishing.score.barring import is_compound
from phrasing.publishing.score.draft import Draft, add
from phrasing.publishing.score.harmony import add_harmony
from phrasing.publishing.score.values import Piece

if TYPE_CHECKING:
    from lxml import etree


class _Placed(Protocol):
    @property
    def onset(self) -> int: ...


Item = TypeVar("Item", bound=_Placed)


def during(items: Sequence[Item], piece: Piece) -> Sequence[Item]:
    """Those of the ``items`` (in order of onset) that begin while the piece lasts."""
    first = bisect_left(items, piece.onset, key=lambda item: item.onset)
    last = bisect_left(items, piece.onset + piece.length, key=lambda item: item.onset)
    return items[first:last]


def swing_words(swing: tuple[int, int]) -> str:
    """The direction as it is printed, always against one: "Swing 2 : 1", "Swing 1.75 : 1"."""
    ratio = swing[0] / swing[1]
    return "Even eighths" if ratio == 1.0 else f"Swing {round(ratio, 2):g} : 1"


def add_swing_sound(sound: etree._Element, swing: tuple[int, int]) -> None:
    """Append the ``<swing>`` that says the same to a program."""
    element = add(sound, "swing")
    if swing[0] == swing[1]:
        add(element, "straight")
        return
    add(element, "first", swing[0])
    add(element, "second", swing[1])
    add(element, "swing-type", "eighth")


def add_section(measure: etree._Element, draft: Draft, piece: Piece) -> None:
    """Append the rehearsal letter that stands at this piece."""
    for section in during(draft.melody.sections, piece):
        direction = add(measure, "direction", placement="above")
        add(add(direction, "direction-type"), "rehearsal", section.name)


def add_tempos(measure: etree._Element, draft: Draft, piece: Piece, meter: Meter) -> None:
    """Append the tempos that start during this piece; small changes are not printed.

    The first stands with the swing direction, if a ratio is to be said: "Swing 2 : 1 ♩ = 168".
    """
    for change in during(draft.tempos, piece):
        offset = draft.count(change.onset - piece.onset)
        if change.printed:
            swing = draft.swing if change.onset == 0 else None
            _add_metronome(measure, change.tempo, offset, meter, swing)
        else:
            sound = add(measure, "sound", tempo=_decimal(change.tempo))
            _add_offset(sound, offset)


def _add_metronome(
    measure: etree._Element,
    tempo: float,
    offset: int,
    meter: Meter,
    swing: tuple[int, int] | None,
) -> None:
    direction = add(measure, "direction", placement="above")
    if swing:
        add(add(direction, "direction-type"), "words", swing_words(swing))
    metronome = add(add(direction, "direction-type"), "metronome")
    dotted = is_compound(meter) and meter.unit == 8
    add(metronome, "beat-unit", "quarter")
    if dotted:
        add(metronome, "beat-unit-dot")
    add(metronome, "per-minute", round(tempo / 1.5 if dotted else tempo))
    _add_offset(direction, offset)
    sound = add(direction, "sound", tempo=_decimal(tempo))
    if swing:
        add_swing_sound(sound, swing)


def _add_offset(parent: etree._Element, offset: int) -> None:
    if offset:
        add(parent, "offset", offset)


def _decimal(number: float) -> str:
    return f"{number:.6f}".rstrip("0").rstrip(".")


def add_chords(measure: etree._Element, draft: Draft, piece: Piece) -> None:
    """Append the chord symbols that stand over this piece, moved to written pitch."""
    for chord in during(draft.melody.chords, piece):
        offset = draft.count(chord.onset - piece.onset)
        add_harmony(measure, chord.text, draft.move, offset)


def add_wedges(measure: etree._Element, draft: Draft, note: int, *, opens: bool) -> None:
    """Append the ends of the marking's swells that lie at a note: before it or after it."""
    for swell in draft.marking.swells if draft.marking else ():
        if note == (swell.first if opens else swell.last):
            direction = add(measure, "direction", placement="below")
            kind = "diminuendo" if opens else "stop"
            add(add(direction, "direction-type"), "wedge", type=kind, number="1")
