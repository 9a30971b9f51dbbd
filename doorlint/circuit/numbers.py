"""Guards for the arguments of the physics: a wrong number raises ValueError, so that no function returns NaN."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

_P = ParamSpec("_P")
_R = TypeVar("_R")


def computed(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """A function of the physics whose result has left the range of numbers raises ValueError, as for a wrong number:
    each argument was a number, and what comes of them together is none."""

    @wraps(function)
    def guarded(*args: _P.args, **kwargs: _P.kwargs) -> _R:
        try:
            result = function(*args, **kwargs)
        except (OverflowError, ZeroDivisionError) as error:
            raise ValueError(f"{function.__name__}: the numbers are too far apart to compute with") from error
        if isinstance(result, float) and not math.isfinite(result):
            raise ValueError(f"{function.__name__}: the numbers are too far apart to compute with")
        return result

    return guarded


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
