"""Tries one kind of input, in a process of its own: a crash is seen, and ends nothing else.

Started by ``tests.fuzzing``: kind, seconds, seed, a folder for the result, and whether atheris
steers it.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import resource
import sys
import time
import traceback
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.fuzzing.checks import Kind

MEMORY = 6 << 30
"""Bytes of address space for one kind: what needs more is a fault."""
FINDINGS = Path("fuzz-findings")
ONCE_IN = 16
"""Once in so many inputs, what was read is also written and read back."""
OFTEN = 100
"""Inputs after which the result so far is told, should the process end."""
SLOW = 10.0
"""Seconds of processor time after which an input counts as a fault."""


class Tally:
    """How many inputs of a kind were tried, taken and refused, and the faults found."""

    def __init__(self, kind: Kind, folder: Path, seconds: float) -> None:
        self.kind, self.folder = kind, folder
        self.tried = self.taken = 0
        self.faults: dict[str, str] = {}
        self.began = time.monotonic()
        self.until = self.began + seconds

    @property
    def is_over(self) -> bool:
        return time.monotonic() >= self.until

    def __call__(self, data: bytes) -> None:
        from tests.fuzzing import checks

        content = checks.input_of(self.kind, data)
        self.tried += 1
        if self.tried % OFTEN == 0:
            self.tell()
        clock = time.process_time()
        try:
            thorough = checks.is_thorough(content, ONCE_IN)
            self.taken += checks.tried(self.kind, content, self.folder, thorough=thorough)
            assert time.process_time() - clock < SLOW, "it takes too long"
        except Exception as error:
            self._keep(content, error)

    def _keep(self, content: bytes, error: Exception) -> None:
        frame = traceback.extract_tb(error.__traceback__)[-1]
        place = f"{type(error).__name__} in {Path(frame.filename).name}, line {frame.lineno}"
        if place in self.faults:
            return
        name = hashlib.blake2b(content, digest_size=6).hexdigest() + self.kind.suffix
        FINDINGS.mkdir(exist_ok=True)
        (FINDINGS / name).write_bytes(content)
        self.faults[place] = f"{place}: {str(error)[:100]} ({name})"

    def tell(self) -> None:
        """Hand the result on to whoever waits for it."""
        seconds = round(time.monotonic() - self.began)
        row = [self.kind.name, self.tried, self.taken, seconds, *self.faults.values()]
        (self.folder / "told.json").write_text(json.dumps(row))


def by_chance(tally: Tally, seed: int) -> None:
    """Draw inputs at random."""
    chance = random.Random(seed)
    while not tally.is_over:
        if chance.random() < 0.5:
            tally(b"\1" + chance.randbytes(chance.randrange(600)))
        else:
            tally(b"\0" + damaged(chance.choice(tally.kind.seeds), chance))
    tally.tell()


def damaged(content: bytes, chance: random.Random) -> bytes:
    """The content with some of its bytes changed, left out, or put in twice."""
    data = bytearray(content)
    for _ in range(chance.choice((1, 1, 2, 3, 8))):
        at = chance.randrange(len(data) + 1)
        size = chance.choice((1, 1, 1, 2, 4, 30))
        how = chance.randrange(4)
        if how == 0:
            data[at : at + size] = chance.randbytes(size)
        elif how == 1:
            del data[at : at + size]
        elif how == 2:
            data[at:at] = data[at : at + size]
        else:
            data[at : at + 1] = bytes([chance.choice(b"\x00\x7f\x80\xff09-.,<>\"'|:")])
    return bytes(data)


def steered(tally: Tally, seed: int) -> None:
    """Let atheris look for inputs that reach new code, until the time is over."""
    import atheris

    corpus = tally.folder / "corpus"
    corpus.mkdir()
    for number, content in enumerate(tally.kind.seeds):
        (corpus / f"{number}").write_bytes(b"\0" + content)
        (corpus / f"g{number}").write_bytes(b"\1" + content[:500])

    def one(data: bytes) -> None:
        tally(data)
        if tally.is_over:
            tally.tell()
            os._exit(0)

    wishes = [f"-seed={seed}", "-max_len=20000", "-verbosity=0"]
    atheris.Setup([sys.argv[0], *wishes, str(corpus)], one)
    atheris.Fuzz()


def main(name: str, seconds: str, seed: str, folder: str, how: str) -> None:
    """Try inputs of the kind in the folder until the time is over."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    os.environ["XDG_CACHE_HOME"] = folder
    if how == "steered":
        import atheris

        with atheris.instrument_imports(include=["phrasing"]):
            from tests.fuzzing import checks
    else:
        from tests.fuzzing import checks
    tally = Tally(checks.kinds()[name], Path(folder), float(seconds))
    (steered if how == "steered" else by_chance)(tally, int(seed))


if __name__ == "__main__":
    main(*sys.argv[1:])
