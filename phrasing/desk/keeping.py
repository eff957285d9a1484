"""What was decided, on disk at once: in open files that the command line reads too.

Beside ``tune.mid`` stand ``tune.marks.csv`` (the marks table), ``tune.feel.toml`` (the feel),
``tune.options.toml`` (how it is read and played, with the names of these two) and
``tune.desk.json`` (the steps and readings, from which the others can be made again). The
steps are written first. Where one of the others was edited elsewhere in the meantime, what was
edited becomes a step of its own, so that desk and command line never disagree.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from phrasing.desk.changes import (
    ASK,
    ASKED,
    FEEL,
    GATE,
    LEVEL,
    LINE,
    MARK,
    NO_MARK,
    RULE,
    Step,
    checked,
    feel_of,
    marks_of,
    request_of,
)
from phrasing.desk.work import Reading, Work, changed, laid_out
from phrasing.errors import PhrasingError
from phrasing.files import write_whole
from phrasing.lesson.optionsfile import load_options, options_text
from phrasing.lesson.request import Request
from phrasing.limits import NOTES
from phrasing.marking.table import marks_csv, read_marks_table

EDITION = 1
"""Of the desk's own file."""
LARGEST = 20_000_000
"""Bytes of a desk's file at most."""
SAID_OUTSIDE = "{} was edited outside the desk"


@dataclass(frozen=True)
class Places:
    """Where a melody's files are."""

    marks: Path
    feel: Path
    options: Path
    desk: Path


def places_of(path: Path) -> Places:
    """The files beside a melody, named after it; after its whole name where another melody of
    the same name (``tune.musicxml`` beside ``tune.mid``) has them already."""
    short = _places(path, path.stem)
    owner = _loaded(short.desk).get("melody", path.name)
    return short if owner == path.name else _places(path, path.name)


def _places(path: Path, stem: str) -> Places:
    return Places(
        path.with_name(f"{stem}.marks.csv"),
        path.with_name(f"{stem}.feel.toml"),
        path.with_name(f"{stem}.options.toml"),
        path.with_name(f"{stem}.desk.json"),
    )


def opened(path: Path, asked: Request) -> Work:
    """The melody with all that was decided about it before.

    Raises ``PhrasingError`` for what cannot be read.
    """
    places = places_of(path)
    work = laid_out(path, _passed_on(asked, places.options))
    stored = _loaded(places.desk)
    if stored:
        work = _restored(work, stored, places.desk)
    return refreshed(work)


def refreshed(work: Work) -> Work:
    """The work with what was edited in its files since the desk wrote them."""
    places = places_of(work.path)
    known = _loaded(places.desk).get("files", {})
    if _is_foreign(places.marks, known):
        work = _with_marks(work, places.marks)
    if _is_foreign(places.feel, known):
        work = _with_feel(work, places.feel)
    if _is_foreign(places.options, known):
        work = _with_options(work, places.options)
    return work


def keep(work: Work) -> None:
    """Write everything, the steps first, each file whole or not at all.

    Raises ``PhrasingError`` where the folder cannot be written to.
    """
    places = places_of(work.path)
    before = _loaded(places.desk).get("files", {})
    table = marks_csv(*work.lesson.table)
    feel = feel_text(feel_of(work.held))
    options = options_text(asked_of(work), work.path.name)
    texts = {places.marks: table, places.feel: feel, places.options: options}
    now = {place.name: digest(text) for place, text in texts.items()}
    known = {name: [digest_, *before.get(name, [])[:1]] for name, digest_ in now.items()}
    stored = {
        "edition": EDITION,
        "melody": work.path.name,
        "steps": [asdict(step) for step in work.steps],
        "readings": [asdict(reading) for reading in work.readings],
        "files": known,
    }
    write_whole(places.desk, json.dumps(stored, ensure_ascii=False, indent=1) + "\n")
    for place, text in texts.items():
        write_whole(place, text)


def asked_of(work: Work) -> Request:
    """What the command line is asked for the same as on the desk."""
    places = places_of(work.path)
    return replace(
        request_of(work.held, work.asked),
        marks=Path(places.marks.name),
        feel=Path(places.feel.name),
    )


def feel_text(groups: Mapping[str, Any]) -> str:
    """A feel's file with these entries.

    >>> print(feel_text({"sounds": {"ghost": {"level": -7.0}}}))
    # What was changed on the desk; used with --feel.
    [sounds.ghost]
    level = -7.0
    <BLANKLINE>
    """
    import tomli_w

    return "# What was changed on the desk; used with --feel.\n" + tomli_w.dumps(groups)


def digest(text: str) -> str:
    """What tells a text from another.

    >>> digest("a") == digest("b")
    False
    """
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:24]


