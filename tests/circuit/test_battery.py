"""Batteries: sizing and autonomy as inverses, tables, Peukert's law, charging."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from doorlint.circuit import battery
from doorlint.circuit.battery import Bank, Derating, Duty

deratings = st.builds(
    Derating,
    ageing=st.floats(1, 1.5),
    temperature_share=st.floats(0.5, 1),
    rate_share=st.floats(0.4, 1),
    end_voltage_share=st.floats(0.7, 1),
    design_margin=st.floats(1, 1.3),
)


@given(deratings, st.floats(0.01, 10), st.floats(60, 72 * 3600), st.floats(0, 5), st.floats(0, 3600))
@settings(max_examples=100, deadline=None)
def test_autonomy_is_the_inverse_of_sizing(
    derating: Derating, standby: float, seconds: float, alarm: float, alarm_s: float
) -> None:
    reserve = (Duty(alarm, alarm_s),)
    needed = battery.required_capacity_ah((Duty(standby, seconds), *reserve), derating)
    assert battery.autonomy_s(needed, standby, derating, reserve) == pytest.approx(seconds, rel=1e-6)
    assert battery.autonomy_s(needed * 1.1, standby, derating, reserve) > seconds


def test_a_reserve_larger_than_the_battery_leaves_nothing() -> None:
    assert battery.autonomy_s(1.0, 0.5, Derating(), (Duty(10.0, 3600.0),)) == 0.0


@given(deratings)
@settings(max_examples=60, deadline=None)
def test_derating_never_makes_a_battery_larger(derating: Derating) -> None:
    assert derating.factor >= 1
    assert battery.usable_capacity_ah(7.0, derating) * derating.factor == pytest.approx(7.0)


def test_every_reason_counts_once() -> None:
    assert Derating(1.25, 0.8, 0.85, 0.92, 1.1).factor == pytest.approx(1.25 * 1.1 / (0.8 * 0.85 * 0.92))


@pytest.mark.parametrize(
    ("function", "low", "high", "rising"),
    [
        (battery.ieee_485_temperature_factor, -3.9, 51.7, False),
        (battery.practice_temperature_share, -20.0, 40.0, True),
        (battery.practice_rate_share, 1800.0, 90000.0, True),
        (battery.practice_end_voltage_share, 1.6, 1.9, False),
    ],
)
def test_tables_are_monotonic_without_gaps(function: object, low: float, high: float, rising: bool) -> None:
    assert callable(function)
    values = [function(float(x)) for x in np.linspace(low, high, 400)]
    assert None not in values
    steps = np.diff(values)
    assert np.all(steps >= -1e-12) if rising else np.all(steps <= 1e-12)
    assert np.max(np.abs(steps)) < 0.02


@pytest.mark.parametrize(
    ("function", "outside"),
    [
        (battery.ieee_485_temperature_factor, (-4.0, 51.8)),
        (battery.practice_temperature_share, (-20.1,)),
        (battery.practice_rate_share, (1799.0,)),
        (battery.practice_end_voltage_share, (1.91,)),
    ],
)
def test_outside_a_table_the_answer_is_open(function: object, outside: tuple[float, ...]) -> None:
    assert callable(function)
    assert [function(x) for x in outside] == [None] * len(outside)


@given(st.floats(1, 100), st.floats(0.05, 60))
@settings(max_examples=100, deadline=None)
def test_autonomy_with_rate_shares_solves_its_equation(rated: float, current: float) -> None:
    derating = Derating()
    plain_h = rated / 1.25 / current
    found = battery.autonomy_at_practice_rate_s(rated, current, derating)
    if plain_h * 0.5 < 0.5:
        assert found is None
        return
    assert found is not None
    if plain_h >= 20:
        assert found == pytest.approx(plain_h * 3600)
        return
    root = brentq(lambda h: h - plain_h * (battery.practice_rate_share(h * 3600) or math.nan), 0.5, 20.0, xtol=1e-12)
    assert found == pytest.approx(root * 3600, rel=1e-9)


@given(st.floats(1, 100), st.floats(0.05, 50), st.floats(1, 1.5))
@settings(max_examples=100, deadline=None)
def test_peukert_time_and_share_belong_together(rated: float, current: float, exponent: float) -> None:
    seconds = battery.peukert_time_s(rated, 72000.0, current, exponent)
    # The charge that comes out in that time is the share of the rated capacity.
    assert current * seconds / 3600 == pytest.approx(rated * battery.peukert_rate_share(seconds, 72000.0, exponent))


def test_voltages() -> None:
    assert battery.cells(12.0) == 6
    assert battery.end_voltage_v(12.0) == pytest.approx(10.5)
    assert battery.end_voltage_v(24.0) == pytest.approx(21.0)
    assert battery.float_voltage_v(12.0) == pytest.approx(13.62)
    assert battery.float_voltage_v(24.0, 5.0) == pytest.approx(27.24 + 12 * 0.06)
    with pytest.raises(ValueError, match="steps of 2 V"):
        battery.cells(13.0)
    with pytest.raises(ValueError, match="steps of 2 V"):
        battery.cells(0.5)


def test_a_string_adds_volts_and_a_parallel_string_adds_capacity() -> None:
    bank = Bank(12.0, 7.0, series=2, parallel=3)
    assert bank.voltage_v == 24.0
    assert bank.capacity_ah == 21.0
    with pytest.raises(ValueError, match="1 or more"):
        Bank(12.0, 7.0, series=0)


@given(st.floats(1, 100), st.floats(0.05, 5))
@settings(max_examples=60, deadline=None)
def test_charging_current_and_time_are_inverse(capacity: float, current: float) -> None:
    seconds = battery.charge_time_s(capacity, current)
    assert battery.charge_current_a(capacity, seconds) == pytest.approx(current)


@pytest.mark.parametrize(("required", "size"), [(0.0, 1.2), (7.0, 7.0), (7.01, 12.0), (100.0, 100.0), (100.1, None)])
def test_next_capacity(required: float, size: float | None) -> None:
    assert battery.next_capacity_ah(required) == size


def test_life() -> None:
    year = 365.25 * 86400
    assert battery.service_life_s(5 * year, 35.0) == pytest.approx(2.5 * year)
    assert battery.service_life_s(5 * year, 45.0) == pytest.approx(1.25 * year)
    assert battery.service_life_s(5 * year, 10.0) == pytest.approx(5 * year)
    assert battery.days_of_operation(100_000, 200) == pytest.approx(250)


@pytest.mark.parametrize(
    "call",
    [
        lambda: Duty(-1.0, 60.0),
        lambda: Duty(math.nan, 60.0),
        lambda: Duty(1.0, math.inf),
        lambda: Derating(ageing=0.9),
        lambda: Derating(ageing=math.nan),
        lambda: Derating(temperature_share=0.0),
        lambda: Derating(rate_share=math.nan),
        lambda: Derating(end_voltage_share=1.5),
        lambda: battery.usable_capacity_ah(0.0, Derating()),
        lambda: battery.autonomy_s(7.0, 0.0, Derating()),
        lambda: battery.autonomy_at_practice_rate_s(7.0, 0.0, Derating()),
        lambda: battery.ieee_485_temperature_factor(math.nan),
        lambda: battery.practice_temperature_share(math.inf),
        lambda: battery.practice_rate_share(0.0),
        lambda: battery.practice_end_voltage_share(math.nan),
        lambda: battery.peukert_time_s(7.0, 72000.0, 1.0, 0.9),
        lambda: battery.peukert_rate_share(-1.0, 72000.0),
        lambda: battery.end_voltage_v(12.0, 0.0),
        lambda: battery.float_voltage_v(12.0, math.nan),
        lambda: battery.charge_current_a(7.0, 0.0),
        lambda: battery.charge_current_a(7.0, fraction=0.0),
        lambda: battery.charge_time_s(7.0, 0.0),
        lambda: battery.charge_time_s(7.0, 1.0, charge_factor=0.5),
        lambda: battery.service_life_s(0.0, 25.0),
        lambda: battery.days_of_operation(1000.0, 0.0),
        lambda: battery.next_capacity_ah(math.nan),
    ],
)
def test_bad_numbers_raise_value_error(call: object) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match="must"):
        call()


# -- tables, limits and edges ------------------------------------------------------------------------


def test_the_next_usual_battery_is_the_smallest_that_is_enough() -> None:
    """Block capacities that the trade stocks at 12 V (common practice, no source)."""
    usual = [1.2, 2.3, 3.4, 7, 12, 18, 26, 40, 65, 100]
    assert [battery.next_capacity_ah(size) for size in usual] == usual
    assert [battery.next_capacity_ah(size + 0.01) for size in [0, *usual]] == [*usual, None]


@pytest.mark.parametrize(
    ("cell_end_v", "share"), [(1.6, 1.0), (1.75, 1.0), (1.80, 0.97), (1.825, 0.945), (1.85, 0.92), (1.90, 0.83)]
)
def test_stopping_early_leaves_charge_behind(cell_end_v: float, share: float) -> None:
    """Common practice, no source; linear between the figures."""
    assert battery.practice_end_voltage_share(cell_end_v) == pytest.approx(share)


@pytest.mark.parametrize(
    ("hours", "share"), [(0.5, 0.5), (1, 0.6), (3, 0.75), (5, 0.85), (10, 0.93), (20, 1.0), (100, 1.0)]
)
def test_a_faster_discharge_brings_out_less(hours: float, share: float) -> None:
    """Common practice, no source."""
    assert battery.practice_rate_share(hours * 3600) == pytest.approx(share)


@pytest.mark.parametrize(("temperature_c", "share"), [(-20, 0.65), (-10, 0.725), (0, 0.8), (10, 0.9), (20, 1), (40, 1)])
def test_cold_leaves_less(temperature_c: float, share: float) -> None:
    """Common practice, no source; linear between the figures."""
    assert battery.practice_temperature_share(temperature_c) == pytest.approx(share)


@pytest.mark.parametrize(
    ("temperature_c", "factor"),
    [
        (-3.9, 1.52), (4.4, 1.30), (10.0, 1.19), (15.6, 1.11), (18.3, 1.08), (21.1, 1.04), (25.0, 1.00),
        (32.2, 0.94), (37.8, 0.91), (43.3, 0.88), (48.9, 0.86), (51.7, 0.85),
    ],
)  # fmt: skip
def test_the_rows_of_the_temperature_table(temperature_c: float, factor: float) -> None:
    """IEEE 485 Table 1 (from memory), rows at 25, 40, 50, 60, 65, 70, 77, 90, 100, 110, 120 and 125 degF."""
    assert battery.ieee_485_temperature_factor(temperature_c) == pytest.approx(factor)


def test_practice_rate_shares_stand_in_place_of_the_rate_share_given() -> None:
    plain = battery.autonomy_at_practice_rate_s(7.0, 0.8, Derating())
    assert plain is not None
    assert battery.autonomy_at_practice_rate_s(7.0, 0.8, Derating(rate_share=0.5)) == pytest.approx(plain)


def test_an_exponent_from_one_to_two() -> None:
    # at exponent 2 the time falls with the square of the current: 10 Ah over 20 h, twice the current, a quarter
    assert battery.peukert_time_s(10.0, 72000.0, 1.0, 2.0) == pytest.approx(72000 / 4)
    assert battery.peukert_rate_share(18000.0, 72000.0, 2.0) == pytest.approx(0.5)
    for wrong in (0.99, 2.01):
        with pytest.raises(ValueError, match="between 1 and 2"):
            battery.peukert_time_s(10.0, 72000.0, 1.0, wrong)
        with pytest.raises(ValueError, match="between 1 and 2"):
            battery.peukert_rate_share(18000.0, 72000.0, wrong)


def test_blocks_in_series_add_volts_and_strings_add_hours() -> None:
    assert (Bank(12.0, 7.0).voltage_v, Bank(12.0, 7.0).capacity_ah) == (12.0, 7.0)
    assert (Bank(12.0, 7.0, 2, 3).voltage_v, Bank(12.0, 7.0, 2, 3).capacity_ah) == (24.0, 21.0)
    for series, parallel in ((0, 1), (1, 0)):
        with pytest.raises(ValueError, match="1 or more"):
            Bank(12.0, 7.0, series, parallel)


def test_nothing_is_taken_off_where_nothing_is_said() -> None:
    assert Derating().factor == 1.25  # the ageing of IEEE 485 alone (from memory)
