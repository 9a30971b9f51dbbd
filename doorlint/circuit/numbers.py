"""Guards for the arguments of the physics: a wrong number raises ValueError, so that no function returns NaN."""

from __future__ import annotations

import math


def finite(name: str, value: float) -> float:
    """`value`, if it is a finite number."""
    if not math.isfinite(value):
        raise ValueError(f"{name} must be a finite number, got {value}")
    return value


def positive(name: str, value: float) -> float:
    """`value`, if it is a finite number above 0."""
    if finite(name, value) <= 0:
        raise ValueError(f"{name} must be a finite number above 0, got {value}")
    return value


def not_negative(name: str, value: float) -> float:
    """`value`, if it is a finite number of 0 or more."""
    if finite(name, value) < 0:
        raise ValueError(f"{name} must be a finite number of 0 or more, got {value}")
    return value


def share(name: str, value: float) -> float:
    """`value`, if it lies between 0 and 1."""
    if not 0 <= finite(name, value) <= 1:
        raise ValueError(f"{name} must lie between 0 and 1, got {value}")
    return value
