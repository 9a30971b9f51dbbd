"""The capacity that a battery needs for what it carries, with ageing, temperature, rate and end voltage.

Exact, in coulombs. Where the spec leaves room the capacity comes as a bound from either side, so that a rule asks for
the missing value only where it decides. Shares that are not in the spec are practice; a maker's discharge table goes
before them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final, Literal

from ..outcome import Measure, Place, Step, Term
from ..quantity import Band, Quantity
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Battery, PowerSource
from .battery import (
    BATTERY_SHARE_LEFT,
    CHARGE_FACTOR,
    RECHARGE_FRACTION,
    RECHARGE_TIME_S,
    USUAL_CAPACITIES_AH,
    practice_end_voltage_share,
    practice_rate_share,
    practice_temperature_share,
)
from .lines import celsius
from .rest import above_zero, voltage_of

Bound = Literal["least", "most"]
Time = tuple[Fraction, Place | None]
"""A time in s and where it stands."""

_SECONDS_PER_H: Final = 3600
_MILD_C: Final = 20.0
_COLDEST_C: Final = -20.0
_LEAD_ACID_FACTOR: Final = Fraction(CHARGE_FACTOR).limit_denominator(100)
_BROUGHT_BACK: Final = Fraction(RECHARGE_FRACTION).limit_denominator(100)


@dataclass(frozen=True, slots=True)
class Profile:
    """What a source gives at rest: `base` A without end, and each (s, A) of `more` for that long from the start."""

    base: Fraction
    more: tuple[tuple[Fraction, Fraction], ...]
    step: Step

    def charge(self, duration_s: Fraction) -> Fraction:
        """Charge drawn in a time, C."""
        return self.base * duration_s + sum((min(t, duration_s) * a for t, a in self.more), Fraction(0))


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a figure is only a bound: the field that is missing, where it belongs, and a sentence on it."""

    name: str
    place: Place
    why: str


@dataclass(frozen=True, slots=True)
class Need:
    """The capacity that a standby time needs, C: `least` surely, `most` at the worst (None: no bound is known).

    Both have their working; `doubts` are what stands between them.
    """

    least: Fraction
    most: Fraction | None
    working: tuple[Step, ...]
    working_most: tuple[Step, ...]
    doubts: tuple[Doubt, ...] = ()

    def covered_by(self, capacity: Fraction) -> bool | None:
        """Whether a capacity, C, is enough; None where a doubt decides."""
        if capacity < self.least:
            return False
        return True if self.most is not None and capacity >= self.most else None


def need_for(
    source: PowerSource,
    profiles: tuple[Profile, Profile],
    time: Time,
    practice: Mapping[str, Fraction | str],
    doubts: Iterable[Doubt] = (),
) -> Need:
    """The capacity that a source's battery needs to go on for a time, by the least and the most that it may have to
    give; `doubts` are what stands between the two. Raises Undecided where a figure of the battery makes no sense.
    """
    battery = source.battery
    assert isinstance(battery, Battery)
    found = list(doubts)
    least, steps = _capacity(source, profiles[0], time, "least", found, practice)
    assert least is not None
    if profiles[0] is profiles[1] and not found:  # nothing stands between the bounds
        return Need(least, least, steps, steps)
    most, steps_most = _capacity(source, profiles[1], time, "most", [], practice)
    return Need(least, most, steps, steps_most, tuple(found))


def _capacity(
    source: PowerSource,
    profile: Profile,
    time: Time,
    bound: Bound,
    doubts: list[Doubt],
    practice: Mapping[str, Fraction | str],
) -> tuple[Fraction | None, tuple[Step, ...]]:
    duration_s, at = time
    battery = source.battery
    assert isinstance(battery, Battery)
    given = profile.charge(duration_s)
    hours = Term("time", str(Measure(duration_s, "time")), at)
    steps = [profile.step, Step("charge given", "current at rest x time", Measure(given, "charge"), (hours,))]
    drawn, terms = _from_battery(source, battery, given)
    if terms:
        formula = "charge given x output voltage / (battery voltage x efficiency)"
        steps.append(Step("charge drawn", formula, Measure(drawn, "charge"), terms, "conservation of energy"))
    ageing = Fraction(1) / _share(battery, "ageing", BATTERY_SHARE_LEFT.value(practice))
    need = drawn * ageing
    term = Term("left at the end of its life", f"{float(1 / ageing) * 100:g} %", battery.at("ageing"))
    ground = "IEEE 485 / IEEE 1188: size for what is left when the battery is replaced [from memory]"
    steps.append(Step("with ageing", "charge / share left", Measure(need, "charge"), (term,), ground))
    if not need:
        return need, tuple(steps)
    if battery.chemistry != "lead_acid":
        name = battery.chemistry if isinstance(battery.chemistry, str) else "battery"
        why = f"how much of its capacity a {name} gives at this rate and temperature stands in its discharge table"
        missing = "chemistry" if battery.chemistry in (None, UNKNOWN) else "discharge table"
        doubts.append(Doubt(missing, battery.at("chemistry"), why))
        return (need if bound == "least" else None), tuple(steps)
    shares = list(_shares(source, battery, time, bound, doubts))
    for name, share, term, ground in shares:
        if share is None:
            return (need if bound == "least" else None), tuple(steps)
        need /= share
        formula = f"divided by the share of the capacity, {float(share):.3g}"
        steps.append(Step(f"with {name}", formula, Measure(need, "charge"), (term,), ground))
    return need, tuple(steps)


