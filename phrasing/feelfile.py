"""What a teacher writes for a feel: its file (TOML), and a swing in words.

What is given is checked; what is left out keeps its default.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from phrasing.errors import PhrasingError
from phrasing.feel import FEELS, RATIOS, Feel, Swing
from phrasing.limits import TEXT_BYTES, is_number
from phrasing.score.meters import FASTEST, SLOWEST

if TYPE_CHECKING:
    from pathlib import Path

ANY_TEMPO = 120.0
"""The tempo under which a ratio for every tempo is kept."""
STRAIGHT = ((ANY_TEMPO, 1.0),)
"""The table of even eighths."""
QUOTED = 40
"""Characters of an entry that a message repeats."""


def adjusted(feel: Feel, table: Mapping[str, Any], source: str = "The feel") -> Feel:
    """The feel with the entries of ``table`` put in, laid out as in a feel's file.

    Raises ``PhrasingError`` naming the ``source`` and the entry that cannot be used.

    >>> adjusted(Feel(), {"line": {"arch": 2.0}}).line.arch
    2.0
    """
    try:
        changed: Feel = _filled(feel, table, "")
        _check_together(changed)
    except PhrasingError as error:
        raise PhrasingError(f"{source}: {error}") from None
    return changed


def load_feel(path: Path, base: Feel | None = None) -> Feel:
    """The feel in a TOML file; what it leaves out is as in ``base``, or the default.

    The name of a feel (``FEELS``) will do as well, where there is no file of that name. Raises
    ``PhrasingError`` naming the file and the entry that cannot be used.

    Example file::

        strength = 0.8
        [swing]
        by_tempo = [[120, 2.0], [200, 1.5]]
        [sounds.ghost]
        level = -7.0

    >>> place = folder / "my.toml"
    >>> _ = place.write_text("[sounds.ghost]\\nlevel = -7")
    >>> load_feel(place).sounds["ghost"].level
    -7.0
    """
    if str(path) in FEELS and not path.exists():
        return adjusted(base or Feel(), FEELS[str(path)], f"The feel {path}")
    table = load_table(path, "feel", f"name a file, or one of {', '.join(FEELS)}")
    return adjusted(base or Feel(), table, str(path))


def load_table(path: Path, kind: str, remedy: str) -> dict[str, Any]:
    """What stands in a TOML file, unchecked; ``PhrasingError`` where it cannot be read.

    ``kind``: what it should be, and ``remedy``: what to do where it is not there, for messages.

    >>> place = folder / "my.toml"
    >>> _ = place.write_text("tempo = 96")
    >>> load_table(place, "feel", "name a file")
    {'tempo': 96}
    """
    import tomllib

    try:
        if path.stat().st_size > TEXT_BYTES:
            raise PhrasingError(f"{path}: is far too large to be a {kind}.")
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise PhrasingError(f"{path}: cannot be read ({error.strerror}); {remedy}.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise PhrasingError(f"{path}: is not a TOML file: {error}.") from error
    except (ValueError, RecursionError) as error:
        raise PhrasingError(f"{path}: holds what no {kind} needs; write it anew.") from error


def _check_together(feel: Feel) -> None:
    """Refuse numbers that are each possible, but not with one another."""
    bass, comping, swing = feel.band.bass, feel.band.comping, feel.swing
    approaches = bass.above + bass.below + bass.whole_below + bass.whole_above + bass.fifth
    for place, value, low, high in (
        ("swing.melody_slow", swing.melody_slow, 0, swing.even_at - 1),
        ("fall.least", feel.fall.least, 0, feel.fall.most),
        ("band.bass.low", bass.low, 0, bass.high - 12),
        ("band.bass.home", bass.home, bass.low, bass.high),
        ("band.bass.intervals: their number", len(bass.intervals), 1, 48),
        ("band.bass: the shares of all approaches", approaches, 0, 1.0),
        ("band.comping.piano_low", comping.piano_low, 0, comping.piano_high - 23),
        ("band.comping.guitar_low", comping.guitar_low, 0, comping.guitar_high - 23),
    ):
        _check(value, (low, high), place)


def _check(value: float, limits: tuple[float, float], place: str) -> None:
    low, high = limits
    if not low <= value <= high:
        raise PhrasingError(f"{place} is {value:g}; choose {low:g} to {high:g}.")


def _filled(base: Any, table: Mapping[str, Any], where: str) -> Any:
    """``base`` (a dataclass) with the entries of ``table`` put in, each checked."""
    known = {each.name: each for each in dataclasses.fields(base)}
    changes: dict[str, Any] = {}
    for name, value in table.items():
        place = f"{where}{name}"
        if name not in known:
            raise PhrasingError(f"there is no entry “{place}”; known are {', '.join(known)}.")
        changes[name] = _entry(getattr(base, name), known[name], value, place)
    return dataclasses.replace(base, **changes)


def _entry(old: Any, known: dataclasses.Field[Any], value: Any, place: str) -> Any:
    """What a file gives for a field, in the field's own kind."""
    if dataclasses.is_dataclass(old) or isinstance(old, Mapping):
        if not isinstance(value, dict):
            raise PhrasingError(f"{place} is a group: write [{place}], and its entries below.")
        if isinstance(old, Mapping):
            return _sounds(old, value, place)
        return _filled(old, value, f"{place}.")
    if "second" in known.metadata:
        return _pairs(value, known, place)
    if isinstance(old, bool):
        if isinstance(value, bool):
            return value
        raise PhrasingError(f"{place} cannot be {_short(value)}; it is true or false.")
    return _number(value, known, place)


