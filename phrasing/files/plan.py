"""What a run is going to write, examined before it begins, and written all together."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from phrasing.errors import PhrasingError
from phrasing.files.handing import NEW, Handing, dated, digest, hand_over
from phrasing.files.locks import looking_into
from phrasing.files.record import remember, unchanged, written
from phrasing.files.staging import staged, unbroken
from phrasing.files.whole import cannot_write


class Input(NamedTuple):
    """A file that a run reads: ``what`` it is to the teacher, as "the marks table"."""

    what: str
    path: Path


@dataclass(frozen=True)
class Outcome:
    """What became of a plan: ``files`` written, those ``replaced`` among them.

    ``kept``: replaced files that had been changed by hand, by the dated name that they have
    now. ``removed``: files of an earlier run of the same command that it did not write again.
    """

    files: tuple[str, ...] = ()
    replaced: tuple[str, ...] = ()
    kept: tuple[tuple[str, str], ...] = ()
    removed: tuple[str, ...] = ()


class Writing(NamedTuple):
    """A plan being carried out: files go to ``part``, and what is only needed meanwhile to
    ``scratch``."""

    part: Path
    scratch: Path


@dataclass
class Plan:
    """Where a run writes, and what it reads and must never write over.

    ``run``: the command, whose earlier files it may remove. ``only``: the name of the one file
    that it makes (and its further pages), where it does not fill the folder. ``outcome``: what
    became of it, once it was carried out.
    """

    folder: Path
    inputs: tuple[Input, ...] = ()
    overwrite: bool = False
    run: str = ""
    only: str | None = None
    outcome: Outcome = field(default_factory=Outcome, init=False)

    @classmethod
    def of_file(
        cls,
        path: Path,
        inputs: tuple[Input, ...] = (),
        *,
        overwrite: bool = False,
        run: str = "",
    ) -> Plan:
        """The plan of a run that makes one file."""
        return cls(path.parent, inputs, overwrite, run and f"{run} {path.name}", path.name)

    @property
    def asked(self) -> Path:
        """The file or folder that the teacher asked for."""
        return self.folder / self.only if self.only else self.folder

    def check(self, names: Sequence[str] = ()) -> None:
        """Raise ``PhrasingError`` where these files cannot or must not be written."""
        blocked = next((p for p in (self.folder, *self.folder.parents) if p.exists()), None)
        if blocked and not blocked.is_dir():
            raise PhrasingError(f"{blocked}: is a file, not a folder; choose a folder with -o.")
        for name in names:
            self._check_input(self.folder / name)
        for name in names:
            self._check_there(self.folder / name)

    def reads(self, name: str, what: str) -> bool:
        """Whether the file of this name in the folder is ``what`` the run reads."""
        own = [path for kind, path in self.inputs if kind == what]
        return any(_same(self.folder / name, path) for path in own)

    def _check_input(self, target: Path) -> None:
        for what, path in self.inputs:
            if _same(target, path):
                raise PhrasingError(
                    f"{target}: is {what} that this run reads, and would be written over; "
                    f"rename it, or {_elsewhere(self)}."
                )

    def _check_there(self, target: Path) -> None:
        if target.is_dir():
            raise PhrasingError(
                f"{target}: is a folder, and a file of that name is to be written; rename it, "
                f"or {_elsewhere(self)}."
            )
        if os.path.lexists(target) and not self.overwrite:
            raise PhrasingError(
                f"{target} is there already; replace what is there with --overwrite, or "
                f"{_elsewhere(self)}."
            )

    @contextmanager
    def writing(self, names: Sequence[str] = ()) -> Iterator[Writing]:
        """Where the files are to be made; all take their places if the block succeeds.

        Whatever goes wrong in the block, everything is as before and nothing is left over.
        Raises ``PhrasingError`` as ``check`` does, before the block for ``names`` and after
        it for all that was made, and where the disk does not take it.
        """
        self.check(names)
        base = next(
            path for path in (self.folder, *self.folder.absolute().parents) if path.is_dir()
        )
        part = base
        try:
            with staged(base, self.asked) as hidden:
                part, scratch = self._rooms(base, hidden)
                yield Writing(part, scratch)
                with looking_into(base), unbroken():
                    self.outcome = self._hand_over(hidden, part)
        except PhrasingError as error:
            # The hidden folder is nobody's business: the message names the one asked for.
            raise type(error)(str(error).replace(str(part), str(self.folder))) from error
        except OSError as error:
            raise cannot_write(self._place_of(error, part), error) from error

    def _rooms(self, base: Path, hidden: Path) -> tuple[Path, Path]:
        inner = self.folder.absolute().relative_to(base.absolute())
        part, scratch = hidden / NEW / inner, hidden / "scratch"
        part.mkdir(parents=True)
        scratch.mkdir()
        return part, scratch

    def _place_of(self, error: OSError, part: Path) -> Path:
        """The file that an error is about, under its final name where it is one."""
        name = error.filename2 or error.filename
        if name and error.errno not in (errno.ENOSPC, errno.EDQUOT):
            path = Path(os.fsdecode(name))
            if path.is_relative_to(part) and path != part:
                return self.folder / path.relative_to(part)
            if path.is_relative_to(self.folder):
                return path
        return self.asked

    def _hand_over(self, hidden: Path, part: Path) -> Outcome:
        names = sorted(file.name for file in part.iterdir())
        self.check(names)
        known = written(self.folder)
        digests = {name: digest(part / name) for name in names}
        there = [name for name in names if os.path.lexists(self.folder / name)]
        edited = [n for n in there if not unchanged(self.folder, n, known)]
        edited = [n for n in edited if digest(self.folder / n) != digests[n]]
        kept = {name: dated(self.folder / name).name for name in edited}
        removed = self._left_over(names, known)
        if self.folder.is_dir():
            before = {name: digest(self.folder / name) for name in (*there, *removed)}
            handing = Handing(str(self.folder.absolute()), names, kept, removed, before)
            hand_over(hidden, part, handing)
        else:
            _move_folder(hidden / NEW, part, self.folder)
        if self.run:
            remember(self.folder, self.run, digests)
        return Outcome(tuple(names), tuple(there), tuple(kept.items()), tuple(removed))

    def _left_over(self, names: Sequence[str], known: dict[str, tuple[str, str]]) -> list[str]:
        """What an earlier run of the same command wrote and this one does not, unchanged."""
        if not (self.overwrite and self.run):
            return []
        own = sorted(name for name, (run, _) in known.items() if run == self.run)
        read = [path for _, path in self.inputs]
        return [
            name
            for name in own
            if name not in names
            and unchanged(self.folder, name, known)
            and not any(_same(self.folder / name, path) for path in read)
        ]


def _elsewhere(plan: Plan) -> str:
    return "choose another name with -o" if plan.only else "choose another folder with -o"


def _same(target: Path, path: Path) -> bool:
    """Whether both are one file, links followed."""
    try:
        return target.samefile(path)
    except OSError:
        return os.path.realpath(target) == os.path.realpath(path)


def _move_folder(new: Path, part: Path, folder: Path) -> None:
    """Move a new folder to its place in one step, with those above it that are missing."""
    missing, made = folder.absolute(), part
    while not missing.parent.is_dir():
        missing, made = missing.parent, made.parent
    if not made.is_relative_to(new):
        raise FileNotFoundError(errno.ENOENT, "no such folder", str(folder))
    os.rename(made, missing)


@contextmanager
def whole_folder(path: Path, *, overwrite: bool = False) -> Iterator[Path]:
    """A temporary folder for ``path``; its files move into ``path`` if the block succeeds.

    For those who need no more of a ``Plan`` than this; raises ``PhrasingError`` as it does.
    """
    with Plan(path, overwrite=overwrite).writing() as made:
        yield made.part
