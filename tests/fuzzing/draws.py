"""Choices made by bytes, so that a fuzzer that knows what code it reached can steer them, or
by chance, which is quicker."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import TypeVar

One = TypeVar("One")


class Draws:
    """Takes its choices from ``data``, and when that is used up from a seed made of it."""

    def __init__(self, data: bytes) -> None:
        self._data, self._at = data, 0
        self._rest = random.Random(data)

    def number(self, low: int, high: int) -> int:
        """A whole number from ``low`` to ``high``."""
        span = high - low + 1
        size = max(1, (span.bit_length() + 7) // 8)
        taken = self._data[self._at : self._at + size]
        self._at += size
        if len(taken) < size:
            return self._rest.randint(low, high)
        return low + int.from_bytes(taken, "little") % span

    def one(self, choices: Sequence[One]) -> One:
        """One of the choices."""
        return choices[self.number(0, len(choices) - 1)]

    def chance(self, of: int) -> bool:
        """True once in ``of`` times."""
        return self.number(1, of) == 1

    def some(self, most: int) -> range:
        """As many turns as a number up to ``most``, small ones oftener."""
        return range(self.number(0, self.number(0, most)))

    def bytes(self, most: int) -> bytes:
        """Some bytes."""
        return bytes(self.number(0, 255) for _ in self.some(most))


class Dice(Draws):
    """Takes its choices by chance alone."""

    def __init__(self, chance: random.Random) -> None:
        self._random, self._bytes = chance.random, chance.randbytes

    def number(self, low: int, high: int) -> int:
        """A whole number from ``low`` to ``high``."""
        return low + int(self._random() * (high - low + 1))

    def one(self, choices: Sequence[One]) -> One:
        """One of the choices."""
        return choices[int(self._random() * len(choices))]

    def bytes(self, most: int) -> bytes:
        """Some bytes."""
        return self._bytes(len(self.some(most)))