def _is_foreign(path: Path, known: Any) -> bool:
    """Whether the file is there and was not written by the desk."""
    try:
        text = path.read_bytes().decode("utf-8", "replace")
    except OSError:
        return False
    ours = known.get(path.name, []) if isinstance(known, dict) else []
    return digest(text) not in ours


def _with_marks(work: Work, path: Path) -> Work:
    """The table's marks as a step of their own; a mark that it has no more is given back."""
    read = read_marks_table(path, work.read)
    table, lines = read.changed, {f"{LINE}{o.kind}:{o.first}:{o.last}" for o in read.lines}
    held = marks_of(work.held)
    wanted = {i: NO_MARK if mark is None else mark for i, mark in table.items()}
    sets: dict[str, Any] = {
        f"{MARK}{i}": mark for i, mark in wanted.items() if i not in held or held[i] != table[i]
    }
    sets |= {f"{MARK}{i}": None for i in held if i not in wanted}
    own = {
        f"{what}:{i}": value
        for i, sound in read.own.items()
        for what, value in asdict(sound).items()
        if value is not None
    }
    had_own = {key: v for key, v in work.held.items() if key.startswith((LEVEL, GATE))}
    sets |= {key: value for key, value in own.items() if had_own.get(key) != value}
    sets |= {key: None for key in had_own if key not in own}
    had = {key for key in work.held if key.startswith(LINE)}
    sets |= dict.fromkeys(lines - had, True) | dict.fromkeys(had - lines)
    return changed(work, sets, SAID_OUTSIDE.format(path.name)) if sets else work


def _with_feel(work: Work, path: Path) -> Work:
    import tomllib

    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        raise PhrasingError(f"{path}: is not a TOML file; mend or remove it.") from error
    wanted = dict(_entries(table, ""))
    held = {key for key in work.held if key.startswith(FEEL)}
    sets = {FEEL + key: value for key, value in wanted.items()}
    sets |= {key: None for key in held if key.removeprefix(FEEL) not in wanted}
    sets = {key: value for key, value in sets.items() if work.held.get(key) != value}
    return changed(work, sets, SAID_OUTSIDE.format(path.name)) if sets else work


PASSED = ("swing", "strength", "as_written", "slurs")
"""Options that the desk keeps as they are in their file."""


def _passed_on(asked: Request, path: Path) -> Request:
    """What is asked, with what the desk itself has no words for in the file of options."""
    told = load_options(path) if path.exists() else {}
    return replace(asked, **{name: told[name] for name in PASSED if name in told})


def _with_options(work: Work, path: Path) -> Work:
    """The options as a step of their own; one that they have no more is given back."""
    told = load_options(path)
    unknown = sorted(told.keys() - {*PASSED, *ASKED, "marks", "feel", "leave_out"})
    if unknown:
        raise PhrasingError(f"{path}: the desk plays all of it; take “{unknown[0]}” out.")
    wanted = {ASK + name: value for name, value in told.items() if name in ASKED}
    wanted |= {RULE + name: False for name in told.get("leave_out", ())}
    held = {key: v for key, v in work.held.items() if key.startswith((ASK, RULE))}
    sets = {key: value for key, value in wanted.items() if held.get(key) != value}
    sets |= {key: None for key in held if key not in wanted}
    work = replace(work, asked=_passed_on(work.asked, path))
    return changed(work, sets, SAID_OUTSIDE.format(path.name)) if sets else work


def _entries(table: Mapping[str, Any], before: str) -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for name, value in table.items():
        inside = isinstance(value, dict)
        found += _entries(value, f"{before}{name}.") if inside else [(before + name, value)]
    return found


def _loaded(path: Path) -> dict[str, Any]:
    """The desk's file; nothing where there is none yet."""
    try:
        if path.stat().st_size > LARGEST:
            raise ValueError("too large")
        stored = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(stored, dict) or stored.get("edition") != EDITION:
            raise ValueError("another edition")
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, RecursionError) as error:
        raise PhrasingError(
            f"{path}: cannot be read; move it away to begin anew, the marks stay in their "
            "table."
        ) from error
    return stored


def _restored(work: Work, stored: Mapping[str, Any], path: Path) -> Work:
    """The work with the steps and readings of its file."""
    try:
        steps = tuple(
            Step(
                int(each["number"]),
                checked(each["sets"], NOTES),
                str(each["said"]),
                bool(each["stands"]),
            )
            for each in stored["steps"]
        )
        readings = tuple(
            Reading(str(each["name"]), checked(each["held"], NOTES))
            for each in stored["readings"]
        )
        restored = replace(work, steps=steps, readings=readings)
        assert restored.versions
    except (KeyError, TypeError, ValueError, PhrasingError) as error:
        raise PhrasingError(
            f"{path}: does not fit {work.path.name}; move it away to begin anew, the marks "
            "stay in their table."
        ) from error
    return restored
