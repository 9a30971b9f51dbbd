"""The voltage range that an input takes, with the trade's tolerance where its data sheet states none."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from ..outcome import Practice
from ..quantity import Band
from ..rulebook import Parameter
from ..spec.fields import known
from ..spec.model import Coil, Input
from .demand import nominal

_COILS = Practice("85 to 110 percent of the nominal voltage for coils; common practice, no source")
_ELECTRONICS = Practice("90 to 110 percent of the nominal voltage for electronics; common practice, no source")
COIL_LOWEST = Parameter(
    "coil_lowest_voltage",
    "lowest share of its nominal voltage on which a coil counts as working, where its sheet states no tolerance",
    "ratio",
    Fraction(85, 100),
    "higher",
    _COILS,
)
COIL_HIGHEST = Parameter(
    "coil_highest_voltage",
    "highest share of its nominal voltage that a coil stands, where its sheet states no tolerance",
    "ratio",
    Fraction(110, 100),
    "lower",
    _COILS,
)
ELECTRONICS_LOWEST = Parameter(
    "electronics_lowest_voltage",
    "lowest share of its nominal voltage on which electronics count as working, where their sheet states no tolerance",
    "ratio",
    Fraction(90, 100),
    "higher",
    _ELECTRONICS,
)
ELECTRONICS_HIGHEST = Parameter(
    "electronics_highest_voltage",
    "highest share of its nominal voltage that electronics stand, where their sheet states no tolerance",
    "ratio",
    Fraction(110, 100),
    "lower",
    _ELECTRONICS,
)
TOLERANCES = (COIL_LOWEST, COIL_HIGHEST, ELECTRONICS_LOWEST, ELECTRONICS_HIGHEST)


def voltage_taken(load: Coil | Input, practice: Mapping[str, Fraction | str]) -> tuple[Band, str]:
    """The range that a load takes, and in words the tolerance assumed (empty where the sheet states a range).

    `practice`: what house standards set (`Spec.practice`). Raises Undecided where the voltage is not known.
    """
    stated = known(load, "voltage", Band)
    if stated.stated_band:
        return stated, ""
    ends = (COIL_LOWEST, COIL_HIGHEST) if isinstance(load, Coil) else (ELECTRONICS_LOWEST, ELECTRONICS_HIGHEST)
    low, high = (end.value(practice) for end in ends)
    middle = nominal(stated)
    assumed = f"x {float(low):.2f} to {float(high):.2f}, as its sheet states no tolerance"
    return Band(middle * low, middle * high, middle, "voltage", stated.text), assumed
