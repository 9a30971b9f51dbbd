"""Conductors against GNU units and against their own laws."""

from __future__ import annotations

import math
import shutil
import subprocess
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.circuit.conductors import (
    ALUMINIUM,
    AWG_STRANDING_FACTOR,
    COPPER,
    COPPER_CLAD_ALUMINIUM,
    MATERIALS,
    METRIC_AREAS_MM2,
    STOCK_AWG,
    Coating,
    Conductor,
    Construction,
    awg_area_mm2,
    awg_diameter_mm,
    awg_label,
    awg_number,
    conductor_basis,
    iec60228_maximum_ohm_per_m,
    longest_run_m,
    loop_resistance_ohm,
    next_metric_area_mm2,
    pair_loop_ohm,
    pairset_loop_ohm,
    parallel_ohm,
    permitted_loop_ohm,
    resistance_ohm_per_m,
    series_ohm,
    smallest_awg,
    temperature_factor,
)
from doorlint.circuit.network import coil_voltage_v, constant_current_voltage_v, constant_power_voltage_v

gauges = st.integers(-3, 40)
volts = st.floats(5.0, 60.0)
temperatures = st.floats(-40.0, 90.0)


def _units(expression: str, unit: str) -> float:
    program = shutil.which("units")
    if program is None:
        pytest.skip("needs units: the GNU units program is not installed")
    answer = subprocess.run([program, "-t", expression, unit], capture_output=True, text=True, timeout=20, check=True)
    return float(answer.stdout.split()[0])


@pytest.mark.parametrize("gauge", [-3, -2, -1, 0, 1, 6, 10, 12, 14, 16, 18, 19, 20, 22, 23, 24, 26, 28, 36, 40])
def test_diameter_against_gnu_units(gauge: int) -> None:
    assert awg_diameter_mm(gauge) == pytest.approx(_units(f"wiregauge({gauge})", "mm"), rel=1e-6)


def test_area_against_gnu_units() -> None:
    assert awg_area_mm2(18) == pytest.approx(_units("circlearea(wiregauge(18)/2)", "mm^2"), rel=1e-6)


def test_copper_against_gnu_units() -> None:
    # GNU units holds the conductivity as exactly 58 S m/mm2; the resistivity is usually printed rounded,
    # 1.7241e-8.
    assert COPPER.resistivity_ohm_m_20c == pytest.approx(_units("1/copperconductivity", "ohm m"), rel=3e-5)


@given(gauges)
def test_labels_round_trip(number: int) -> None:
    assert awg_number(awg_label(number)) == number


@pytest.mark.parametrize(
    ("written", "number"),
    [("18", 18), (" 22 AWG", 22), ("1/0", 0), ("0", 0), ("00", -1), ("2/0", -1), ("4/0", -3), (24, 24), (-3, -3)],
)
def test_written_gauges(written: str | int, number: int) -> None:
    assert awg_number(written) == number


@pytest.mark.parametrize("written", ["", "thick", "5/0", "41", "1.5", "-18", "/0", "00000", -4, 41, 18.0, None, True])
def test_gauges_that_are_none(written: Any) -> None:
    with pytest.raises(ValueError, match="wire gauge must be"):
        awg_number(written)


@given(st.integers(-3, 37), temperatures)
def test_three_gauges_about_halve_the_area(number: int, temperature_c: float) -> None:
    ratio = awg_area_mm2(number) / awg_area_mm2(number + 3)
    assert ratio == pytest.approx(92 ** (6 / 39), rel=1e-12)
    thick, thin = (resistance_ohm_per_m(Conductor(awg=each), temperature_c) for each in (number, number + 3))
    assert thin / thick == pytest.approx(ratio, rel=1e-12)


@given(temperatures, temperatures, temperatures)
def test_temperature_factors_compose(a: float, b: float, c: float) -> None:
    assert temperature_factor(c, reference_c=a) == pytest.approx(
        temperature_factor(b, reference_c=a) * temperature_factor(c, reference_c=b), rel=1e-12
    )


@pytest.mark.parametrize("construction", get_args(Construction))
@pytest.mark.parametrize("coating", get_args(Coating))
@pytest.mark.parametrize("described", [{"awg": 18}, {"area_mm2": 1.0}, {"area_mm2": 1.2}])
@pytest.mark.parametrize("material", MATERIALS.values(), ids=str)
def test_every_description_is_dearer_than_ideal_metal(
    construction: Construction, coating: Coating, described: dict[str, Any], material: Any
) -> None:
    conductor = Conductor(construction=construction, coating=coating, material=material, **described)
    area_mm2 = described.get("area_mm2") or awg_area_mm2(18)
    ideal = material.resistivity_ohm_m_20c / (area_mm2 * 1e-6)
    assert ideal * 0.999999 <= resistance_ohm_per_m(conductor) <= 1.25 * ideal
    assert material.name in conductor_basis(conductor) or "copper" in conductor_basis(conductor)


