"""Tries one kind of input, in a process of its own: a crash is seen, and ends nothing else.

Started by ``tests.fuzzing``: kind, seconds, seed, a folder for the result, and whether atheris
steers it.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import resource
import sys
import time
import traceback
from pathlib import Path
from typing import TYPE_CHECKING

from tests.fuzzing.draws import Dice

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.fuzzing.checks import Kind

MEMORY = 6 << 30
"""Bytes of address space for one kind: what needs more is a fault."""
FINDINGS = Path("fuzz-findings")
OFTEN = 200
"""Inputs after which the result so far is told, should the process end."""
SLOW = 10.0
"""Seconds of processor time after which an input counts as a fault."""


POOL = 64
"""Right inputs that are damaged; each is replaced by another after a while."""
ELEMENT = re.compile(rb"<(\w[\w-]*)[^<>]*>[^<>]*</\1>|<\w[^<>]*/>|<note>.*?</note>")
ODD_TEXT = (b"", b"0", b"-1", b"1e9", b"nan", b"99999999999", b"x", b"1/2", "🎺".encode())


class Tally:
    """How many inputs of a kind were tried, taken and refused, how far they went, and the
    faults found."""

    def __init__(self, kind: Kind, folder: Path, seconds: float) -> None:
        self.kind, self.folder = kind, folder
        self.tried = 0
        self.taken = [0] * 5
        self.faults: dict[str, str] = {}
        self.began = time.monotonic()
        self.until = self.began + seconds

    @property
    def is_over(self) -> bool:
        return time.monotonic() >= self.until

    def __call__(self, content: bytes) -> None:
        from tests.fuzzing import checks

        self.tried += 1
        if self.tried % OFTEN == 0:
            self.tell()
        clock = time.process_time()
        try:
            depth = self.kind.depth_of(content)
            if checks.tried(self.kind, content, self.folder, depth):
                for reached in range(depth + 1):
                    self.taken[reached] += 1
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
        told = {
            "tried": self.tried,
            "taken": self.taken,
            "seconds": time.monotonic() - self.began,
            "work": time.process_time(),
            "faults": list(self.faults.values()),
        }
        (self.folder / "told.json").write_text(json.dumps(told))


def by_chance(tally: Tally, seed: int) -> None:
    """Draw inputs at random: half by the grammar, half of these and of real files damaged."""
    chance = random.Random(seed)
    dice, kind = Dice(chance), tally.kind
    pool = [*kind.seeds, *(kind.grammar(dice) for _ in range(POOL))]
    while not tally.is_over:
        content = kind.grammar(dice)
        pool[len(kind.seeds) + chance.randrange(POOL)] = content
        tally(content)
        tally(damaged(chance.choice(pool), chance))
    tally.tell()


def damaged(content: bytes, chance: random.Random) -> bytes:
    """The content with some of its bytes, or of its elements, changed, left out, or put in
    twice."""
    if content[:1] == b"<" and chance.random() < 0.7:
        return torn(content, chance)
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


def torn(content: bytes, chance: random.Random) -> bytes:
    """A score that is still XML, with elements left out, put in twice, or saying odd things."""
    for _ in range(chance.choice((1, 1, 2, 4))):
        found = list(ELEMENT.finditer(content))
        if not found:
            return content
        one = chance.choice(found)
        how, (start, end) = chance.randrange(4), one.span()
        put = one[0]
        if how == 1:
            put = b""
        elif how == 2:
            put = 2 * put
        elif how == 3:
            put = re.sub(rb">[^<>]*<|\"[^\"]*\"", _odd(chance), put, count=1)
        else:
            start = end = chance.choice(found).start()
        content = content[:start] + put + content[end:]
    return content


def _odd(chance: random.Random) -> Callable[[re.Match[bytes]], bytes]:
    said = chance.choice(ODD_TEXT)
    return lambda match: match[0][:1] + said + match[0][-1:]


def steered(tally: Tally, seed: int) -> None:
    """Let atheris look for inputs that reach new code, until the time is over."""
    import atheris

    from tests.fuzzing import checks

    corpus = tally.folder / "corpus"
    corpus.mkdir(exist_ok=True)
    FINDINGS.mkdir(exist_ok=True)
    for number, content in enumerate(tally.kind.seeds):
        (corpus / f"{number}").write_bytes(b"\0" + content)
        (corpus / f"g{number}").write_bytes(b"\1" + content[:500])

    def one(data: bytes) -> None:
        tally(checks.input_of(tally.kind, data))
        if tally.is_over:
            tally.tell()
            os._exit(0)

    wishes = [
        f"-seed={seed}",
        "-max_len=20000",
        "-verbosity=0",
        f"-artifact_prefix={FINDINGS}/",
    ]
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
