"""The voltage range that an input takes, with the trade's tolerance where its data sheet states none."""

from __future__ import annotations

from fractions import Fraction

from ..quantity import Band
from ..spec.fields import known
from ..spec.model import Coil, Input
from .demand import nominal

COIL_TOLERANCE = (Fraction(85, 100), Fraction(110, 100))
"""Share of the nominal voltage that a coil is taken to work between. Common practice, no source."""

ELECTRONICS_TOLERANCE = (Fraction(90, 100), Fraction(110, 100))
"""The same for electronics. Common practice, no source."""


def voltage_taken(load: Coil | Input) -> tuple[Band, str]:
    """The range that a load takes, and in words the tolerance assumed (empty where the sheet states a range).

    Raises Undecided where the voltage is not known.
    """
    stated = known(load, "voltage", Band)
    if stated.stated_band:
        return stated, ""
    low, high = COIL_TOLERANCE if isinstance(load, Coil) else ELECTRONICS_TOLERANCE
    middle = nominal(stated)
    assumed = f"x {float(low):.2f} to {float(high):.2f}, as its sheet states no tolerance"
    return Band(middle * low, middle * high, middle, "voltage", stated.text), assumed
