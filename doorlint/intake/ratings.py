"""Fire ratings as labels write them: minutes, hours, classes of a national standard, or none at all."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

FRACTIONS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8",
             "⅞": " 7/8"}  # fmt: skip
"""Fractions that are one character, as they are written with several."""
_PLAIN = str.maketrans({**FRACTIONS, "₁": "1", "₂": "2"})
_NONE = frozenset(
    {"none", "no", "nr", "n/r", "n.r.", "not rated", "non-rated", "unrated", "-", "--", "n/a", "na", "0", "false"}
)
_BARE_MINUTES = 15  # a rating below it is hours in some labels and minutes in none
_SEPARATORS = re.compile(r"[\s_]+")
_TIME = re.compile(
    r"(?P<number>\d+[\s-]+\d/\d|\d/\d|\d+(?:[.,]\d+)?)\s*-?\s*(?P<unit>minutes?|mins?\.?|m|hours?|hrs?\.?|h)?",
    re.IGNORECASE,
)
# E: integrity, I: insulation, W: radiation, S: smoke leakage (EN 13501-2, from memory); REI and the like of elements
_CLASS = re.compile(r"(?P<letters>[A-Z]{1,4})(?P<digits>[12]?[\s-]+\d{2,3}|\d{2,4})(?P<more>\D.*|)", re.IGNORECASE)
_PERIODS = frozenset({"15", "20", "30", "45", "60", "90", "120", "180", "240", "360"})  # EN 13501-2, from memory


@dataclass(frozen=True, slots=True)
class Rating:
    """What a label tells. `minutes`: 0 for not rated, None where it is not understood. `more`: a class or other
    letters beside the time. `written`: as a spec says it, None where the label is not understood."""

    minutes: Fraction | None
    more: str
    written: str | None


def read_rating(text: str) -> Rating:
    """Read a label such as `90`, `90 min`, `1 1/2 h`, `3/4 HR`, `EI2 30-C5` or `-`. Never raises."""
    clean = _SEPARATORS.sub(" ", text.translate(_PLAIN)).strip()
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
        kind, period = _period(classed["letters"].upper(), classed["digits"])
        if period:
            return Rating(Fraction(period), f"{kind}{classed['more'].strip()}", clean)
    return Rating(None, "", None)


def _period(letters: str, digits: str) -> tuple[str, str]:
    """The class and the minutes of `EI2 30`, `EI230` or `REI120`; no minutes where it cannot be told which: EI120 may
    be EI 120 and EI1 20. A digit that belongs to the class (how insulation is measured at a door) goes with EI alone.
    """
    apart = digits.replace("-", " ").split()
    if len(apart) == 2:
        return f"{letters}{apart[0]}", apart[1]
    together = apart[0]
    if digits[0] in " -":
        return letters, together
    readings = [(letters, together)] if together in _PERIODS else []
    if letters == "EI" and together[0] in "12" and together[1:] in _PERIODS:
        readings.append((f"EI{together[0]}", together[1:]))
    return readings[0] if len(readings) == 1 else (letters, "")


def _number(text: str) -> Fraction | None:
    try:
        return sum((Fraction(part) for part in text.replace(",", ".").replace("-", " ").split()), Fraction(0))
    except ZeroDivisionError:
        return None


def _decimal(number: Fraction) -> str:
    return str(number.numerator) if number.denominator == 1 else f"{float(number):g}"