def _shares(
    source: PowerSource, battery: Battery, time: Time, bound: Bound, doubts: list[Doubt]
) -> Iterator[tuple[str, Fraction | None, Term, str]]:
    duration_s, at = time
    table = "the battery's discharge table"
    cold, place, sure = _cold(source, battery, bound)
    share = practice_temperature_share(cold)
    if not sure or share is None:
        why = "the battery's temperature is not stated" if not sure else f"{cold:g} degC asks for {table}"
        doubts.append(Doubt("temperature", battery.at("temperature"), why))
    if share is not None or bound == "most":
        words = f"{cold:g} degC" + ("" if sure else ", taken as its temperature is not stated")
        yield "temperature", _exact(share), Term("coldest", words, place), "practice, cold takes capacity"
    share = practice_rate_share(float(duration_s))
    if share is None:
        doubts.append(Doubt("discharge table", battery.at("capacity"), f"so short a discharge asks for {table}"))
    if share is not None or bound == "most":
        term = Term("time", str(Measure(duration_s, "time")), at)
        yield "rate", _exact(share), term, "practice, capacity is rated over 20 h and a faster discharge gives less"
    end = end_voltage(battery)
    if end is not None and battery.voltage is not None:
        per_cell = float(end[0] / above_zero(battery, "voltage") * 2)
        share = practice_end_voltage_share(per_cell) if per_cell > 0 else 1.0
        if share is None:
            doubts.append(Doubt("discharge table", end[1], f"so high an end voltage asks for {table}"))
        if share is not None or bound == "most":
            term = Term("end of discharge", f"{per_cell:.3g} V per cell", end[1])
            yield "end voltage", _exact(share), term, "practice, what is left above the end voltage counts"


def end_voltage(battery: Battery) -> tuple[Fraction, Place] | None:
    """The voltage at which the discharge ends, V: the higher of end and cut-off voltage; None where neither is."""
    found = [
        (value.value, battery.at(name))
        for name in ("end_voltage", "cut_off_voltage")
        if isinstance(value := getattr(battery, name), Quantity)
    ]
    return max(found, key=lambda pair: pair[0], default=None)


def _cold(source: PowerSource, battery: Battery, bound: Bound) -> tuple[float, Place | None, bool]:
    """The coldest that the battery gets, degC, where that stands, and whether the spec says so."""
    for part, name in ((battery, "temperature"), (source, "ambient")):
        value = getattr(part, name)
        if isinstance(value, Band):
            return celsius(value.low), part.at(name), True
    if bound == "least":
        return _MILD_C, None, False
    if isinstance(source.temperature, Band):
        return celsius(source.temperature.low), source.at("temperature"), False
    return _COLDEST_C, None, False


def _from_battery(source: PowerSource, battery: Battery, charge: Fraction) -> tuple[Fraction, tuple[Term, ...]]:
    """Charge that the battery gives for what the output gives, C: the same where the output follows the battery, else
    by energy, with the terms of that."""
    if battery.voltage is None and source.kind != "ups" and battery.regulated is not True:
        return charge, ()
    inside = known(battery, "voltage", Quantity).value
    outside = voltage_of(source)
    if inside == outside and battery.regulated is not True:
        return charge, ()
    if inside <= 0:
        raise Undecided("voltage", battery.at("voltage"), stated=True)
    efficiency = above_zero(source, "efficiency")
    terms = (
        Term("output voltage", str(Measure(outside, "voltage")), source.at("voltage")),
        Term("battery voltage", str(Measure(inside, "voltage")), battery.at("voltage")),
        Term("efficiency", f"{float(efficiency) * 100:g} %", source.at("efficiency")),
    )
    return charge * outside / (inside * efficiency), terms


def charge_current(battery: Battery, capacity_c: Fraction | None = None) -> tuple[Fraction, Step]:
    """The charging current that brings back 80 % of a battery within 24 h, A, with its working; for another
    capacity, C, than the battery has where one is given."""
    capacity = known(battery, "capacity", Quantity).value if capacity_c is None else capacity_c
    factor = _LEAD_ACID_FACTOR if battery.chemistry == "lead_acid" else Fraction(1)
    value = factor * _BROUGHT_BACK * capacity / Fraction(RECHARGE_TIME_S)
    terms = (
        Term("capacity", str(Measure(capacity, "charge")), battery.at("capacity")),
        Term("charge factor", f"{float(factor):g}"),
        Term("share brought back", f"{float(_BROUGHT_BACK) * 100:g} %"),
        Term("time", str(Measure(Fraction(RECHARGE_TIME_S), "time"))),
    )
    step = Step(
        "charging current needed",
        "charge factor x share brought back x capacity / time",
        Measure(value, "current"),
        terms,
        "charge factor of lead-acid: practice",
    )
    return value, step


def next_bank(needed_c: Fraction) -> tuple[str, Fraction]:
    """The smallest usual battery of at least this capacity (C): its text and its capacity, C.

    One block, else two or more equal strings in parallel.
    """
    hour = Fraction(_SECONDS_PER_H)
    strings = 1
    while True:
        for size in USUAL_CAPACITIES_AH:
            capacity = Fraction(str(size)) * strings
            if capacity * hour >= needed_c:
                return f"{float(capacity):g} Ah", capacity * hour
        strings += 1


def _share(battery: Battery, name: str, default: Fraction) -> Fraction:
    value = getattr(battery, name)
    if value is None:
        return default.limit_denominator(1000)
    share = known(battery, name, Quantity).value
    if not 0 < share <= 1:
        raise Undecided(name, battery.at(name), stated=True)
    return share


@lru_cache(maxsize=1024)
def _exact(share: float | None) -> Fraction | None:
    return None if share is None else Fraction(share).limit_denominator(10**6)