def _sounds(old: Mapping[str, Any], value: Mapping[str, Any], place: str) -> Any:
    """The marks' sounds, with those of the file put in."""
    sounds = dict(old)
    for name, entries in value.items():
        if name not in old:
            raise PhrasingError(f"there is no mark “{name}”; the marks are {', '.join(old)}.")
        if not isinstance(entries, dict):
            raise PhrasingError(f"{place}.{name} is a group: write [{place}.{name}].")
        sounds[name] = _filled(old[name], entries, f"{place}.{name}.")
    return MappingProxyType(sounds)


def _number(value: Any, known: dataclasses.Field[Any], place: str) -> float:
    low, high = known.metadata["limits"]
    if not is_number(value):
        raise PhrasingError(f"{place} cannot be {_short(value)}; choose {low:g} to {high:g}.")
    if known.type == "int" and value != int(value):
        raise PhrasingError(f"{place} is a whole number, not {value:g}.")
    _check(value, (low, high), place)
    return int(value) if known.type == "int" else float(value)


def _pairs(
    value: Any, known: dataclasses.Field[Any], place: str
) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list):
        raise PhrasingError(f"{place} cannot be {_short(value)}; it is a list of pairs.")
    if not value and known.default:
        raise PhrasingError(f"{place} is empty; give one pair at least, or leave it out.")
    for pair in value:
        if not (isinstance(pair, list) and len(pair) == 2 and all(map(is_number, pair))):
            raise PhrasingError(f"{place} is a list of pairs such as [[120, 2.0], [200, 1.5]].")
        for half, limits in zip(pair, ("limits", "second"), strict=True):
            _check(half, known.metadata[limits], place)
    found = tuple(sorted((float(first), float(second)) for first, second in value))
    if len({first for first, _ in found}) < len(found):
        raise PhrasingError(f"{place} has two pairs that begin alike; keep one of them.")
    return found


def _short(value: Any) -> str:
    """What was written, cut where it is long."""
    text = repr(value)
    return text if len(text) <= QUOTED else f"{text[:QUOTED]}…"


def swing_from_text(text: str) -> Swing | None:
    """The setting a user writes: ``2``, ``2:1``, ``straight``, ``auto``, ``120:2,200:1.5``.

    None for ``auto``. Raises ``PhrasingError`` for what cannot be read or played.

    >>> swing_from_text("120:2,200:1.5").by_tempo
    ((120.0, 2.0), (200.0, 1.5))
    """
    word = text.strip().lower()
    if word == "auto":
        return None
    if word in ("straight", "even"):
        return Swing(by_tempo=STRAIGHT)
    pairs = tuple(sorted(_pair(entry.strip(), text) for entry in word.split(",")))
    if len({tempo for tempo, _ in pairs}) < len(pairs):
        raise PhrasingError(f"Swing “{text}”: gives one tempo twice.")
    return Swing(by_tempo=pairs)


def ratio_from_text(text: str) -> float | None:
    """One ratio for a whole piece: ``2``, ``2:1``, ``straight``; None for ``auto``.

    Raises ``PhrasingError`` for a table too.

    >>> ratio_from_text("5:3")
    1.6666666666666667
    """
    swing = swing_from_text(text)
    if swing is None:
        return None
    if len(swing.by_tempo) > 1 or swing.by_tempo[0][0] != ANY_TEMPO:
        raise PhrasingError(f"Swing “{text}”: a piece has one ratio, such as 2, or straight.")
    return swing.by_tempo[0][1]


def _pair(entry: str, text: str) -> tuple[float, float]:
    """One (tempo, ratio) of a table; a ratio alone, or one such as 2:1, is for any tempo."""
    try:
        first, _, second = entry.partition(":")
        left, right = float(first), float(second) if second else None
    except ValueError:
        raise _unreadable(text) from None
    if right is None:
        tempo, ratio = ANY_TEMPO, left
    elif "," not in text and 0 < left < SLOWEST and right > 0:
        tempo, ratio = ANY_TEMPO, left / right
    else:
        tempo, ratio = left, right
    if not SLOWEST <= tempo <= FASTEST:
        raise PhrasingError(
            f"Swing “{text}”: the tempo {tempo:g} is outside {SLOWEST:g} to {FASTEST:g} "
            "quarter notes a minute."
        )
    if not 1.0 <= ratio <= RATIOS[1]:
        raise PhrasingError(
            f"Swing “{text}”: the ratio {ratio:g} is outside 1 (even) to {RATIOS[1]:g} "
            "(long note : short note)."
        )
    return tempo, ratio


def _unreadable(text: str) -> PhrasingError:
    return PhrasingError(
        f"Swing “{text}”: write a ratio such as 2, “straight”, “auto”, or a table of "
        "tempo:ratio such as 120:2,200:1.5."
    )
