"""Outcomes as bytes, and back. What is read back may come from a file, so nothing is called but what is listed here."""

from __future__ import annotations

import io
import pickle
from collections.abc import Mapping
from fractions import Fraction
from typing import Any, Final

from ..outcome import Change, Cited, Kind, Level, Measure, Outcome, Place, Practice, Related, Repair, Step, Term

_ALLOWED: Final[Mapping[tuple[str, str], object]] = {
    (each.__module__, each.__qualname__): each
    for each in (Change, Cited, Fraction, Kind, Level, Measure, Outcome, Place, Practice, Related, Repair, Step, Term)
}


class Refused(Exception):  # noqa: N818 - it says what became of the bytes
    """Bytes that hold something else than outcomes."""


class Reader(pickle.Unpickler):
    """Reads back data of the classes in `allowed`, by module and name, and nothing else."""

    allowed: Mapping[tuple[str, str], object] = _ALLOWED

    def find_class(self, module: str, name: str) -> Any:
        """The class of that name, if it is among those allowed."""
        found = self.allowed.get((module, name))
        if found is None:
            raise Refused(f"{module}.{name} is no part of an outcome")
        return found


def packed(outcomes: tuple[Outcome, ...]) -> bytes:
    """Outcomes as bytes."""
    return pickle.dumps(outcomes, protocol=5)


def unpacked(data: bytes) -> tuple[Outcome, ...]:
    """Outcomes read back. Raises Refused, or an error of pickle, for bytes that are none."""
    found = Reader(io.BytesIO(data)).load()
    if not isinstance(found, tuple) or not all(isinstance(each, Outcome) for each in found):
        raise Refused("not a tuple of outcomes")
    return found
