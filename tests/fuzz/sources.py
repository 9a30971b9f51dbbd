"""Where the choices of a generator come from: a seed, the bytes of a coverage-guided fuzzer, or hypothesis.

Every generator of this folder asks for small whole numbers and nothing else, so that one generator serves all three.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Protocol, TypeVar

T = TypeVar("T")


class Source(Protocol):
    """Gives choices."""

    def below(self, bound: int) -> int:
        """A whole number from 0 to `bound` - 1."""
        ...


class Seeded:
    """Choices from a seed; the same seed gives the same choices on every machine."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed).random

    def below(self, bound: int) -> int:
        return int(self._random() * bound)


class Fed:
    """Choices from bytes. When they run out every choice is 0, so that short bytes give small inputs."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._at = 0

    def below(self, bound: int) -> int:
        size = 1 if bound <= 256 else 2 if bound <= 65536 else 8
        taken = self._data[self._at : self._at + size]
        self._at += size
        return int.from_bytes(taken, "little") % bound


def pick(source: Source, choices: Sequence[T]) -> T:
    """One of the choices; the first is the plainest."""
    return choices[source.below(len(choices))]


def chance(source: Source, percent: int) -> bool:
    """True in so many of a hundred cases. Where choices have run out: False."""
    return source.below(100) >= 100 - percent
