"""Power over Ethernet: classes, power at the end of the real channel, converters, peaks, budgets, autonomy.

Figures are those of IEEE 802.3: clause 33 (Type 1, 802.3af, and Type 2, 802.3at) for classes 0 to 4, clause
145 (Types 3 and 4, 802.3bt) for classes 5 to 8. PSE is the power sourcing equipment (switch port, injector),
PD the powered device. Everything is in SI units, as the names say. Wrong numbers raise ValueError; no
function returns NaN.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from types import MappingProxyType
from typing import Final, Literal

from .numbers import computed, not_negative, positive

COPPER_ALPHA_20_PER_K: Final = 0.00393

HIGHEST_VOLTAGE_V: Final = 57.0
"""Highest port voltage of every type."""

CUT_OFF_EARLIEST_S: Final = 0.050
CUT_OFF_LATEST_S: Final = 0.075
"""T_CUT: an overload that outlasts the first may cut the port off, one that outlasts the second will."""

PEAK_DUTY: Final = 0.05
"""Share of the time that a PD may spend between its class power and its peak power."""

INRUSH_LOW_A: Final = 0.400
INRUSH_HIGH_A: Final = 0.450
"""A two-pair PSE limits the start-up current to this range (from memory)."""

INRUSH_TIME_S: Final = 0.050
"""Start-up must be over within this time (50 ms at the earliest, 75 ms at the latest)."""

INRUSH_CAPACITANCE_F: Final = 180e-6
"""Up to this input capacitance the PSE alone limits the inrush; above it the PD must (from memory)."""

PD_INRUSH_LIMIT_A: Final = 0.350
"""Start-up current that a PD with more capacitance must keep to (from memory)."""

MPS_DROP_OUT_S: Final = (0.300, 0.400)
"""T_MPDO: a port whose load stays below the maintain-power minimum so long is cut off (from memory)."""

LONGEST_CHANNEL_M: Final = 100.0
"""ISO/IEC 11801 and TIA-568 channel: 90 m of link and 10 m of cords (from memory)."""


def _efficiency(name: str, value: float) -> float:
    if not 0 < value <= 1:
        raise ValueError(f"{name} must be more than 0 and at most 1, got {value}")
    return value


@dataclass(frozen=True, slots=True)
class PoeClass:
    """One power class.

    pse_w: power that the PSE sets aside and must be able to give.
    pd_w: most that the PD may draw, at the channel's end.
    pd_peak_w: most that it may draw for at most 50 ms and 5 % of the time.
    type_introduced: 1 to 4. pairsets: 1 (two pairs) or 2 (four pairs).
    channel_ohm: resistance of the worst channel that the class allows for, all pair sets together.
    pse_min_v: lowest PSE voltage of the type that introduced the class.
    mps_a: current that a PD must draw to be kept on.
    """

    number: int
    pse_w: float
    pd_w: float
    pd_peak_w: float
    type_introduced: int
    pairsets: int
    channel_ohm: float
    pse_min_v: float
    mps_a: float

    @property
    def standard(self) -> str:
        """Name of the amendment that introduced the class."""
        return TYPES[self.type_introduced].standard


@dataclass(frozen=True, slots=True)
class PoeType:
    """One PSE/PD type: amendment, highest class, voltage ranges, worst channel, current per pair set."""

    number: int
    standard: str
    year: int
    highest_class: int
    pse_min_v: float
    pse_max_v: float
    pd_min_v: float
    channel_ohm_per_pairset: float
    current_per_pairset_a: float


TYPES: Final[Mapping[int, PoeType]] = MappingProxyType(
    {
        1: PoeType(1, "802.3af", 2003, 3, 44.0, 57.0, 37.0, 20.0, 0.350),
        2: PoeType(2, "802.3at", 2009, 4, 50.0, 57.0, 42.5, 12.5, 0.600),
        3: PoeType(3, "802.3bt", 2018, 6, 50.0, 57.0, 42.5, 12.5, 0.600),
        4: PoeType(4, "802.3bt", 2018, 8, 52.0, 57.0, 41.1, 12.5, 0.960),
    }
)
"""Types 1 to 4, frozen."""

CLASSES: Final[Mapping[int, PoeClass]] = MappingProxyType(
    {
        0: PoeClass(0, 15.4, 12.95, 14.4, 1, 1, 20.0, 44.0, 0.010),
        1: PoeClass(1, 4.0, 3.84, 5.0, 1, 1, 20.0, 44.0, 0.010),
        2: PoeClass(2, 7.0, 6.49, 8.36, 1, 1, 20.0, 44.0, 0.010),
        3: PoeClass(3, 15.4, 12.95, 14.4, 1, 1, 20.0, 44.0, 0.010),
        4: PoeClass(4, 30.0, 25.5, 28.3, 2, 1, 12.5, 50.0, 0.010),
        5: PoeClass(5, 45.0, 40.0, 42.0, 3, 2, 6.25, 50.0, 0.016),
        6: PoeClass(6, 60.0, 51.0, 53.5, 3, 2, 6.25, 50.0, 0.016),
        7: PoeClass(7, 75.0, 62.0, 65.1, 4, 2, 6.25, 52.0, 0.016),
        8: PoeClass(8, 90.0, 71.3, 74.9, 4, 2, 6.25, 52.0, 0.016),
    }
)
"""Classes 0 to 8, frozen. Peak powers and the 16 mA of classes 5 to 8 are from memory."""

CLASSES_OF_CLAUSE_145: Final[Mapping[int, PoeClass]] = MappingProxyType(
    {
        1: PoeClass(1, 4.0, 3.84, 5.0, 3, 1, 12.5, 50.0, 0.010),
        2: PoeClass(2, 6.7, 6.49, 8.36, 3, 1, 12.5, 50.0, 0.010),
        3: PoeClass(3, 14.0, 13.0, 14.4, 3, 1, 12.5, 50.0, 0.010),
        4: PoeClass(4, 30.0, 25.5, 28.3, 3, 1, 12.5, 50.0, 0.010),
        **{number: CLASSES[number] for number in (5, 6, 7, 8)},
    }
)
"""Classes 1 to 8 as clause 145 has them between Type 3/4 equipment (classes 1 to 3 from memory)."""


def poe_class(number: int) -> PoeClass:
    """Class `number` (0..8). ValueError when there is none."""
    found = CLASSES.get(number)
    if found is None:
        raise ValueError(f"there is no PoE class {number}; classes are 0 to 8")
    return found


@lru_cache(maxsize=256)
def highest_class(standard: str, type_number: int | None = None) -> int:
    """Highest class of a port of the named standard: 802.3af 3, 802.3at 4, 802.3bt 6 (Type 3) or 8 (Type 4).

    For 802.3bt without a type the lower of the two is given, since a port of that standard need not be Type
    4.
    """
    wanted = standard.strip().lower().removeprefix("ieee").strip()
    fitting = [each for each in TYPES.values() if each.standard == wanted and type_number in (None, each.number)]
    if not fitting:
        known = ", ".join(sorted({each.standard for each in TYPES.values()}))
        raise ValueError(f"no PoE type fits standard {standard!r} and type {type_number}; standards are {known}")
    return min(each.highest_class for each in fitting)


def _rank(number: int) -> int:
    """Class 0 gives the power of class 3 and is budgeted as such."""
    return 3 if poe_class(number).number == 0 else number


def granted_class(port_class: int, requested_class: int) -> int | None:
    """Class that a port of `port_class` grants to a PD that asks for `requested_class`.

    A PD never gets more than it asks for: a higher port gives such a device nothing more. A PD that asks for
    more than the port has is demoted, by the number of class events, to 6, 4 or 3 (from memory, IEEE 802.3
    clause 145); where the port has less than class 3 there is no step left and the port may stay off: None.
    """
    port, wanted = _rank(port_class), _rank(requested_class)
    if wanted <= port:
        return requested_class
    return next((step for step in (6, 4, 3) if step <= port), None)


def granted_power_w(port_w: float, requested_w: float) -> float:
    """Power that a port sets aside: the smaller of what it has and what is asked for."""
    return min(not_negative("port_w", port_w), not_negative("requested_w", requested_w))


@computed
def channel_ohm(
    length_m: float,
    conductor_ohm_per_m: float,
    pairsets: int,
    temperature_c: float = 20.0,
    extra_ohm: float = 0.0,
) -> float:
    """Resistance of the channel for power, all pair sets together.

    A pair set sends the current out on the two wires of one pair and back on the two of another, so its loop
    is the resistance of one conductor; two pair sets halve that. `conductor_ohm_per_m` is one conductor at 20
    degC; `extra_ohm` (connectors) is per pair set. Not to be mixed up with the loop of one pair, which is
    twice as much.
    """
    if pairsets not in (1, 2):
        raise ValueError(f"pairsets must be 1 (two pairs) or 2 (four pairs), got {pairsets}")
    not_negative("length_m", length_m)
    positive("conductor_ohm_per_m", conductor_ohm_per_m)
    if not math.isfinite(temperature_c):
        raise ValueError(f"temperature_c must be a finite number, got {temperature_c}")
    warm = 1 + COPPER_ALPHA_20_PER_K * (temperature_c - 20)
    if warm <= 0:
        raise ValueError("temperature_c lies below the range of the linear resistance law")
    return (length_m * conductor_ohm_per_m * warm + not_negative("extra_ohm", extra_ohm)) / pairsets


@computed
def pd_voltage_v(pse_v: float, channel_ohm: float, pd_w: float) -> float | None:
    """Voltage at a PD that draws the constant power `pd_w`: (V + sqrt(V^2 - 4 P R)) / 2.

    Of the two solutions the higher is the stable one. None when the channel cannot carry the power at all.
    """
    positive("pse_v", pse_v)
    not_negative("channel_ohm", channel_ohm)
    not_negative("pd_w", pd_w)
    under = pse_v * pse_v - 4 * pd_w * channel_ohm
    return (pse_v + math.sqrt(under)) / 2 if under >= 0 else None


@computed
def pse_power_w(pse_v: float, channel_ohm: float, pd_w: float) -> float | None:
    """Power that leaves the port for `pd_w` at the PD; None when there is no operating point."""
    at_pd = pd_voltage_v(pse_v, channel_ohm, pd_w)
    return None if at_pd is None else pse_v * pd_w / at_pd


@computed
def power_after_channel_w(pse_w: float, pse_v: float, channel_ohm: float) -> float | None:
    """Power at the channel's end when the port gives `pse_w` at `pse_v`: P - (P/V)^2 R.

    None when P R > V^2 / 2: beyond that more power into the channel brings less out, and no PD holds that
    point.
    """
    not_negative("pse_w", pse_w)
    positive("pse_v", pse_v)
    not_negative("channel_ohm", channel_ohm)
    if pse_w * channel_ohm > pse_v * pse_v / 2:
        return None
    return pse_w - (pse_w / pse_v) ** 2 * channel_ohm


def available_pd_power_w(
    granted: PoeClass, channel_ohm: float, pse_v: float | None = None, *, extended: bool = False
) -> float | None:
    """Power that a PD may count on at the end of the real channel.

    The PSE gives its class power at `pse_v` (default: the lowest voltage of the class) and the channel takes
    its part. Never more than the class's PD figure, however short the channel, unless PD and port declare
    extended power (`extended`). Within the worst channel of the class the standard promises the PD figure, so
    that figure is given although the rounded class powers of classes 5 and 8 compute a hair lower. None when
    nothing stable is left.
    """
    voltage = granted.pse_min_v if pse_v is None else positive("pse_v", pse_v)
    computed = power_after_channel_w(granted.pse_w, voltage, channel_ohm)
    if extended:
        return computed
    if channel_ohm <= granted.channel_ohm * (1 + 1e-9) and voltage >= granted.pse_min_v:
        return granted.pd_w
    return None if computed is None else min(granted.pd_w, computed)


def chain_efficiency(*efficiencies: float) -> float:
    """Efficiency of converters one behind the other: their product (1 for none)."""
    return math.prod(_efficiency("efficiency", each) for each in efficiencies)


@computed
def converter_input_w(output_w: float, efficiency: float) -> float:
    """Power that a converter draws for `output_w`."""
    return not_negative("output_w", output_w) / _efficiency("efficiency", efficiency)


def converter_output_w(input_w: float, efficiency: float) -> float:
    """Power that a converter gives from `input_w`."""
    return not_negative("input_w", input_w) * _efficiency("efficiency", efficiency)


def left_for_outputs_w(pd_w: float, efficiency: float, electronics_w: float) -> float:
    """Power left behind the converter for lock and accessories once the device itself is fed.

    `electronics_w` is counted behind the converter. Negative when the device alone draws more than there is.
    """
    return converter_output_w(pd_w, efficiency) - not_negative("electronics_w", electronics_w)


@computed
def splitter_current_a(pd_w: float, efficiency: float, output_v: float) -> float:
    """Current that a splitter can give at `output_v` from `pd_w` at its input."""
    return converter_output_w(pd_w, efficiency) / positive("output_v", output_v)


class Peak(StrEnum):
    """What a port does with a power peak of its PD."""

    STEADY = "steady"
    """Within the class power: may last for ever."""
    WITHIN = "within"
    """Above the class power, within the peak power, short and rare enough: allowed."""
    UNDEFINED = "undefined"
    """Above the peak power but shorter than the cut-off delay: nothing is promised."""
    MAY_CUT = "may_cut"
    """As long as the cut-off window, or too frequent: some ports cut off."""
    CUT = "cut"
    """Longer than the cut-off window: take it that the port cuts off."""


def judge_peak(granted: PoeClass, peak_w: float, duration_s: float, duty: float = 0.0) -> Peak:
    """What a port does with `peak_w` at the PD for `duration_s`, `duty` (0..1) of the time.

    IEEE 802.3: a PD may exceed its class power only up to its peak power, for at most T_CUT min (50 ms) and 5
    % of the time.
    """
    not_negative("peak_w", peak_w)
    not_negative("duration_s", duration_s)
    if not 0 <= duty <= 1:
        raise ValueError(f"duty must lie between 0 and 1, got {duty}")
    if peak_w <= granted.pd_w:
        return Peak.STEADY
    if duration_s > CUT_OFF_LATEST_S:
        return Peak.CUT
    if duration_s > CUT_OFF_EARLIEST_S or duty > PEAK_DUTY:
        return Peak.MAY_CUT
    return Peak.WITHIN if peak_w <= granted.pd_peak_w else Peak.UNDEFINED


@computed
def hold_up_capacitance_f(shortfall_w: float, duration_s: float, start_v: float, end_v: float) -> float:
    """Capacitance that bridges a shortfall of power: C = 2 E / (V1^2 - V2^2)."""
    not_negative("shortfall_w", shortfall_w)
    not_negative("duration_s", duration_s)
    if positive("start_v", start_v) <= not_negative("end_v", end_v):
        raise ValueError(f"start_v must be above end_v, got {start_v:g} and {end_v:g}")
    return 2 * shortfall_w * duration_s / (start_v**2 - end_v**2)


def mps_minimum_w(granted: PoeClass, voltage_v: float = HIGHEST_VOLTAGE_V) -> float:
    """Power below which a PD may be dropped for too little current; worst at the highest voltage."""
    return granted.mps_a * positive("voltage_v", voltage_v)


def keeps_power(granted: PoeClass, idle_w: float, voltage_v: float = HIGHEST_VOLTAGE_V) -> bool:
    """Whether a PD that idles at `idle_w` draws enough to be kept on, without pulsing its current."""
    # 0.01 A x 57 V is a hair above 0.57 in binary: the slack keeps a load at the limit at the limit.
    return not_negative("idle_w", idle_w) >= mps_minimum_w(granted, voltage_v) * (1 - 1e-12)


@computed
def inrush_time_s(capacitance_f: float, current_a: float = INRUSH_LOW_A, voltage_v: float = HIGHEST_VOLTAGE_V) -> float:
    """Time to charge an input capacitance at constant current: C V / I."""
    return (
        not_negative("capacitance_f", capacitance_f)
        * positive("voltage_v", voltage_v)
        / positive("current_a", current_a)
    )


def starts_up(capacitance_f: float, pd_limited_a: float | None = None) -> bool | None:
    """Whether a PD with this input capacitance comes through the start-up window.

    Up to 180 uF the port's own limit is enough. Above it the PD must limit its inrush to 350 mA and be
    charged within 50 ms; None when its limit is not known.
    """
    if not_negative("capacitance_f", capacitance_f) <= INRUSH_CAPACITANCE_F:
        return True
    if pd_limited_a is None:
        return None
    return pd_limited_a <= PD_INRUSH_LIMIT_A and inrush_time_s(capacitance_f, pd_limited_a) <= INRUSH_TIME_S


@dataclass(frozen=True, slots=True)
class PortUse:
    """One powered port: the class granted, and what the PD really draws at the port (None when not known)."""

    granted: PoeClass
    use_w: float | None = None


def budget_demand_w(ports: Iterable[PortUse], allocation: Literal["class", "use"]) -> float | None:
    """Power that a switch sets aside for its ports, by class (PSE power) or by use.

    By use, None when the use of a port is not known; a port is never counted above its class.
    """
    if allocation not in ("class", "use"):
        raise ValueError(f"allocation must be 'class' or 'use', got {allocation!r}")
    parts: list[float] = []
    for port in ports:
        if allocation == "class":
            parts.append(port.granted.pse_w)
        elif port.use_w is None:
            return None
        else:
            parts.append(granted_power_w(port.granted.pse_w, port.use_w))
    return math.fsum(parts)


@computed
def ports_that_fit(budget_w: float, per_port_w: float, share: float = 1.0) -> int:
    """Number of equal ports that a budget serves, using at most `share` of it (0.8 is common practice)."""
    not_negative("budget_w", budget_w)
    if not 0 < share <= 1:
        raise ValueError(f"share must be more than 0 and at most 1, got {share}")
    # 0.3 / 0.1 is 2.9999... in binary: a hair of slack keeps an exact fit a fit.
    return math.floor(budget_w * share / positive("per_port_w", per_port_w) + 1e-9)


@dataclass(frozen=True, slots=True)
class PassThrough:
    """What an extender or pass-through device leaves: power and voltage at the far device."""

    power_w: float
    voltage_v: float


@computed
def pass_through(
    pse_w: float, pse_v: float, near_ohm: float, own_w: float, far_ohm: float, own_efficiency: float = 1.0
) -> PassThrough | None:
    """Power left behind an extender that takes `own_w` between two channels; None when nothing stable is
    left.

    `own_efficiency` is for an extender that converts rather than passes the voltage on.
    """
    near_w = power_after_channel_w(pse_w, pse_v, near_ohm)
    if near_w is None or pse_w == 0:
        return None
    near_v = pse_v - pse_w / pse_v * near_ohm
    onward_w = (near_w - not_negative("own_w", own_w)) * _efficiency("own_efficiency", own_efficiency)
    if onward_w <= 0:
        return None
    far_w = power_after_channel_w(onward_w, near_v, far_ohm)
    return None if far_w is None else PassThrough(far_w, near_v - onward_w / near_v * far_ohm)


def next_class(pd_w: float) -> PoeClass | None:
    """Smallest class whose PD power is at least `pd_w`; None when no class is enough."""
    not_negative("pd_w", pd_w)
    return next((each for number, each in CLASSES.items() if number > 0 and each.pd_w >= pd_w), None)


@dataclass(frozen=True, slots=True)
class Autonomy:
    """How long a chain runs when the mains fail.

    known_s: the minimum over the links whose time is known, None when none is. weakest: the names that have
    it. unknown: the names of the links whose time is not known.
    """

    known_s: float | None
    weakest: tuple[str, ...]
    unknown: tuple[str, ...]

    @property
    def total_s(self) -> float | None:
        """Autonomy of the chain, None while a link is unknown (unless the known part is already 0)."""
        return None if self.unknown and self.known_s != 0 else self.known_s

    def reaches(self, required_s: float) -> bool | None:
        """Whether the chain runs at least `required_s`; None when the unknown links decide."""
        not_negative("required_s", required_s)
        if self.known_s is not None and self.known_s < required_s:
            return False
        return None if self.unknown or self.known_s is None else True


def chain_autonomy(links: Mapping[str, float | None] | Sequence[tuple[str, float | None]]) -> Autonomy:
    """Autonomy of a chain (switch, injector, splitter, controller, lock supply): its weakest link.

    Seconds by name; None for a link whose time is not known; infinity for one that never runs out (a passive
    link).
    """
    pairs = list(links.items()) if isinstance(links, Mapping) else list(links)
    for name, value in pairs:
        if value is not None and (math.isnan(value) or value < 0):
            raise ValueError(f"autonomy of {name!r} must be 0 or more, got {value}")
    known = [(name, value) for name, value in pairs if value is not None]
    least = min((value for _, value in known), default=None)
    return Autonomy(
        least,
        tuple(name for name, value in known if value == least),
        tuple(name for name, value in pairs if value is None),
    )
