"""Moments about the hinges and forces at the leaf. Pure and exact: SI units, fractions in and out.

Nothing here replaces a measurement at the finished door: friction of hinges and seals, and how a closer is set, decide.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Final

HANDLE_INSET_M: Final = Fraction(762, 10000)
"""Distance of the hand from the latch edge, m: 3 in, as in the door opening force of NFPA 92 (from memory)."""


@dataclass(frozen=True, slots=True)
class CloserSize:
    """One size of closer. width_m, mass_kg: the largest leaf. closing_nm: least and greatest closing moment between
    0 and 4 degrees. opening_nm: greatest opening moment between 0 and 60 degrees. efficiency: least, in 0 to 4 degrees.
    """

    width_m: Fraction
    mass_kg: int
    closing_nm: tuple[int, int]
    opening_nm: int
    efficiency: Fraction


CLOSER_SIZES: Final[Mapping[int, CloserSize]] = MappingProxyType(
    {
        1: CloserSize(Fraction(750, 1000), 20, (9, 13), 26, Fraction(50, 100)),
        2: CloserSize(Fraction(850, 1000), 40, (13, 18), 36, Fraction(50, 100)),
        3: CloserSize(Fraction(950, 1000), 60, (18, 26), 47, Fraction(55, 100)),
        4: CloserSize(Fraction(1100, 1000), 80, (26, 37), 62, Fraction(60, 100)),
        5: CloserSize(Fraction(1250, 1000), 100, (37, 54), 83, Fraction(65, 100)),
        6: CloserSize(Fraction(1400, 1000), 120, (54, 87), 134, Fraction(65, 100)),
        7: CloserSize(Fraction(1600, 1000), 160, (87, 140), 215, Fraction(65, 100)),
    }
)
"""Closer sizes by EN 1154:1996+A1:2002, table 1; the moments are from memory. Frozen."""


def pressure_moment_nm(pressure_pa: Fraction, width_m: Fraction, height_m: Fraction) -> Fraction:
    """Moment about the hinges, N m, of a pressure difference that is the same all over the leaf."""
    return pressure_pa * width_m * width_m * height_m / 2


def force_at_hand_n(moment_nm: Fraction, width_m: Fraction, inset_m: Fraction = HANDLE_INSET_M) -> Fraction:
    """Force, N, that a hand needs to overcome a moment about the hinges. ValueError for a leaf narrower than `inset_m`.

    With the moments of closer and pressure this is the door opening force of NFPA 92 (from memory).
    """
    if width_m <= inset_m:
        raise ValueError("the hand is not on the leaf: the width has to be larger than the inset")
    return moment_nm / (width_m - inset_m)


def edge_force_n(holding_n: Fraction, arm_m: Fraction, width_m: Fraction) -> Fraction:
    """Force at the latch edge, N, that overcomes a device of `holding_n` at `arm_m` from the hinges."""
    return holding_n * arm_m / width_m


def closer_size_for(width_m: Fraction, mass_kg: Fraction | None = None) -> int | None:
    """The smallest size for a leaf of this width and mass, the larger where they disagree; None beyond size 7."""
    for size, row in CLOSER_SIZES.items():
        if width_m <= row.width_m and (mass_kg is None or mass_kg <= row.mass_kg):
            return size
    return None
