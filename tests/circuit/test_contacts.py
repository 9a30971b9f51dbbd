"""Contacts: categories, rating codes, practice derating, leakage and bleed resistors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.circuit import contacts
from doorlint.circuit.contacts import CATEGORIES, RATING_CODES


def test_categories_are_found_by_any_writing_and_frozen() -> None:
    assert contacts.category(" dc-13 ") is CATEGORIES["DC-13"]
    with pytest.raises(ValueError, match=r"DC-11.*known are"):
        contacts.category("DC-11")  # withdrawn
    with pytest.raises(TypeError):
        CATEGORIES["DC-11"] = CATEGORIES["DC-13"]  # type: ignore[index]
    for name, found in CATEGORIES.items():
        assert found.name == name
        assert found.kind == name[:2].lower()
        assert (found.cos_phi is None) == (found.kind == "dc")


@given(st.floats(1, 300), st.floats(0.01, 10))
@settings(max_examples=60, deadline=None)
def test_dc13_time_constant_grows_with_power_up_to_its_cap(voltage: float, current: float) -> None:
    tau = contacts.category_time_constant_s("DC-13", voltage, current)
    assert tau is not None
    # Time to 95 % of an exponential rise, inverted: what the category's T0.95 stands for.
    assert 1 - math.exp(-contacts.dc13_rise_time_s(voltage, current) / tau) == pytest.approx(0.95)
    assert tau <= 0.1002
    assert contacts.category_time_constant_s("AC-15", voltage, current) is None


@given(st.sampled_from(sorted(RATING_CODES)), st.floats(1, 600))
@settings(max_examples=150, deadline=None)
def test_a_code_never_allows_more_than_its_power_or_its_current(code: str, voltage: float) -> None:
    rating = RATING_CODES[code]
    breaks, makes = rating.break_limit_a(voltage), rating.make_limit_a(voltage)
    if voltage > rating.highest_v:
        assert breaks is None and makes is None
        return
    assert breaks is not None and makes is not None
    assert breaks * voltage <= rating.break_va * (1 + 1e-12)
    assert breaks <= makes
    assert breaks <= rating.thermal_a


def test_practice_derating_is_below_the_rating_and_suppression_helps() -> None:
    assert contacts.inductive_limit_a(2.0, suppressed=False) == pytest.approx(1.0)
    assert contacts.inductive_limit_a(2.0, suppressed=True) == pytest.approx(1.6)


@given(st.floats(1e-5, 0.05), st.floats(10, 2000), st.floats(1e-5, 0.02))
@settings(max_examples=100, deadline=None)
def test_a_bleed_resistor_brings_the_leakage_exactly_to_the_limit(leak: float, coil: float, limit: float) -> None:
    bleeder = contacts.bleeder_resistance_ohm(leak, coil, limit)
    if leak <= limit:
        assert bleeder is None
        assert contacts.leakage_into_coil_a(leak, coil) <= limit
        return
    assert bleeder is not None
    # Independent: nodal equation of coil and bleeder on one current source.
    volts = np.linalg.solve(np.array([[1 / coil + 1 / bleeder]]), np.array([leak]))[0]
    assert volts / coil == pytest.approx(limit, rel=1e-9)
    assert contacts.leakage_into_coil_a(leak, coil, bleeder) == pytest.approx(limit, rel=1e-9)
    if leak > limit * 1.000001:  # nearer, one per cent of the resistor is less than a float can tell
        assert contacts.leakage_into_coil_a(leak, coil, bleeder * 1.01) > limit


def test_bleeder_power_and_snubber() -> None:
    assert contacts.resistor_power_w(24.0, 288.0) == pytest.approx(2.0)
    ohms, farads = contacts.snubber(24.0, 0.5)
    assert ohms == (12.0, 24.0)
    assert farads == pytest.approx((0.25e-6, 0.5e-6))


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize(
    "call",
    [
        lambda x: contacts.dc13_rise_time_s(x, 1.0),
        lambda x: contacts.dc13_rise_time_s(24.0, x),
        contacts.time_constant_of_rise_s,
        RATING_CODES["P300"].break_limit_a,
        RATING_CODES["P300"].make_limit_a,
        lambda x: contacts.inductive_limit_a(x, suppressed=True),
        contacts.drop_out_current_a,
        lambda x: contacts.drop_out_current_a(0.03, x),
        contacts.leakage_limit_a,
        lambda x: contacts.leakage_limit_a(0.003, x),
        lambda x: contacts.leakage_into_coil_a(0.001, x),
        lambda x: contacts.leakage_into_coil_a(0.001, 400.0, x),
        lambda x: contacts.bleeder_resistance_ohm(0.001, 400.0, x),
        lambda x: contacts.resistor_power_w(24.0, x),
        lambda x: contacts.snubber(x, 1.0),
    ],
)
def test_bad_numbers_raise_value_error(call: object, bad: float) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match="must"):
        call(bad)


def test_the_whole_drop_out_current_is_a_margin_of_one() -> None:
    assert contacts.leakage_limit_a(0.01, 1.0) == 0.01
    with pytest.raises(ValueError, match="margin"):
        contacts.leakage_limit_a(0.01, 1.001)


@pytest.mark.parametrize(
    ("letter", "thermal_a", "make_va", "break_va", "tops"),
    [
        ("A", 10.0, 7200.0, 720.0, (150, 300, 600)),
        ("B", 5.0, 3600.0, 360.0, (150, 300, 600)),
        ("C", 2.5, 1800.0, 180.0, (150, 300, 600)),
        ("D", 1.0, 432.0, 72.0, (150, 300)),
        ("E", 0.5, 216.0, 36.0, (150,)),
        ("N", 10.0, 275.0, 275.0, (150, 300)),
        ("P", 5.0, 138.0, 138.0, (150, 300)),
        ("Q", 2.5, 69.0, 69.0, (150, 300)),
        ("R", 1.0, 28.0, 28.0, (150, 300)),
    ],
)
def test_every_rating_code(
    letter: str, thermal_a: float, make_va: float, break_va: float, tops: tuple[int, ...]
) -> None:
    """IEC 60947-5-1 annex A, NEMA ICS 5 (from memory). At 120 V AC the power gives the greatest current; DC codes are
    bounded by the thermal current."""
    assert sorted(code for code in RATING_CODES if code[0] == letter) == [f"{letter}{top}" for top in tops]
    for top in tops:
        found = RATING_CODES[f"{letter}{top}"]
        assert (found.code, found.kind, found.highest_v) == (f"{letter}{top}", "ac" if letter < "F" else "dc", top)
        assert (found.thermal_a, found.make_va, found.break_va) == (thermal_a, make_va, break_va)
        most = (make_va / 120, break_va / 120) if found.kind == "ac" else (thermal_a, thermal_a)
        assert (found.make_a, found.break_a) == pytest.approx(most)