def test_material_order() -> None:
    ohm = [
        resistance_ohm_per_m(Conductor(awg=18, material=each)) for each in (COPPER, COPPER_CLAD_ALUMINIUM, ALUMINIUM)
    ]
    assert ohm == sorted(ohm)
    assert ohm[1] / ohm[0] > 1.5


def test_untabled_area_is_on_the_safe_side_of_its_neighbours() -> None:
    for construction in get_args(Construction):
        for area in METRIC_AREAS_MM2:
            tabled = iec60228_maximum_ohm_per_m(area, construction)
            assert tabled is not None
            nearly = resistance_ohm_per_m(Conductor(area_mm2=area * 1.000001, construction=construction))
            assert nearly >= tabled * 0.999


def test_given_resistance_overrides() -> None:
    at_75 = Conductor(awg=12, given_ohm_per_m=0.0261, given_at_c=75.0)
    assert resistance_ohm_per_m(at_75, 75.0) == pytest.approx(0.0261, rel=1e-12)
    assert resistance_ohm_per_m(at_75, 20.0) == pytest.approx(0.0261 / 1.21615, rel=1e-12)
    assert "given" in conductor_basis(at_75)


def test_parallel_conductors() -> None:
    one, four = (resistance_ohm_per_m(Conductor(awg=24, parallel=each), 40.0) for each in (1, 4))
    assert four == pytest.approx(one / 4, rel=1e-12)
    assert parallel_ohm([one] * 4) == pytest.approx(four, rel=1e-12)
    assert parallel_ohm([1.0, 0.0]) == 0.0
    assert parallel_ohm([3.0, 6.0]) == pytest.approx(2.0)


@given(st.floats(0.0, 500.0), st.lists(st.floats(0.0, 2.0), max_size=5), temperatures)
def test_loop_is_both_ways_and_the_extras(length_m: float, extras: list[float], temperature_c: float) -> None:
    wire, common = Conductor(awg=22), Conductor(awg=18, construction="stranded")
    r, r_common = (resistance_ohm_per_m(each, temperature_c) for each in (wire, common))
    loop = loop_resistance_ohm(wire, length_m, temperature_c, extra_ohm=extras)
    assert loop == pytest.approx(2 * length_m * r + sum(extras), rel=1e-12)
    loop = loop_resistance_ohm(wire, length_m, temperature_c, return_conductor=common)
    assert loop == pytest.approx(length_m * (r + r_common), rel=1e-12)
    assert pairset_loop_ohm(r, length_m) == pytest.approx(pair_loop_ohm(r, length_m) / 2)


DEMANDS = st.one_of(
    st.fixed_dictionaries({"coil_ohm": st.floats(5.0, 500.0)}),
    st.fixed_dictionaries({"current_a": st.floats(0.02, 4.0)}),
    st.fixed_dictionaries({"power_w": st.floats(0.2, 40.0)}),
)


def _voltage(source_v: float, loop_ohm: float, demand: dict[str, float]) -> float | None:
    (kind, value), *_ = demand.items()
    if kind == "coil_ohm":
        return coil_voltage_v(source_v, loop_ohm, value)
    if kind == "current_a":
        return constant_current_voltage_v(source_v, loop_ohm, value)
    return constant_power_voltage_v(source_v, loop_ohm, value)


@settings(max_examples=200)
@given(volts, st.floats(0.3, 1.2), DEMANDS, st.floats(0.0, 2.0), st.sampled_from(STOCK_AWG), temperatures)
def test_longest_run_is_where_the_voltage_meets_the_minimum(
    source_v: float, share: float, demand: dict[str, float], fixed_ohm: float, gauge: int, temperature_c: float
) -> None:
    minimum_v = share * source_v
    conductor = Conductor(awg=gauge)
    longest = longest_run_m(
        source_v=source_v,
        minimum_v=minimum_v,
        conductor=conductor,
        temperature_c=temperature_c,
        fixed_ohm=fixed_ohm,
        **demand,
    )

    def voltage(length_m: float) -> float:
        loop = loop_resistance_ohm(conductor, length_m, temperature_c, extra_ohm=(fixed_ohm,))
        return _voltage(source_v, loop, demand) or 0.0

    if longest is None:
        assert voltage(0.0) < minimum_v * (1 + 1e-9)
        return
    assert voltage(longest * (1 - 1e-6)) >= minimum_v * (1 - 1e-9)
    assert voltage(longest * (1 + 1e-4) + 1e-3) < minimum_v


@settings(max_examples=100)
@given(st.floats(1.0, 300.0), st.floats(0.05, 40.0), st.floats(0.0, 0.5), temperatures)
def test_smallest_gauge_passes_and_the_next_thinner_does_not(
    length_m: float, permitted_ohm: float, fixed_ohm: float, temperature_c: float
) -> None:
    def loop(gauge: int) -> float:
        return loop_resistance_ohm(Conductor(awg=gauge), length_m, temperature_c, extra_ohm=(fixed_ohm,))

    chosen = smallest_awg(
        length_m=length_m, permitted_ohm=permitted_ohm, temperature_c=temperature_c, fixed_ohm=fixed_ohm
    )
    if chosen is None:
        assert loop(min(STOCK_AWG)) > permitted_ohm
    else:
        assert loop(chosen) <= permitted_ohm
        assert all(loop(each) > permitted_ohm for each in STOCK_AWG if each > chosen)


