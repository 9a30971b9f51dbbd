"""Fire ratings as labels write them: minutes, hours, classes of a national standard, or none at all."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

_NONE = frozenset(
    {"none", "no", "nr", "n/r", "n.r.", "not rated", "non-rated", "unrated", "-", "--", "n/a", "na", "0", "false"}
)
_BARE_MINUTES = 15  # a rating below it is hours in some labels and minutes in none
_SEPARATORS = re.compile(r"[\s_]+")
_TIME = re.compile(
    r"(?P<number>\d+\s+\d/\d|\d/\d|\d+(?:[.,]\d+)?)\s*-?\s*(?P<unit>minutes?|mins?\.?|m|hours?|hrs?\.?|h)?",
    re.IGNORECASE,
)
# E: integrity, I: insulation, W: radiation, S: smoke leakage (EN 13501-2, from memory); REI and the like of elements
_CLASS = re.compile(r"(?P<class>[A-Z]{1,4}\d?)[\s-]*(?P<minutes>\d{2,3})(?P<more>.*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Rating:
    """What a label tells. `minutes`: 0 for not rated, None where it is not understood. `more`: a class or other
    letters beside the time. `written`: as a spec says it, None where the label is not understood."""

    minutes: Fraction | None
    more: str
    written: str | None


def read_rating(text: str) -> Rating:
    """Read a label such as `90`, `90 min`, `1 1/2 h`, `3/4 HR`, `EI2 30-C5` or `-`. Never raises."""
    clean = _SEPARATORS.sub(" ", text).strip()
    if clean.casefold() in _NONE:
        return Rating(Fraction(0), "", "none")
    timed = _TIME.fullmatch(clean)
    if timed is not None:
        number, unit = _number(timed["number"]), (timed["unit"] or "").casefold()
        if number is None or (not unit and (number < _BARE_MINUTES or number.denominator != 1)):
            return Rating(None, "", None)
        minutes = number * 60 if unit.startswith("h") else number
        return Rating(minutes, "", f"{_decimal(minutes)} min")
    classed = _CLASS.fullmatch(clean)
    if classed is not None:
        return Rating(Fraction(classed["minutes"]), f"{classed['class'].upper()}{classed['more'].strip()}", clean)
    return Rating(None, "", None)


def _number(text: str) -> Fraction | None:
    try:
        return sum((Fraction(part) for part in text.replace(",", ".").split()), Fraction(0))
    except ZeroDivisionError:
        return None


def _decimal(number: Fraction) -> str:
    return str(number.numerator) if number.denominator == 1 else f"{float(number):g}"
