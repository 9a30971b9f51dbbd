"""Standby batteries: capacity with ageing, temperature and rate, autonomy as its inverse, voltages, charging.

Sizing follows the pattern of IEEE 485 / IEEE 1188 and of NFPA 72 practice: ampere-hours of the duty, times
factors. Figures are for lead-acid batteries unless a caller passes its own factors; a maker's discharge table
goes before all of them. Currents in A, times in s, capacity in Ah (the trade's unit of capacity, 3600 C).
Wrong numbers raise ValueError; no function returns NaN.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final

from ..outcome import Cited
from ..rulebook import Parameter
from .numbers import computed, finite, not_negative, positive

BATTERY_SHARE_LEFT: Final = Parameter(
    "battery_share_left",
    "share of its capacity that a battery has left when it is replaced, where the designer states none",
    "ratio",
    Fraction(80, 100),
    "lower",
    Cited("IEEE 485", "2020", "", "a battery is replaced at 80 percent of its capacity", from_memory=True),
)
AGEING_FACTOR: Final = 1.25
"""IEEE 485 / IEEE 1188 (from memory): a battery is replaced at 80 % of its capacity, so size for 1 / 0.8."""

CELL_END_V: Final = 1.75
CELL_FLOAT_V: Final = 2.27
CELL_REST_FULL_V: Final = 2.12
"""Volts per lead-acid cell at the end, on float at 25 degC, at rest when full (common practice, no source)."""

FLOAT_COMPENSATION_V_PER_K: Final = -0.003
"""Change of the float voltage per cell and kelvin above 25 degC (common practice, no source)."""

RECHARGE_FRACTION: Final = 0.8
RECHARGE_TIME_S: Final = 24 * 3600.0
"""80 % back within 24 h: DIN VDE 0833; EN 54-4 and EN 50131-6 in their ways (these two from memory)."""

CHARGE_FACTOR: Final = 1.2
"""Ampere-hours to put in per ampere-hour regained (lead-acid, common practice, no source)."""

USUAL_CAPACITIES_AH: Final = (1.2, 2.3, 3.4, 7.0, 12.0, 18.0, 26.0, 40.0, 65.0, 100.0)
"""Block capacities that the trade stocks at 12 V (common practice, no source)."""

# IEEE 485 Table 1, from memory: temperature in degC (rows in whole degrees Fahrenheit) and capacity factor.
_IEEE_485_KT: Final = (
    (-3.9, 1.52),
    (4.4, 1.30),
    (10.0, 1.19),
    (15.6, 1.11),
    (18.3, 1.08),
    (21.1, 1.04),
    (25.0, 1.00),
    (32.2, 0.94),
    (37.8, 0.91),
    (43.3, 0.88),
    (48.9, 0.86),
    (51.7, 0.85),
)

# Common practice, no source: share of the capacity that cold leaves at the long discharges of door supplies.
_PRACTICE_COLD: Final = ((-20.0, 0.65), (0.0, 0.80), (20.0, 1.00))

# Common practice, no source: share of the 20 h capacity that a discharge of so many hours brings out.
_PRACTICE_RATE: Final = ((0.5, 0.50), (1.0, 0.60), (3.0, 0.75), (5.0, 0.85), (10.0, 0.93), (20.0, 1.00))

# Common practice, no source: share of the capacity used when the discharge stops at so many volts per cell.
_PRACTICE_END: Final = ((1.75, 1.00), (1.80, 0.97), (1.85, 0.92), (1.90, 0.83))


def _interpolate(table: tuple[tuple[float, float], ...], x: float) -> float:
    """Piecewise linear; `x` must lie within the table."""
    at = min(bisect_right([row[0] for row in table], x), len(table) - 1)
    (x0, y0), (x1, y1) = table[at - 1], table[at]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


@dataclass(frozen=True, slots=True)
class Duty:
    """One part of the duty: a constant current for a time."""

    current_a: float
    duration_s: float

    def __post_init__(self) -> None:
        not_negative("current_a", self.current_a)
        not_negative("duration_s", self.duration_s)

    @property
    def charge_ah(self) -> float:
        """Ampere-hours that it draws."""
        return self.current_a * self.duration_s / 3600


@computed
def duty_charge_ah(duties: Iterable[Duty]) -> float:
    """Raw ampere-hours of the whole duty, without any factor."""
    return math.fsum(duty.charge_ah for duty in duties)


def ieee_485_temperature_factor(temperature_c: float) -> float | None:
    """Factor by which IEEE 485 Table 1 (from memory) raises the capacity needed at this temperature.

    Linear between the rows; above 25 degC no credit is usually taken, so use max(1, factor). None outside
    -3.9..51.7 degC.
    """
    finite("temperature_c", temperature_c)
    if not _IEEE_485_KT[0][0] <= temperature_c <= _IEEE_485_KT[-1][0]:
        return None
    return _interpolate(_IEEE_485_KT, temperature_c)


@lru_cache(maxsize=1024)
def practice_temperature_share(temperature_c: float) -> float | None:
    """Share (0..1) of capacity left: 1 from 20 degC up, 0.8 at 0 degC, 0.65 at -20 degC; None below.

    Common practice, no source. Milder than IEEE 485, which is written for faster discharges.
    """
    finite("temperature_c", temperature_c)
    if temperature_c < _PRACTICE_COLD[0][0]:
        return None
    return 1.0 if temperature_c >= 20 else _interpolate(_PRACTICE_COLD, temperature_c)


@lru_cache(maxsize=1024)
def practice_rate_share(duration_s: float) -> float | None:
    """Share (0..1) of the 20 h capacity that such a discharge brings out; None below half an hour.

    Common practice, no source; linear in the logarithm of the time.
    """
    hours = positive("duration_s", duration_s) / 3600
    if hours < _PRACTICE_RATE[0][0]:
        return None
    if hours >= _PRACTICE_RATE[-1][0]:
        return 1.0
    return _interpolate(tuple((math.log(h), share) for h, share in _PRACTICE_RATE), math.log(hours))


@lru_cache(maxsize=1024)
def practice_end_voltage_share(cell_end_v: float) -> float | None:
    """Share (0..1) of the capacity used when supply or cut-off stops at `cell_end_v` per cell.

    1 at 1.75 V and below; None above 1.90 V, where only the maker's discharge table helps. Common practice,
    no source.
    """
    positive("cell_end_v", cell_end_v)
    if cell_end_v > _PRACTICE_END[-1][0]:
        return None
    return 1.0 if cell_end_v <= CELL_END_V else _interpolate(_PRACTICE_END, cell_end_v)


@dataclass(frozen=True, slots=True)
class Derating:
    """Why more than the raw ampere-hours is needed.

    ageing: factor, 1 or more. temperature_share, rate_share, end_voltage_share: shares of the capacity left
    (0..1]. design_margin: factor, 1 or more, for load that comes later.
    """

    ageing: float = AGEING_FACTOR
    temperature_share: float = 1.0
    rate_share: float = 1.0
    end_voltage_share: float = 1.0
    design_margin: float = 1.0

    def __post_init__(self) -> None:
        for name in ("ageing", "design_margin"):
            value: float = getattr(self, name)
            if not math.isfinite(value) or value < 1:
                raise ValueError(f"{name} must be a finite number of 1 or more, got {value}")
        for name in ("temperature_share", "rate_share", "end_voltage_share"):
            value = getattr(self, name)
            if not 0 < value <= 1.2:  # a warm battery may give a little more than rated
                raise ValueError(f"{name} must be more than 0 and at most 1.2, got {value}")

    @property
    def factor(self) -> float:
        """Rated capacity needed per ampere-hour of duty."""
        shares = self.temperature_share * self.rate_share * self.end_voltage_share
        return self.ageing * self.design_margin / shares


@computed
def required_capacity_ah(duties: Iterable[Duty], derating: Derating) -> float:
    """Rated capacity (at the 20 h rate) that the duty needs."""
    return duty_charge_ah(duties) * derating.factor


@computed
def usable_capacity_ah(rated_ah: float, derating: Derating) -> float:
    """Ampere-hours that the battery still gives at the end of its life under these conditions."""
    return positive("rated_ah", rated_ah) / derating.factor


@computed
def autonomy_s(rated_ah: float, standby_a: float, derating: Derating, reserve: Iterable[Duty] = ()) -> float:
    """Time that the battery carries `standby_a` and still has the `reserve` (alarm) duty; 0 without that.

    Inverse of `required_capacity_ah` with the same derating, whose rate share the caller has chosen.
    """
    left = usable_capacity_ah(rated_ah, derating) - duty_charge_ah(reserve)
    return max(0.0, left) / positive("standby_a", standby_a) * 3600


def autonomy_at_practice_rate_s(rated_ah: float, current_a: float, derating: Derating) -> float | None:
    """Time that the battery carries a constant current with the practice rate shares instead of
    `derating.rate_share`.

    Solves t = C(t) / I, where the capacity C brought out depends on the time itself. The shares grow more
    slowly than the time, so there is one solution. None when it lies below the table (half an hour).
    """
    positive("current_a", current_a)
    plain_h = usable_capacity_ah(rated_ah, derating) / derating.rate_share / current_a  # hours at rate share 1
    if plain_h >= _PRACTICE_RATE[-1][0]:
        return plain_h * 3600
    low, high = _PRACTICE_RATE[0][0], _PRACTICE_RATE[-1][0]
    if plain_h * _PRACTICE_RATE[0][1] < low:
        return None
    for _ in range(200):
        middle = (low + high) / 2
        share = practice_rate_share(middle * 3600)
        if share is not None and plain_h * share >= middle:
            low = middle
        else:
            high = middle
    return low * 3600


@computed
def peukert_time_s(rated_ah: float, rated_time_s: float, current_a: float, exponent: float = 1.15) -> float:
    """Discharge time by Peukert's law: t = H (C / (I H))^k, with C rated over H hours.

    `exponent` is 1 for a battery without rate loss, about 1.1 to 1.25 for lead-acid.
    """
    if not 1 <= exponent <= 2:
        raise ValueError(f"exponent must lie between 1 and 2, got {exponent}")
    hours = positive("rated_time_s", rated_time_s) / 3600
    ratio = positive("rated_ah", rated_ah) / (positive("current_a", current_a) * hours)
    return 3600 * hours * math.pow(ratio, exponent)


@computed
def peukert_rate_share(duration_s: float, rated_time_s: float, exponent: float = 1.15) -> float:
    """Share of the rated capacity that a discharge over `duration_s` brings out by Peukert's law.

    (t/H)^(1 - 1/k), with the capacity rated over H.
    """
    if not 1 <= exponent <= 2:
        raise ValueError(f"exponent must lie between 1 and 2, got {exponent}")
    ratio = positive("duration_s", duration_s) / positive("rated_time_s", rated_time_s)
    return math.pow(ratio, 1 - 1 / exponent)


def cells(nominal_v: float) -> int:
    """Number of lead-acid cells of a battery: 2 V each. ValueError when the voltage is no multiple of 2 V."""
    count = round(positive("nominal_v", nominal_v) / 2)
    if count < 1 or not math.isclose(count * 2, nominal_v, rel_tol=1e-9):
        raise ValueError(f"a lead-acid battery has a nominal voltage in steps of 2 V, got {nominal_v:g} V")
    return count


@computed
def end_voltage_v(nominal_v: float, cell_end_v: float = CELL_END_V) -> float:
    """Voltage of the battery at the end of discharge: 10.5 V for 12 V, 21.0 V for 24 V."""
    return cells(nominal_v) * positive("cell_end_v", cell_end_v)


@computed
def float_voltage_v(nominal_v: float, temperature_c: float = 25.0, cell_float_v: float = CELL_FLOAT_V) -> float:
    """Float voltage with -3 mV per cell and kelvin above 25 degC; the highest voltage that the loads see."""
    drift = FLOAT_COMPENSATION_V_PER_K * (finite("temperature_c", temperature_c) - 25)
    return cells(nominal_v) * (positive("cell_float_v", cell_float_v) + drift)


@dataclass(frozen=True, slots=True)
class Bank:
    """Equal blocks: `series` add volts, `parallel` strings add ampere-hours."""

    block_v: float
    block_ah: float
    series: int = 1
    parallel: int = 1

    def __post_init__(self) -> None:
        positive("block_v", self.block_v)
        positive("block_ah", self.block_ah)
        if self.series < 1 or self.parallel < 1:
            raise ValueError("series and parallel must be 1 or more")

    @property
    def voltage_v(self) -> float:
        """Nominal voltage of the bank."""
        return self.block_v * self.series

    @property
    def capacity_ah(self) -> float:
        """Capacity of the bank."""
        return self.block_ah * self.parallel


def next_capacity_ah(required_ah: float) -> float | None:
    """Smallest usual block capacity of at least `required_ah`; None when one block is not enough."""
    not_negative("required_ah", required_ah)
    return next((size for size in USUAL_CAPACITIES_AH if size >= required_ah), None)


@computed
def charge_current_a(
    capacity_ah: float,
    time_s: float = RECHARGE_TIME_S,
    fraction: float = RECHARGE_FRACTION,
    charge_factor: float = CHARGE_FACTOR,
) -> float:
    """Charging current needed to bring `fraction` of the capacity back within `time_s`: k f C / t."""
    _charging(fraction, charge_factor)
    return charge_factor * fraction * positive("capacity_ah", capacity_ah) * 3600 / positive("time_s", time_s)


@computed
def charge_time_s(
    capacity_ah: float,
    current_a: float,
    fraction: float = RECHARGE_FRACTION,
    charge_factor: float = CHARGE_FACTOR,
) -> float:
    """Time in which a charging current brings `fraction` of the capacity back. Inverse of `charge_current_a`.

    Constant current is taken throughout; the last fifth of a lead-acid charge is slower.
    """
    _charging(fraction, charge_factor)
    return charge_factor * fraction * positive("capacity_ah", capacity_ah) * 3600 / positive("current_a", current_a)


def _charging(fraction: float, charge_factor: float) -> None:
    if not 0 < fraction <= 1:
        raise ValueError(f"fraction must be more than 0 and at most 1, got {fraction}")
    if not math.isfinite(charge_factor) or charge_factor < 1:
        raise ValueError(f"charge_factor must be a finite number of 1 or more, got {charge_factor}")


def service_life_s(rated_life_s: float, mean_temperature_c: float, rated_temperature_c: float = 25.0) -> float:
    """Expected life: halved for each 10 K of mean temperature above the rated one; no gain below it.

    Common practice, no source (the rule of thumb of Arrhenius' law).
    """
    excess = max(
        0.0,
        finite("mean_temperature_c", mean_temperature_c) - finite("rated_temperature_c", rated_temperature_c),
    )
    return positive("rated_life_s", rated_life_s) * math.pow(0.5, excess / 10)


@computed
def days_of_operation(rated_cycles: float, operations_per_day: float, share: float = 0.5) -> float:
    """Days until `share` of a stand-alone lock's rated operations is used (half is common practice)."""
    if not 0 < share <= 1:
        raise ValueError(f"share must be more than 0 and at most 1, got {share}")
    return positive("rated_cycles", rated_cycles) * share / positive("operations_per_day", operations_per_day)
