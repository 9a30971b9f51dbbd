"""Conductor resistance: wire gauges, metric sizes, temperature, loops, category cable pairs, contacts,
longest run.

Every function is pure and works on plain floats; the unit stands in each name. A "loop" is both ways of a
run: a run of length L (one way) in a two-wire cable has a loop of 2 L. Nothing here doubles a length
silently: functions that return a loop say so in their name, all others are about one conductor.

Three things that look alike and are not:

* resistance from the *gauge formula* is nominal; real stranded wire is a few per cent higher (lay of the
  strands);
* *metric* sizes are defined by their largest resistance (IEC 60228), not by area: resistivity over nominal
  area is 4 to 7 % too low for class 1 and 2 and 13 to 16 % too low for class 5;
* the copper coefficient 0.00393 per kelvin belongs to a 20 degC value; 0.00323 belongs to a 75 degC value.

All functions raise `ValueError`, naming the argument, for a value that has no physical meaning (a negative
length, a zero current, not-a-number). They never return not-a-number or infinity.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from .numbers import computed

__all__ = [
    "ALUMINIUM",
    "AWG_STRANDING_FACTOR",
    "CATEGORY_CONDUCTOR_AWG",
    "CHANNEL_PAIR_LOOP_LIMIT_OHM",
    "CONTACT_OHM",
    "COPPER",
    "COPPER_CLAD_ALUMINIUM",
    "CORD_CONDUCTOR_LIMIT_OHM_PER_M",
    "HORIZONTAL_CONDUCTOR_LIMIT_OHM_PER_M",
    "MATERIALS",
    "SPLICE_OHM",
    "STOCK_AWG",
    "TRANSFER_CONDUCTOR_OHM",
    "Conductor",
    "Material",
    "awg_area_mm2",
    "awg_diameter_mm",
    "awg_label",
    "awg_number",
    "conductor_basis",
    "iec60228_maximum_ohm_per_m",
    "longest_run_m",
    "loop_resistance_ohm",
    "next_metric_area_mm2",
    "pair_loop_ohm",
    "pairset_loop_ohm",
    "parallel_ohm",
    "permitted_loop_ohm",
    "resistance_ohm_per_m",
    "resistivity_ohm_m",
    "series_ohm",
    "smallest_awg",
    "temperature_factor",
]

Construction = Literal["solid", "stranded", "flexible"]
Coating = Literal["plain", "tinned"]

REFERENCE_TEMPERATURE_C = 20.0


@dataclass(frozen=True, slots=True)
class Material:
    """A conductor metal: name, resistivity at 20 degC in ohm metre, temperature coefficient at 20 degC per
    kelvin.
    """

    name: str
    resistivity_ohm_m_20c: float
    alpha_20c_per_k: float
    source: str


COPPER = Material(
    "copper",
    1.7241e-8,
    0.00393,
    "annealed copper, 100 % of the International Annealed Copper Standard (IEC 60028, ASTM B193)",
)
ALUMINIUM = Material(
    "aluminium",
    1.7241e-8 / 0.61,
    0.00403,
    "electrical grade aluminium, 61 % of the International Annealed Copper Standard",
)
COPPER_CLAD_ALUMINIUM = Material(
    "copper-clad aluminium",
    2.743e-8,
    0.00402,
    "largest resistivity of wire with 10 % copper by volume, ASTM B566 class 10A, from memory",
)
MATERIALS: Final = MappingProxyType({each.name: each for each in (COPPER, ALUMINIUM, COPPER_CLAD_ALUMINIUM)})

# NEC Chapter 9 Table 8 prints 7-strand uncoated copper 2.1 to 2.6 % above the solid gauge formula for 18 to
# 10 AWG; the middle of that band stays within 0.3 % of every printed value.
AWG_STRANDING_FACTOR = 1.023
# Common practice, no source: bunched fine wires have a longer lay than seven strands.
AWG_FLEXIBLE_FACTOR = 1.05
# NEC Chapter 9 Table 8, coated against uncoated column: 1.039 to 1.041 solid; stranded 1.035 to 1.040 for
# 14 AWG and thicker, 1.060 to 1.063 for 16 and 18 AWG (thin strands carry more coating for their area).
AWG_TINNED_FACTOR = 1.04
AWG_TINNED_THIN_STRAND_FACTOR = 1.06

# IEC 60228 (3rd edition, 2004), Tables 1, 2 and 3: largest resistance at 20 degC in ohm per km, for
# (solid class 1 and stranded class 2, flexible class 5), plain and metal-coated copper. 6 and 10 mm2 from
# memory.
_IEC60228_OHM_PER_KM: dict[Coating, dict[float, tuple[float, float]]] = {
    "plain": {
        0.5: (36.0, 39.0),
        0.75: (24.5, 26.0),
        1.0: (18.1, 19.5),
        1.5: (12.1, 13.3),
        2.5: (7.41, 7.98),
        4.0: (4.61, 4.95),
        6.0: (3.08, 3.30),
        10.0: (1.83, 1.91),
    },
    "tinned": {
        0.5: (36.7, 40.1),
        0.75: (24.8, 26.7),
        1.0: (18.2, 20.0),
        1.5: (12.2, 13.7),
        2.5: (7.56, 8.21),
        4.0: (4.70, 5.09),
        6.0: (3.11, 3.39),
        10.0: (1.84, 1.95),
    },
}
METRIC_AREAS_MM2 = tuple(_IEC60228_OHM_PER_KM["plain"])
# For an area outside the table: the largest excess over resistivity / area found inside it (IEC 60228, same
# tables).
_METRIC_EXCESS: dict[Construction, float] = {"solid": 1.08, "stranded": 1.08, "flexible": 1.16}
_METRIC_TINNED_FACTOR = 1.03

#: Usual solid conductor gauge of the horizontal cable of a category (common practice, no source).
CATEGORY_CONDUCTOR_AWG: Final = MappingProxyType({"5": 24, "5e": 24, "6": 23, "6a": 23, "7": 23, "7a": 22, "8": 22})
#: Largest direct-current loop resistance of one pair of a channel, ohm (ISO/IEC 11801, from memory).
CHANNEL_PAIR_LOOP_LIMIT_OHM: Final = MappingProxyType(
    {"C": 40.0, "D": 25.0, "E": 25.0, "EA": 25.0, "F": 25.0, "FA": 25.0}
)
#: Largest conductor resistance of horizontal category cable and of a cord at 20 degC, ohm per m
#: (ANSI/TIA-568, from memory).
HORIZONTAL_CONDUCTOR_LIMIT_OHM_PER_M = 0.0938
CORD_CONDUCTOR_LIMIT_OHM_PER_M = 0.140

#: (new, aged) resistance in ohm of one relay or terminal contact: common practice, no source.
CONTACT_OHM = (0.05, 0.2)
#: (new, aged) resistance in ohm of one splice: common practice, no source.
SPLICE_OHM = (0.02, 0.2)
#: (low, high) resistance in ohm of one conductor through a power-transfer hinge or loop: common practice,
#: no source.
TRANSFER_CONDUCTOR_OHM = (0.02, 0.15)

#: Gauges that door cable is commonly bought in, thin to thick (common practice, no source).
STOCK_AWG = (24, 22, 20, 18, 16, 14, 12, 10, 8, 6)


def _finite(name: str, value: float, *, above: float | None = None, at_least: float | None = None) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{name} must be a finite number, got {value!r}")
    if above is not None and value <= above:
        raise ValueError(f"{name} must be above {above:g}, got {value!r}")
    if at_least is not None and value < at_least:
        raise ValueError(f"{name} must be at least {at_least:g}, got {value!r}")
    return float(value)


def _count(name: str, value: int, least: int = 1) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < least:
        raise ValueError(f"{name} must be a whole number of at least {least}, got {value!r}")
    return value


# --- wire gauges ------------------------------------------------------------------------------------------


def awg_number(label: str | int) -> int:
    """Gauge number of a gauge written "18", 18, "2/0" or "00": 1/0 is 0, 2/0 is -1, 3/0 is -2, 4/0 is -3.

    Raises ValueError, saying what is accepted, for anything else or a gauge outside 4/0 to 40.
    """
    number: int | None = None
    if isinstance(label, int) and not isinstance(label, bool):
        number = label
    elif isinstance(label, str):
        text = label.strip().lower().removesuffix("awg").strip()
        if text.endswith("/0") and text[:-2].isdecimal():
            number = 1 - int(text[:-2])
        elif set(text) == {"0"}:
            number = 1 - len(text)
        elif text.isdecimal():
            number = int(text)
    if number is None or not -3 <= number <= 40:
        raise ValueError(f"wire gauge must be 4/0 to 40, written 18 or 2/0, got {label!r}")
    return number


def awg_label(number: int) -> str:
    """How a gauge number is written: 18 gives "18", -1 gives "2/0"."""
    awg_number(number)
    return str(number) if number > 0 else f"{1 - number}/0"


def awg_diameter_mm(number: int) -> float:
    """Diameter in mm of the solid wire of a gauge: 0.127 * 92**((36 - n) / 39) (ASTM B258)."""
    return 0.127 * math.pow(92.0, (36 - awg_number(number)) / 39)


def awg_area_mm2(number: int) -> float:
    """Cross-section in mm2 of the solid wire of a gauge: pi/4 d**2 with the ASTM B258 diameter."""
    diameter_mm = awg_diameter_mm(number)
    return math.pi / 4 * diameter_mm * diameter_mm


# --- resistance of one conductor --------------------------------------------------------------------------


@computed
def temperature_factor(
    temperature_c: float,
    alpha_20c_per_k: float = COPPER.alpha_20c_per_k,
    reference_c: float = REFERENCE_TEMPERATURE_C,
) -> float:
    """R(temperature) / R(reference) of a metal whose coefficient at 20 degC is given.

    Linear law R = R20 (1 + alpha20 (T - 20)), as used for conductors and copper coils alike between about
    -50 and 150 degC.
    """
    temperature_c = _finite("temperature_c", temperature_c)
    alpha = _finite("alpha_20c_per_k", alpha_20c_per_k, at_least=0.0)
    at_temperature = 1 + alpha * (temperature_c - 20.0)
    at_reference = 1 + alpha * (_finite("reference_c", reference_c) - 20.0)
    if at_temperature <= 0 or at_reference <= 0:
        raise ValueError(f"temperature_c {temperature_c:g} is outside the range of the linear law")
    return at_temperature / at_reference


def resistivity_ohm_m(material: Material = COPPER, temperature_c: float = REFERENCE_TEMPERATURE_C) -> float:
    """Resistivity in ohm metre at a temperature."""
    return material.resistivity_ohm_m_20c * temperature_factor(temperature_c, material.alpha_20c_per_k)


@dataclass(frozen=True, slots=True)
class Conductor:
    """One conductor as described: a gauge, or an area, or a measured or data-sheet resistance, which
    overrides both.

    construction: solid (IEC 60228 class 1), stranded (class 2) or flexible (class 5). parallel: equal
    conductors doubled up as one. given_ohm_per_m holds at given_at_c and is per single conductor, not per
    loop.
    """

    awg: int | None = None
    area_mm2: float | None = None
    construction: Construction = "solid"
    coating: Coating = "plain"
    material: Material = COPPER
    given_ohm_per_m: float | None = None
    given_at_c: float = REFERENCE_TEMPERATURE_C
    parallel: int = 1


def iec60228_maximum_ohm_per_m(
    area_mm2: float, construction: Construction = "solid", coating: Coating = "plain"
) -> float | None:
    """Largest resistance at 20 degC of a copper conductor of a standard metric size, ohm per m; None if not
    a tabled size.
    """
    area = _finite("area_mm2", area_mm2, above=0.0)
    row = _IEC60228_OHM_PER_KM[coating].get(area)
    if row is None:
        return None
    return row[1 if construction == "flexible" else 0] / 1000


def next_metric_area_mm2(area_mm2: float) -> float | None:
    """The next thicker tabled metric size, or None above 10 mm2."""
    return next((each for each in METRIC_AREAS_MM2 if each > area_mm2), None)


def _awg_factor(number: int, construction: Construction, coating: Coating) -> float:
    strand = {"solid": 1.0, "stranded": AWG_STRANDING_FACTOR, "flexible": AWG_FLEXIBLE_FACTOR}[construction]
    if coating == "plain":
        return strand
    thin = construction != "solid" and number >= 15
    return strand * (AWG_TINNED_THIN_STRAND_FACTOR if thin else AWG_TINNED_FACTOR)


def resistance_ohm_per_m(conductor: Conductor, temperature_c: float = REFERENCE_TEMPERATURE_C) -> float:
    """Resistance of the conductor, one way, in ohm per m at a temperature.

    A given (measured or data-sheet) resistance wins; then the gauge by formula with its stranding and
    coating factor; then the metric size by the IEC 60228 maximum, or for a size or metal outside that table
    resistivity over area with the table's largest excess. Raises ValueError when none of the three is
    given.
    """
    count = _count("parallel", conductor.parallel)
    alpha = conductor.material.alpha_20c_per_k
    if conductor.given_ohm_per_m is not None:
        given = _finite("given_ohm_per_m", conductor.given_ohm_per_m, above=0.0)
        return given * temperature_factor(temperature_c, alpha, conductor.given_at_c) / count
    factor = temperature_factor(temperature_c, alpha) / count
    if conductor.awg is not None:
        number = awg_number(conductor.awg)
        solid = conductor.material.resistivity_ohm_m_20c / (awg_area_mm2(number) * 1e-6)
        return solid * _awg_factor(number, conductor.construction, conductor.coating) * factor
    if conductor.area_mm2 is not None:
        tabled = None
        if conductor.material.name == COPPER.name:
            tabled = iec60228_maximum_ohm_per_m(conductor.area_mm2, conductor.construction, conductor.coating)
        if tabled is not None:
            return tabled * factor
        area = _finite("area_mm2", conductor.area_mm2, above=0.0)
        excess = _METRIC_EXCESS[conductor.construction]
        coat = _METRIC_TINNED_FACTOR if conductor.coating == "tinned" else 1.0
        return conductor.material.resistivity_ohm_m_20c / (area * 1e-6) * excess * coat * factor
    raise ValueError("a conductor needs a wire gauge, an area or a resistance per metre")


def conductor_basis(conductor: Conductor) -> str:
    """In words, for a written calculation: where resistance_ohm_per_m took its value from."""
    if conductor.given_ohm_per_m is not None:
        return f"given resistance per metre at {conductor.given_at_c:g} degC"
    material = conductor.material.name
    if conductor.awg is not None:
        factor = _awg_factor(awg_number(conductor.awg), conductor.construction, conductor.coating)
        text = f"{awg_label(conductor.awg)} AWG by the ASTM B258 formula, {material}"
        if factor == 1:
            return text
        return f"{text}, {conductor.construction} {conductor.coating} factor {factor:.3f}"
    if conductor.area_mm2 is None:
        raise ValueError("a conductor needs a wire gauge, an area or a resistance per metre")
    number = {"solid": 1, "stranded": 2, "flexible": 5}[conductor.construction]
    if conductor.material.name == COPPER.name and conductor.area_mm2 in METRIC_AREAS_MM2:
        tinned = f"{conductor.coating} copper"
        return f"IEC 60228 largest resistance, {conductor.area_mm2:g} mm2 class {number}, {tinned}"
    excess = f"the largest IEC 60228 class {number} excess"
    return f"resistivity over {conductor.area_mm2:g} mm2 with {excess}, {material}"


# --- series, parallel, loops ------------------------------------------------------------------------------


def series_ohm(parts: Iterable[float]) -> float:
    """Sum of resistances in series (contacts, splices, transfer conductors, cable), each zero or more."""
    return math.fsum(_finite("series part", each, at_least=0.0) for each in parts)


def parallel_ohm(parts: Iterable[float]) -> float:
    """Resistance of conductors in parallel; zero if any of them is zero. Raises ValueError for none at all."""
    values = [_finite("parallel part", each, at_least=0.0) for each in parts]
    if not values:
        raise ValueError("at least one conductor is needed")
    if min(values) == 0:
        return 0.0
    return 1 / math.fsum(1 / each for each in values)


def loop_resistance_ohm(
    conductor: Conductor,
    length_m: float,
    temperature_c: float = REFERENCE_TEMPERATURE_C,
    *,
    return_conductor: Conductor | None = None,
    extra_ohm: Iterable[float] = (),
) -> float:
    """Loop resistance in ohm of a two-wire run of one-way length_m, out and back, plus the extra parts in
    series.

    return_conductor: the way back when it differs (a doubled return, a thicker common). extra_ohm:
    contacts, splices and transfer conductors, each counted as often as the current passes it.
    """
    length = _finite("length_m", length_m, at_least=0.0)
    out = resistance_ohm_per_m(conductor, temperature_c)
    back = out if return_conductor is None else resistance_ohm_per_m(return_conductor, temperature_c)
    return (out + back) * length + series_ohm(extra_ohm)


@computed
def pair_loop_ohm(conductor_ohm_per_m: float, length_m: float) -> float:
    """Loop resistance in ohm of one pair, one wire out and the other back: 2 r L (the figure cable
    standards limit).
    """
    return (
        2 * _finite("conductor_ohm_per_m", conductor_ohm_per_m, above=0.0) * _finite("length_m", length_m, at_least=0.0)
    )


@computed
def pairset_loop_ohm(conductor_ohm_per_m: float, length_m: float, pairsets: int = 1) -> float:
    """Loop resistance in ohm as power over Ethernet uses a cable: one pair out, one pair back, wires of a
    pair in parallel.

    r L for one pairset (two pairs), r L / 2 for two pairsets (four pairs): half and a quarter of the one-
    pair loop.
    """
    if pairsets not in (1, 2):
        raise ValueError(f"pairsets must be 1 (two pairs) or 2 (four pairs), got {pairsets!r}")
    return pair_loop_ohm(conductor_ohm_per_m, length_m) / (2 * pairsets)


# --- what passes ------------------------------------------------------------------------------------------


@computed
def permitted_loop_ohm(
    *,
    source_v: float,
    minimum_v: float,
    coil_ohm: float | None = None,
    current_a: float | None = None,
    power_w: float | None = None,
) -> float | None:
    """Largest loop resistance in ohm that leaves minimum_v at one load; None when no loop, however short,
    does.

    Give exactly one of coil_ohm (R_c (V_s/V_min - 1)), current_a ((V_s - V_min)/I) or power_w ((V_s - v) v
    / P with v = max(V_min, V_s/2): below half the source voltage a constant-power load has no stable
    operating point).
    """
    source = _finite("source_v", source_v, above=0.0)
    minimum = _finite("minimum_v", minimum_v, above=0.0)
    if sum(each is not None for each in (coil_ohm, current_a, power_w)) != 1:
        raise ValueError("give exactly one of coil_ohm, current_a and power_w")
    if source < minimum:
        return None
    if coil_ohm is not None:
        return _finite("coil_ohm", coil_ohm, above=0.0) * (source / minimum - 1)
    if current_a is not None:
        return (source - minimum) / _finite("current_a", current_a, above=0.0)
    assert power_w is not None
    voltage = max(minimum, source / 2)
    return (source - voltage) * voltage / _finite("power_w", power_w, above=0.0)


def longest_run_m(
    *,
    source_v: float,
    minimum_v: float,
    conductor: Conductor,
    temperature_c: float = REFERENCE_TEMPERATURE_C,
    fixed_ohm: float = 0.0,
    coil_ohm: float | None = None,
    current_a: float | None = None,
    power_w: float | None = None,
) -> float | None:
    """Longest one-way run in m of a two-wire cable that leaves minimum_v at one load; None when not even
    zero length does.

    fixed_ohm: contacts, splices and transfer conductors, which do not grow with the length. The load as in
    permitted_loop_ohm. Closed form: (permitted loop - fixed_ohm) / (2 r).
    """
    permitted = permitted_loop_ohm(
        source_v=source_v, minimum_v=minimum_v, coil_ohm=coil_ohm, current_a=current_a, power_w=power_w
    )
    fixed = _finite("fixed_ohm", fixed_ohm, at_least=0.0)
    if permitted is None or permitted < fixed:
        return None
    return (permitted - fixed) / (2 * resistance_ohm_per_m(conductor, temperature_c))


def smallest_awg(
    *,
    length_m: float,
    permitted_ohm: float,
    temperature_c: float = REFERENCE_TEMPERATURE_C,
    fixed_ohm: float = 0.0,
    construction: Construction = "solid",
    coating: Coating = "plain",
    material: Material = COPPER,
    gauges: Iterable[int] = STOCK_AWG,
) -> int | None:
    """Thinnest of the gauges whose loop over a one-way run, plus fixed_ohm, stays within permitted_ohm;
    None if none does.
    """
    permitted = _finite("permitted_ohm", permitted_ohm, at_least=0.0)
    fixed = _finite("fixed_ohm", fixed_ohm, at_least=0.0)
    for number in sorted(gauges, reverse=True):
        conductor = Conductor(awg=number, construction=construction, coating=coating, material=material)
        if loop_resistance_ohm(conductor, length_m, temperature_c, extra_ohm=(fixed,)) <= permitted:
            return number
    return None
