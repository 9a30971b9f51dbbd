"""Contacts and outputs that switch a lock: utilisation categories, ratings, practice derating, and leakage.

Categories are those of IEC 60947-5-1 (control circuit devices), in our words. Rating codes are those of its
annex, the same as in NEMA ICS 5. Wrong numbers raise ValueError; no function returns NaN.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from .numbers import computed, not_negative, positive

DC13_S_PER_W: Final = 0.006
"""IEC 60947-5-1: time to 95 % of the steady current in the DC-13 test, per watt of Ue x Ie."""

DC13_CAP_S: Final = 0.3
"""IEC 60947-5-1: the DC-13 test time is not raised beyond this (reached at 50 W)."""

PRACTICE_UNSUPPRESSED: Final = 0.5
"""Common practice, no source: share of a resistive rating used for an unsuppressed DC coil."""

PRACTICE_SUPPRESSED: Final = 0.8
"""Common practice, no source: share of a resistive rating used for a suppressed DC coil."""

PRACTICE_DROP_OUT_FRACTION: Final = 0.1
"""Common practice, no source: a relay coil may stay pulled in down to a tenth of its rated current."""

PRACTICE_LEAKAGE_MARGIN: Final = 0.5
"""Common practice, no source: leakage should stay below half the drop-out current."""


@dataclass(frozen=True, slots=True)
class UtilisationCategory:
    """What a contact's rated operational current was proven with.

    load: in our words. make_multiple, break_multiple: current in the normal-duty test over Ie.
    cos_phi: power factor of the AC test, None for DC. inductive: the test load is an electromagnet.
    multiple_from_memory: the make multiple was not confirmed in a source.
    """

    name: str
    kind: Literal["ac", "dc"]
    load: str
    make_multiple: float
    break_multiple: float
    cos_phi: float | None
    inductive: bool
    multiple_from_memory: bool = False


CATEGORIES: Final[Mapping[str, UtilisationCategory]] = MappingProxyType(
    {
        category.name: category
        for category in (
            UtilisationCategory("AC-12", "ac", "resistive loads; electronics behind an optocoupler", 1, 1, 0.9, False),
            UtilisationCategory("AC-13", "ac", "electronics behind a transformer", 2, 1, 0.65, False, True),
            UtilisationCategory("AC-14", "ac", "electromagnets up to 72 VA", 6, 1, 0.3, True),
            UtilisationCategory("AC-15", "ac", "electromagnets above 72 VA", 10, 1, 0.3, True, True),
            UtilisationCategory("DC-12", "dc", "resistive loads; electronics behind an optocoupler", 1, 1, None, False),
            UtilisationCategory("DC-13", "dc", "electromagnets", 1, 1, None, True),
            UtilisationCategory("DC-14", "dc", "electromagnets with an economy resistor", 10, 1, None, True, True),
        )
    }
)
"""Utilisation categories by name (IEC 60947-5-1, Tables 1 and 4), frozen."""


def category(name: str) -> UtilisationCategory:
    """The category called `name`, such as "DC-13"; case and blanks do not matter. ValueError when there is
    none.
    """
    found = CATEGORIES.get(name.strip().upper().replace(" ", ""))
    if found is None:
        raise ValueError(f"no utilisation category {name!r}; known are {', '.join(CATEGORIES)}")
    return found


def dc13_rise_time_s(voltage_v: float, current_a: float) -> float:
    """T0.95 of the DC-13 test load: 6 ms per watt of Ue x Ie, capped at 300 ms."""
    return min(DC13_S_PER_W * positive("voltage_v", voltage_v) * positive("current_a", current_a), DC13_CAP_S)


def time_constant_of_rise_s(rise_95_s: float) -> float:
    """L/R of a load that reaches 95 % of its steady current in `rise_95_s`: T0.95 / ln 20."""
    return positive("rise_95_s", rise_95_s) / math.log(20)


def category_time_constant_s(name: str, voltage_v: float, current_a: float) -> float | None:
    """L/R of the test load of a DC category at the given rating; None for AC categories.

    DC-12 is tested at T0.95 = 1 ms, DC-14 at 15 ms, DC-13 by power (IEC 60947-5-1 Table 4).
    """
    found = category(name)
    if found.kind == "ac":
        return None
    if found.name == "DC-13":
        return time_constant_of_rise_s(dc13_rise_time_s(voltage_v, current_a))
    return time_constant_of_rise_s(0.001 if found.name == "DC-12" else 0.015)


@dataclass(frozen=True, slots=True)
class RatingCode:
    """A contact rating code, such as P300.

    thermal_a: continuous current. highest_v: design voltage. make_va, break_va: apparent power (DC: power)
    that may be made and broken; the current is this over the voltage and never above the code's `make_a`,
    `break_a`.
    """

    code: str
    kind: Literal["ac", "dc"]
    thermal_a: float
    highest_v: float
    make_va: float
    break_va: float
    make_a: float
    break_a: float

    def break_limit_a(self, voltage_v: float) -> float | None:
        """Current that the contact may break at `voltage_v`; None above its design voltage."""
        if positive("voltage_v", voltage_v) > self.highest_v:
            return None
        return min(self.break_a, self.break_va / voltage_v)

    def make_limit_a(self, voltage_v: float) -> float | None:
        """Current that the contact may make at `voltage_v`; None above its design voltage."""
        if positive("voltage_v", voltage_v) > self.highest_v:
            return None
        return min(self.make_a, self.make_va / voltage_v)


def _rating_codes() -> Mapping[str, RatingCode]:
    codes: dict[str, RatingCode] = {}
    # letter: thermal A, make VA, break VA, make A, break A (at 120 V and below), design voltages
    ac = {
        "A": (10.0, 7200.0, 720.0, 60.0, 6.0, (150, 300, 600)),
        "B": (5.0, 3600.0, 360.0, 30.0, 3.0, (150, 300, 600)),
        "C": (2.5, 1800.0, 180.0, 15.0, 1.5, (150, 300, 600)),
        "D": (1.0, 432.0, 72.0, 3.6, 0.6, (150, 300)),
        "E": (0.5, 216.0, 36.0, 1.8, 0.3, (150,)),
    }
    for letter, (thermal, make_va, break_va, make_a, break_a, voltages) in ac.items():
        for top in voltages:
            codes[f"{letter}{top}"] = RatingCode(
                f"{letter}{top}", "ac", thermal, float(top), make_va, break_va, make_a, break_a
            )
    # On DC the power holds for 300 V or less, and the current is never above the thermal one. The 600 V codes
    # have a smaller current of their own above 300 V, far from any lock, and are left out.
    dc = {
        "N": (10.0, 275.0, (150, 300)),
        "P": (5.0, 138.0, (150, 300)),
        "Q": (2.5, 69.0, (150, 300)),
        "R": (1.0, 28.0, (150, 300)),
    }
    for letter, (thermal, va, voltages) in dc.items():
        for top in voltages:
            codes[f"{letter}{top}"] = RatingCode(f"{letter}{top}", "dc", thermal, float(top), va, va, thermal, thermal)
    return MappingProxyType(codes)


RATING_CODES: Final[Mapping[str, RatingCode]] = _rating_codes()
"""Contact rating codes A150..E150 (AC) and N150..R300 (DC): IEC 60947-5-1 annex A, NEMA ICS 5. Frozen."""


def inductive_limit_a(resistive_a: float, *, suppressed: bool) -> float:
    """Practice limit for a DC coil on a resistive rating: 0.5 of it, or 0.8 when suppressed.

    Common practice, no source. An inductive or DC-13 rating on the data sheet goes before it.
    """
    return positive("resistive_a", resistive_a) * (PRACTICE_SUPPRESSED if suppressed else PRACTICE_UNSUPPRESSED)


def drop_out_current_a(coil_a: float, fraction: float = PRACTICE_DROP_OUT_FRACTION) -> float:
    """Current at which a coil surely lets go, where its data sheet is silent. Common practice, no source."""
    if not 0 < fraction < 1:
        raise ValueError(f"fraction must lie between 0 and 1, got {fraction}")
    return positive("coil_a", coil_a) * fraction


def leakage_limit_a(drop_out_a: float, margin: float = PRACTICE_LEAKAGE_MARGIN) -> float:
    """Greatest leakage allowed through an output that is off, for a coil that drops out at `drop_out_a`."""
    if not 0 < margin <= 1:
        raise ValueError(f"margin must lie between 0 and 1, got {margin}")
    return positive("drop_out_a", drop_out_a) * margin


@computed
def leakage_into_coil_a(leakage_a: float, coil_ohm: float, bleeder_ohm: float | None = None) -> float:
    """Part of an output's leakage that flows through the coil, beside a bleed resistor if there is one.

    The output is taken as a current source: its leakage does not fall because the load is small.
    """
    not_negative("leakage_a", leakage_a)
    positive("coil_ohm", coil_ohm)
    if bleeder_ohm is None:
        return leakage_a
    return leakage_a * positive("bleeder_ohm", bleeder_ohm) / (bleeder_ohm + coil_ohm)


@computed
def bleeder_resistance_ohm(leakage_a: float, coil_ohm: float, limit_a: float) -> float | None:
    """Largest bleed resistor that keeps the coil's leakage at `limit_a`; None when none is needed."""
    not_negative("leakage_a", leakage_a)
    positive("coil_ohm", coil_ohm)
    positive("limit_a", limit_a)
    return None if leakage_a <= limit_a else coil_ohm * limit_a / (leakage_a - limit_a)


@computed
def resistor_power_w(voltage_v: float, resistance_ohm: float) -> float:
    """Power that a bleed resistor takes while the lock is on."""
    return not_negative("voltage_v", voltage_v) ** 2 / positive("resistance_ohm", resistance_ohm)


def snubber(voltage_v: float, current_a: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Practice range of an RC snubber across a contact: (ohms low, high), (farads low, high).

    0.5 to 1 ohm per volt of the contact, 0.5 to 1 microfarad per ampere of contact current (relay application
    literature).
    """
    positive("voltage_v", voltage_v)
    positive("current_a", current_a)
    return (0.5 * voltage_v, 1.0 * voltage_v), (0.5e-6 * current_a, 1e-6 * current_a)