def test_constant_power_is_stopped_by_collapse_not_by_a_low_minimum() -> None:
    # Below half the source voltage there is no stable point, so a device that tolerates 3 V gains nothing
    # over 6 V.
    low, half = (permitted_loop_ohm(source_v=12.0, minimum_v=each, power_w=3.0) for each in (3.0, 6.0))
    assert low == half == pytest.approx(12.0)
    assert permitted_loop_ohm(source_v=12.0, minimum_v=9.0, power_w=3.0) == pytest.approx(9.0)
    assert permitted_loop_ohm(source_v=12.0, minimum_v=12.1, power_w=3.0) is None


def test_next_metric_area() -> None:
    assert next_metric_area_mm2(0.5) == 0.75
    assert next_metric_area_mm2(0.6) == 0.75
    assert next_metric_area_mm2(10.0) is None
    assert iec60228_maximum_ohm_per_m(0.6) is None


def test_bases_in_words() -> None:
    assert conductor_basis(Conductor(awg=-1)) == "2/0 AWG by the ASTM B258 formula, copper"
    stranded = conductor_basis(Conductor(awg=18, construction="stranded"))
    assert stranded.endswith(f"stranded plain factor {AWG_STRANDING_FACTOR:.3f}")
    assert "class 5" in conductor_basis(Conductor(area_mm2=0.75, construction="flexible"))
    assert "resistivity over 0.8 mm2" in conductor_basis(Conductor(area_mm2=0.8))
    with pytest.raises(ValueError, match="needs a wire gauge"):
        conductor_basis(Conductor())


BAD = [math.nan, math.inf, -1.0]


@pytest.mark.parametrize("bad", BAD)
def test_meaningless_numbers_are_refused(bad: float) -> None:
    wire = Conductor(awg=18)
    with pytest.raises(ValueError, match="length_m"):
        loop_resistance_ohm(wire, bad)
    with pytest.raises(ValueError, match="series part"):
        series_ohm([0.1, bad])
    with pytest.raises(ValueError, match="parallel part"):
        parallel_ohm([bad])
    with pytest.raises(ValueError, match="area_mm2"):
        resistance_ohm_per_m(Conductor(area_mm2=bad))
    with pytest.raises(ValueError, match="given_ohm_per_m"):
        resistance_ohm_per_m(Conductor(given_ohm_per_m=bad))
    with pytest.raises(ValueError, match="current_a"):
        permitted_loop_ohm(source_v=12.0, minimum_v=10.0, current_a=bad)
    with pytest.raises(ValueError, match="fixed_ohm"):
        longest_run_m(source_v=12.0, minimum_v=10.0, conductor=wire, current_a=1.0, fixed_ohm=bad)


def test_other_refusals() -> None:
    with pytest.raises(ValueError, match="at least one conductor"):
        parallel_ohm([])
    with pytest.raises(ValueError, match="exactly one"):
        permitted_loop_ohm(source_v=12.0, minimum_v=10.0)
    with pytest.raises(ValueError, match="exactly one"):
        permitted_loop_ohm(source_v=12.0, minimum_v=10.0, coil_ohm=24.0, power_w=3.0)
    with pytest.raises(ValueError, match="pairsets"):
        pairset_loop_ohm(0.08, 10.0, pairsets=3)
    with pytest.raises(ValueError, match="parallel must be"):
        resistance_ohm_per_m(Conductor(awg=18, parallel=0))
    with pytest.raises(ValueError, match="range of the linear law"):
        temperature_factor(-300.0)
    with pytest.raises(ValueError, match="needs a wire gauge"):
        resistance_ohm_per_m(Conductor())


def test_the_excess_outside_the_metric_table_is_the_largest_inside_it_rounded_up() -> None:
    constructions: tuple[Construction, ...] = get_args(Construction)
    for construction in constructions:
        largest = max(
            (iec60228_maximum_ohm_per_m(area, construction) or 0) / (COPPER.resistivity_ohm_m_20c / (area * 1e-6))
            for area in METRIC_AREAS_MM2
        )
        used = resistance_ohm_per_m(Conductor(area_mm2=3.0, construction=construction)) / (
            COPPER.resistivity_ohm_m_20c / 3.0e-6
        )
        assert largest <= used < largest + 0.01
    tinned = resistance_ohm_per_m(Conductor(area_mm2=3.0, coating="tinned"))
    plain = resistance_ohm_per_m(Conductor(area_mm2=3.0))
    assert tinned / plain == pytest.approx(1.03)  # 1.5 mm2 class 5: 13.7 over 13.3


def test_a_metal_other_than_copper_has_no_row_in_the_copper_table() -> None:
    assert "resistivity over 1.5 mm2" in conductor_basis(Conductor(area_mm2=1.5, material=ALUMINIUM))
    assert "IEC 60228" in conductor_basis(Conductor(area_mm2=1.5)).partition(" largest")[0]
