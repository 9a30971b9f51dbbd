"""Lock coils: resistance cold and hot, stored energy, and how the current dies away after the contact opens.

The coil is a winding of inductance L and resistance R. When the contact opens, the current goes on through
the suppressor. Kirchhoff's voltage law round that loop, L di/dt + R i + Vc = 0 with a constant clamp voltage
Vc, has the closed form used here; any textbook on RL circuits has it for Vc = 0. Every figure is in SI units,
as the names say. Wrong numbers (not finite, zero or negative where that has no meaning) raise ValueError; no
function returns NaN.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from .numbers import computed, finite, not_negative, positive, share

COPPER_ALPHA_20_PER_K: Final = 0.00393
"""Temperature coefficient of annealed copper at 20 degC (IEC 60028); not for a value at another reference."""

DIODE_DROP_V: Final = 0.7
"""Forward voltage taken for one silicon diode at lock currents; textbooks give 0.6 to 1.0 V."""

BRIDGE_DROP_V: Final = 2 * DIODE_DROP_V
"""A bridge rectifier inside a polarity-free lock lets the coil freewheel through two diodes in series."""


@computed
def coil_resistance_ohm(voltage_v: float, current_a: float) -> float:
    """Resistance of a DC coil from its rated voltage and current, at the temperature they were stated for."""
    return positive("voltage_v", voltage_v) / positive("current_a", current_a)


@computed
def resistance_at_ohm(
    resistance_ohm: float,
    temperature_c: float,
    reference_c: float = 20.0,
    alpha_20_per_k: float = COPPER_ALPHA_20_PER_K,
) -> float:
    """Resistance of a winding at `temperature_c`, known at `reference_c`.

    The linear law is anchored at 20 degC, so a reference other than 20 degC is carried back to it first.
    ValueError below the temperature where the law would give no resistance (about -234.5 degC for copper).
    """
    not_negative("resistance_ohm", resistance_ohm)
    not_negative("alpha_20_per_k", alpha_20_per_k)
    now = 1 + alpha_20_per_k * (finite("temperature_c", temperature_c) - 20)
    then = 1 + alpha_20_per_k * (finite("reference_c", reference_c) - 20)
    if now <= 0 or then <= 0:
        raise ValueError("the temperature lies below the range of the linear resistance law")
    return resistance_ohm * now / then


def hot_current_fraction(temperature_rise_k: float, reference_c: float = 20.0) -> float:
    """Current of a warm coil at unchanged voltage, as a fraction of its cold current (0..1).

    A magnet that has been on for an hour pulls with this fraction of its current, hence with its square in
    force.
    """
    not_negative("temperature_rise_k", temperature_rise_k)
    return 1 / resistance_at_ohm(1.0, reference_c + temperature_rise_k, reference_c)


@computed
def temperature_rise_k(cold_ohm: float, hot_ohm: float, reference_c: float = 20.0) -> float:
    """Mean temperature rise of a copper winding from its two resistances (the resistance method)."""
    positive("cold_ohm", cold_ohm)
    positive("hot_ohm", hot_ohm)
    slope = COPPER_ALPHA_20_PER_K / (1 + COPPER_ALPHA_20_PER_K * (finite("reference_c", reference_c) - 20))
    return (hot_ohm / cold_ohm - 1) / slope


@computed
def stored_energy_j(inductance_h: float, current_a: float) -> float:
    """Energy in the coil, L I^2 / 2."""
    return 0.5 * not_negative("inductance_h", inductance_h) * finite("current_a", current_a) ** 2


@computed
def time_constant_s(inductance_h: float, resistance_ohm: float) -> float:
    """L / R."""
    return not_negative("inductance_h", inductance_h) / positive("resistance_ohm", resistance_ohm)


@computed
def rise_current_a(
    time_s: float, inductance_h: float, resistance_ohm: float, voltage_v: float, initial_a: float = 0.0
) -> float:
    """Current `time_s` after a constant voltage is put on the coil; it starts at `initial_a`."""
    tau = positive("inductance_h", inductance_h) / positive("resistance_ohm", resistance_ohm)
    final = finite("voltage_v", voltage_v) / resistance_ohm
    return final + (finite("initial_a", initial_a) - final) * math.exp(-not_negative("time_s", time_s) / tau)


@dataclass(frozen=True, slots=True)
class Decay:
    """Current of a coil after its contact opened at t = 0.

    inductance_h: of the coil as it is at that moment (a closed armature gives several times the open value).
    resistance_ohm: of the winding; 0 is allowed and gives the straight-line decay.
    initial_a: current at t = 0.
    clamp_v: the constant part of the voltage that opposes the current (diode, zener, TVS, varistor).
    external_ohm: resistance in the loop outside the winding (resistor or parallel load that the coil feeds).
    """

    inductance_h: float
    resistance_ohm: float
    initial_a: float
    clamp_v: float
    external_ohm: float = 0.0

    def __post_init__(self) -> None:
        positive("inductance_h", self.inductance_h)
        not_negative("resistance_ohm", self.resistance_ohm)
        positive("initial_a", self.initial_a)
        not_negative("clamp_v", self.clamp_v)
        not_negative("external_ohm", self.external_ohm)
        if self.loop_ohm == 0 and self.clamp_v == 0:
            raise ValueError("nothing opposes the current: resistance and clamp voltage are both 0")

    @property
    def loop_ohm(self) -> float:
        """Resistance of the whole loop."""
        return self.resistance_ohm + self.external_ohm

    @property
    def time_constant_s(self) -> float:
        """L/R of the loop; infinite without resistance."""
        return self.inductance_h / self.loop_ohm if self.loop_ohm > 0 else math.inf

    def current_at_a(self, time_s: float) -> float:
        """i(t) = (I0 + Vc/R) exp(-tR/L) - Vc/R, and 0 once the current has stopped."""
        not_negative("time_s", time_s)
        if time_s >= self.off_time_s:
            return 0.0
        x = time_s * self.loop_ohm / self.inductance_h
        # (1 - exp(-x)) / x tends to 1: written so, the law has no division by a vanishing resistance.
        slack = -math.expm1(-x) / x if x > 0 else 1.0
        falling = self.initial_a * math.exp(-x) - self.clamp_v * time_s / self.inductance_h * slack
        return max(0.0, falling)

    @property
    def off_time_s(self) -> float:
        """Time until the current is 0: (L/R) ln(1 + I0 R / Vc). Infinite into a pure resistance."""
        return self.time_to_fraction_s(0.0)

    def time_to_fraction_s(self, fraction: float) -> float:
        """Time until the current has fallen to `fraction` (0..1) of its initial value.

        (L/R) ln((I0 + Vc/R) / (f I0 + Vc/R)); infinite for fraction 0 without a clamp voltage.
        """
        share("fraction", fraction)
        opposing = fraction * self.initial_a * self.loop_ohm + self.clamp_v
        if opposing == 0:
            return math.inf
        drop = (1 - fraction) * self.initial_a
        y = drop * self.loop_ohm / opposing
        shape = math.log1p(y) / y if 0 < y < math.inf else 1.0
        return self.inductance_h * drop / opposing * shape

    @property
    def stored_energy_j(self) -> float:
        """Energy in the coil at t = 0."""
        return stored_energy_j(self.inductance_h, self.initial_a)

    @property
    def clamp_energy_j(self) -> float:
        """Energy that the constant-voltage part takes: Vc (L/R) (I0 - (Vc/R) ln(1 + I0 R / Vc))."""
        if self.clamp_v == 0:
            return 0.0
        a = self.initial_a * self.loop_ohm / self.clamp_v
        if math.isinf(a):
            return 0.0
        # Below a = 1e-4 the difference of nearly equal numbers loses digits; the series is exact to 1e-13
        # there.
        share = 0.5 - a / 3 + a * a / 4 if a < 1e-4 else (1 - math.log1p(a) / a) / a
        return self.inductance_h * self.initial_a**2 * share

    @property
    def external_energy_j(self) -> float:
        """Energy that the external resistance takes."""
        if self.external_ohm == 0:
            return 0.0
        return (self.stored_energy_j - self.clamp_energy_j) * self.external_ohm / self.loop_ohm

    @property
    def winding_energy_j(self) -> float:
        """Energy that ends as heat in the winding."""
        return self.stored_energy_j - self.clamp_energy_j - self.external_energy_j

    @property
    def peak_coil_v(self) -> float:
        """Greatest reversed voltage at the coil, at t = 0: clamp plus I0 times the external resistance."""
        return self.clamp_v + self.initial_a * self.external_ohm

    def peak_switch_v(self, supply_v: float) -> float:
        """Greatest voltage across the contact, suppressor across the coil: supply plus coil voltage."""
        return not_negative("supply_v", supply_v) + self.peak_coil_v

    def at_current(self, initial_a: float) -> Decay:
        """The same loop released from another current (a hot coil, a supply at its highest voltage)."""
        return replace(self, initial_a=initial_a)


def parallel_load_decay(
    inductance_h: float, resistance_ohm: float, initial_a: float, parallel_ohm: float, diode_v: float = 0.0
) -> Decay:
    """Decay of a coil with a resistor or resistive load (lamp, sounder, relay) in parallel after the contact.

    The load carries the whole coil current, so the coil sees at first I0 times its resistance: the smaller
    the load's resistance, the slower the release. `diode_v` is a diode in series with it.
    """
    return Decay(inductance_h, resistance_ohm, initial_a, diode_v, positive("parallel_ohm", parallel_ohm))


def parallel_resistance_ohm(*resistances_ohm: float) -> float:
    """Resistance of several loads in parallel. ValueError when there is none."""
    if not resistances_ohm:
        raise ValueError("at least one resistance is needed")
    return 1 / math.fsum(1 / positive("resistance_ohm", each) for each in resistances_ohm)


def clamp_across_switch_v(clamp_v: float, supply_v: float) -> float | None:
    """Voltage that opposes the coil when the clamp sits across the switch: clamp less supply.

    None when the clamp does not exceed the supply, for it would then conduct for ever.
    """
    effective = positive("clamp_v", clamp_v) - not_negative("supply_v", supply_v)
    return effective if effective > 0 else None


@computed
def unsuppressed_peak_v(current_a: float, inductance_h: float, capacitance_f: float, initial_v: float = 0.0) -> float:
    """Upper bound of the coil voltage when only a capacitance takes the energy: sqrt(V0^2 + I0^2 L / C).

    It serves for stray capacitance (no suppressor) and for the capacitor of an RC snubber; losses only lower
    it, and an arc or breakdown usually does so first. `initial_v` is the capacitor's voltage at the moment of
    opening.
    """
    positive("inductance_h", inductance_h)
    positive("capacitance_f", capacitance_f)
    return math.hypot(
        finite("initial_v", initial_v),
        finite("current_a", current_a) * math.sqrt(inductance_h / capacitance_f),
    )


@computed
def force_fraction(current_fraction: float) -> float:
    """Force of an unsaturated magnet over its full force: about the square of the current fraction."""
    return not_negative("current_fraction", current_fraction) ** 2


def current_fraction_for_force(residual_force_n: float, holding_force_n: float) -> float:
    """Current fraction (0..1) at which a magnet's force has fallen to `residual_force_n`.

    The real magnet keeps some force at no current (remanence), so the time from this fraction is a lower
    bound.
    """
    not_negative("residual_force_n", residual_force_n)
    return math.sqrt(
        share(
            "residual force over holding force",
            residual_force_n / positive("holding_force_n", holding_force_n),
        )
    )


@dataclass(frozen=True, slots=True)
class ReleaseTime:
    """Parts of the time from the opening contact to the free door; None where a part is not known.

    electrical_s: until the current has fallen to the release fraction. remanence_s: until the field left in
    the iron has gone. mechanical_s: until the bolt, keeper or armature has moved.
    """

    electrical_s: float
    remanence_s: float | None = None
    mechanical_s: float | None = None

    def __post_init__(self) -> None:
        for name in ("electrical_s", "remanence_s", "mechanical_s"):
            value: float | None = getattr(self, name)
            if value is not None and (math.isnan(value) or value < 0):
                raise ValueError(f"{name} must be 0 or more, got {value}")

    @property
    def at_least_s(self) -> float:
        """Sum of the parts that are known: the door is not free before this."""
        return self.electrical_s + (self.remanence_s or 0.0) + (self.mechanical_s or 0.0)

    @property
    def total_s(self) -> float | None:
        """Whole time, or None while a part is not known."""
        return None if self.remanence_s is None or self.mechanical_s is None else self.at_least_s

    def within(self, limit_s: float) -> bool | None:
        """Whether the door is free within `limit_s`; None when the unknown parts decide."""
        not_negative("limit_s", limit_s)
        if self.at_least_s > limit_s:
            return False
        return None if self.total_s is None else True


@dataclass(frozen=True, slots=True)
class Clamp:
    """Estimated voltage that a suppressor across a coil opposes to the current, from low to high.

    The low end gives the slowest release, the high end the greatest stress on the switch.
    """

    low_v: float
    high_v: float


@dataclass(frozen=True, slots=True)
class SuppressorKind:
    """One kind of coil suppressor, fitted across the coil.

    polarised: fitted the wrong way round it shorts the supply.
    suits_ac: may be used on an AC or reversible coil.
    low_factor, high_factor: clamp voltage over stand-off voltage (over zener voltage for `zener_diode`), at
    lock currents. low_v, high_v: constant part added to it. All four are None where the kind has no clamp
    voltage. needs_stand_off: the estimate needs the part's stand-off voltage.
    why: the ground of the estimate. Every estimate is common practice, no source; a data sheet's clamp goes
    first.
    """

    name: str
    polarised: bool
    suits_ac: bool
    low_factor: float | None
    high_factor: float | None
    low_v: float | None
    high_v: float | None
    needs_stand_off: bool
    why: str

    def clamp(self, stand_off_v: float | None = None, stated_v: float | None = None) -> Clamp | None:
        """Clamp estimate; None when the kind clamps nothing or neither voltage that it needs is given.

        `stated_v` is the data sheet's clamp voltage. It holds at the rated pulse current, far above a lock's,
        so it is the high end; the low end comes from the stand-off voltage, or where that is missing from
        `stated_v` in the same proportion.
        """
        if self.low_factor is None or self.high_factor is None or self.low_v is None or self.high_v is None:
            return None
        if not self.needs_stand_off:
            return Clamp(self.low_v, self.high_v)
        if stated_v is not None:
            positive("stated_v", stated_v)
        if stand_off_v is None:
            return None if stated_v is None else Clamp(stated_v * self.low_factor / self.high_factor, stated_v)
        low = self.low_factor * positive("stand_off_v", stand_off_v) + self.low_v
        if stated_v is None:
            return Clamp(low, self.high_factor * stand_off_v + self.high_v)
        if stated_v <= stand_off_v:
            raise ValueError(f"a clamp voltage of {stated_v:g} V cannot lie at or below the stand-off voltage")
        return Clamp(min(low, stated_v), stated_v)


def _kinds(*kinds: SuppressorKind) -> Mapping[str, SuppressorKind]:
    return MappingProxyType({kind.name: kind for kind in kinds})


SUPPRESSOR_KINDS: Final[Mapping[str, SuppressorKind]] = _kinds(
    SuppressorKind(
        "diode", True, False, 0.0, 0.0, 0.7, 1.0, False,
        "one forward drop: the lowest voltage at the switch and the slowest release",
    ),
    SuppressorKind(
        "bridge", False, True, 0.0, 0.0, 1.4, 2.0, False,
        "a rectifier in a polarity-free lock freewheels the coil through two diodes, whatever is outside",
    ),
    SuppressorKind(
        "tvs_bidirectional", False, True, 1.1, 1.65, 0.0, 0.0, True,
        "breaks down at about 1.1 times the stand-off voltage, clamps its rated pulse at about 1.65 times",
    ),
    SuppressorKind(
        "tvs_unidirectional", True, False, 0.0, 0.0, 0.7, 1.2, False,
        "across a coil the kick meets its forward direction, so it releases as slowly as a diode",
    ),
    SuppressorKind(
        "zener_diode", True, False, 0.95, 1.1, 0.6, 1.0, True,
        "zener with a diode in series: zener voltage with its spread, plus one forward drop",
    ),
    SuppressorKind(
        "mov", False, True, 1.2, 2.5, 0.0, 0.0, True,
        "soft knee: about 1.2 times the stand-off voltage at milliamperes, 2.5 times at amperes",
    ),
    SuppressorKind(
        "resistor", False, True, None, None, None, None, False,
        "no fixed voltage: see parallel_load_decay; it draws current all the time the lock is on",
    ),
    SuppressorKind(
        "rc_snubber", False, True, None, None, None, None, False,
        "no clamp voltage: capacitor and coil ring; bound the peak with unsuppressed_peak_v",
    ),
    SuppressorKind(
        "none", False, True, None, None, None, None, False,
        "the energy goes into an arc at the contact or into the switch",
    ),
)  # fmt: skip
"""The kinds of suppressor by name, frozen. Polarity and use on AC follow from the parts; voltages are practice."""
