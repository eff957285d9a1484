"""What was written where, so that a file changed by hand is known as such.

For each folder one small file in the cache holds the digests of what was written into it, and
by which command; where there is no cache (a user without a home), a hidden file in the folder
itself does. Where it is missing, every file counts as changed by hand, and is kept.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from phrasing.errors import PhrasingError
from phrasing.files.handing import digest
from phrasing.files.whole import write_whole

BESIDE = ".written-by-phrasing.json"
"""The record's name where it has to stand in the folder itself."""
MOST = 500
"""Folders remembered at most, the latest."""


def cache_folder() -> Path:
    """Where the system keeps what programs can work out again.

    Raises ``RuntimeError`` for a user without a home.
    """
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData/Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library/Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "phrasing"


def written(folder: Path) -> dict[str, tuple[str, str]]:
    """Command and digest of each file that was written to the folder, by name."""
    return next(filter(None, map(_read, _places(folder))), {})


def _read(place: Path) -> dict[str, tuple[str, str]]:
    try:
        table = json.loads(place.read_text(encoding="utf-8"))
        return {str(name): (str(run), str(sum)) for name, (run, sum) in table.items()}
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        return {}


def remember(folder: Path, run: str, digests: Mapping[str, str]) -> None:
    """Remember what ``run`` wrote; where nothing can be remembered, nothing is."""
    table = {n: known for n, known in written(folder).items() if (folder / n).exists()}
    table |= {name: (run, sum) for name, sum in digests.items()}
    for place in _places(folder):
        with suppress(OSError, PhrasingError):
            place.parent.mkdir(parents=True, exist_ok=True)
            write_whole(place, json.dumps(table))
            if place.name != BESIDE:
                _forget(place.parent)
            return


def unchanged(folder: Path, name: str, known: Mapping[str, tuple[str, str]]) -> bool:
    """Whether the file in the folder is as a run wrote it."""
    return name in known and digest(folder / name) == known[name][1]


def _places(folder: Path) -> list[Path]:
    """Where the record of a folder may be, the better place first."""
    key = hashlib.blake2b(os.fsencode(os.path.realpath(folder)), digest_size=12).hexdigest()
    try:
        return [cache_folder() / "written" / f"{key}.json", folder / BESIDE]
    except RuntimeError:
        return [folder / BESIDE]


def _forget(records: Path) -> None:
    files = sorted(records.glob("*.json"), key=lambda file: file.stat().st_mtime)
    for file in files[:-MOST]:
        file.unlink(missing_ok=True)
