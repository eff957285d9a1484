"""Files handed over together: all take their places, or everything is as it was before.

A journal says what is being handed over. A run killed in the middle leaves it, and the next
one finishes the work; what was changed meanwhile is kept beside it under a dated name.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

NEW, OLD, JOURNAL = "new", "old", "journal.json"
"""In the hidden folder: what was made, what it replaces, and what is to be done with it."""


@dataclass(frozen=True)
class Handing:
    """``names`` go from ``new`` in the hidden folder to ``folder``.

    ``kept``: what is there already and stays under another name, by name. ``removed``: names
    of an earlier run that go. ``before``: the digest of each file that is replaced.
    """

    folder: str
    names: Sequence[str]
    kept: Mapping[str, str]
    removed: Sequence[str]
    before: Mapping[str, str]


def hand_over(hidden: Path, new: Path, handing: Handing) -> None:
    """Do it; raises ``OSError`` where it cannot be done, and then everything is as before."""
    (hidden / OLD).mkdir()
    record = asdict(handing) | {"new": str(new.relative_to(hidden))}
    (hidden / "journal").write_text(json.dumps(record), encoding="utf-8")
    (hidden / "journal").replace(hidden / JOURNAL)
    undo: list[Callable[[], object]] = []
    try:
        _swap(hidden, new, handing, undo)
    except BaseException:
        for step in reversed(undo):
            step()
        raise
    finally:
        # Nothing is left to finish, whether it was done or undone.
        (hidden / JOURNAL).unlink(missing_ok=True)


def _swap(hidden: Path, new: Path, handing: Handing, undo: list[Callable[[], object]]) -> None:
    folder = Path(handing.folder)
    for name in handing.names:
        target = folder / name
        if os.path.lexists(target):
            aside = folder / handing.kept[name] if name in handing.kept else hidden / OLD / name
            _also_at(target, aside)
            undo.append(partial(aside.replace, target))
        else:
            undo.append(partial(target.unlink, missing_ok=True))
        (new / name).replace(target)
    for name in handing.removed:
        target, aside = folder / name, hidden / OLD / name
        target.replace(aside)
        undo.append(partial(aside.replace, target))


def _also_at(file: Path, place: Path) -> None:
    """The file at a second place, so that its own is never empty while it is replaced."""
    if file.is_dir() and not file.is_symlink():
        raise IsADirectoryError(21, "is a folder", str(file))
    try:
        os.link(file, place, follow_symlinks=False)
    except (OSError, NotImplementedError):
        shutil.copy2(file, place, follow_symlinks=False)


def finish(hidden: Path) -> None:
    """Finish the handing over that a run was killed in, if it was."""
    with suppress(OSError, ValueError, KeyError, TypeError):
        record = json.loads((hidden / JOURNAL).read_text(encoding="utf-8"))
        new = hidden / record.pop("new")
        handing = Handing(**record)
        for name in handing.names:
            if (new / name).exists():
                _finish_one(new / name, handing, name)
        for name in handing.removed:
            if digest(Path(handing.folder) / name) == handing.before.get(name):
                (Path(handing.folder) / name).unlink()


def _finish_one(file: Path, handing: Handing, name: str) -> None:
    target = Path(handing.folder) / name
    changed = os.path.lexists(target) and digest(target) != handing.before.get(name)
    aside = dated(target) if changed else None
    if name in handing.kept and not aside:
        aside = Path(handing.folder) / handing.kept[name]
    if aside and not os.path.lexists(aside):
        _also_at(target, aside)
    file.replace(target)


def digest(file: Path) -> str:
    """A hash of what is in the file; empty where there is none, or it cannot be read."""
    try:
        with file.open("rb") as opened:
            return hashlib.file_digest(opened, "blake2b").hexdigest()[:32]
    except OSError:
        return ""


def dated(file: Path) -> Path:
    """A free name beside the file with its last change in it: "marks 2026-03-05 18.20"."""
    try:
        changed = file.lstat().st_mtime
    except OSError:
        changed = time.time()
    stem = f"{file.stem} {time.strftime('%Y-%m-%d %H.%M', time.localtime(changed))}"
    place, count = file.with_name(stem + file.suffix), 1
    while os.path.lexists(place):
        count += 1
        place = file.with_name(f"{stem} ({count}){file.suffix}")
    return place
