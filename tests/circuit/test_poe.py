"""PoE: the constant-power link against a root finder, and the grants, budgets, peaks and chains."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from doorlint.circuit import poe
from doorlint.circuit.poe import CLASSES, Peak, PortUse

classes = st.sampled_from(sorted(CLASSES))


@given(st.floats(40, 57), st.floats(0.1, 25), st.floats(0.1, 80))
@settings(max_examples=150, deadline=None)
def test_pd_voltage_agrees_with_a_root_finder(pse_v: float, ohm: float, pd_w: float) -> None:
    solved = poe.pd_voltage_v(pse_v, ohm, pd_w)
    if pd_w > pse_v**2 / (4 * ohm) * (1 + 1e-12):
        assert solved is None
        return
    assume(pd_w < pse_v**2 / (4 * ohm) * 0.999)
    # The stable operating point lies between half the source voltage and the source voltage.
    root = brentq(lambda v: (pse_v - v) / ohm - pd_w / v, pse_v / 2, pse_v, xtol=1e-12, rtol=1e-14)
    assert solved == pytest.approx(root, abs=1e-9)
    drawn = poe.pse_power_w(pse_v, ohm, pd_w)
    assert drawn is not None
    assert poe.power_after_channel_w(drawn, pse_v, ohm) == pytest.approx(pd_w, rel=1e-9)


def test_past_the_power_limit_there_is_no_operating_point() -> None:
    assert poe.pd_voltage_v(48.0, 20.0, 48.0**2 / 80) == pytest.approx(24.0)
    assert poe.pd_voltage_v(48.0, 20.0, 48.0**2 / 80 + 0.01) is None
    assert poe.pse_power_w(48.0, 20.0, 100.0) is None
    assert poe.power_after_channel_w(60.0, 48.0, 20.0) is None


@given(classes, st.floats(0, 40), st.floats(0, 10))
@settings(max_examples=120, deadline=None)
def test_available_power_never_rises_with_resistance_and_never_passes_the_class(
    number: int, ohm: float, more: float
) -> None:
    granted = CLASSES[number]
    near, far = poe.available_pd_power_w(granted, ohm), poe.available_pd_power_w(granted, ohm + more)
    if near is not None:
        assert near <= granted.pd_w
    if far is not None:
        assert near is not None and far <= near


@pytest.mark.parametrize("number", sorted(CLASSES))
def test_the_class_figure_is_promised_over_its_worst_channel(number: int) -> None:
    granted = CLASSES[number]
    assert poe.available_pd_power_w(granted, granted.channel_ohm) == granted.pd_w
    beyond = poe.available_pd_power_w(granted, granted.channel_ohm * 1.2)
    assert beyond is not None and beyond < granted.pd_w


def test_a_short_channel_gives_no_more_unless_extended_power_is_declared() -> None:
    class_4 = CLASSES[4]
    assert poe.available_pd_power_w(class_4, 0.5) == 25.5
    extended = poe.available_pd_power_w(class_4, 0.5, extended=True)
    assert extended == pytest.approx(30.0 - 0.6**2 * 0.5)


def test_a_low_port_voltage_voids_the_promise() -> None:
    class_3 = CLASSES[3]
    low = poe.available_pd_power_w(class_3, 20.0, 42.0)
    assert low is not None and low == pytest.approx(15.4 - (15.4 / 42) ** 2 * 20)
    assert low < 12.95


@given(classes, classes)
@settings(max_examples=100, deadline=None)
def test_a_port_grants_at_most_what_is_asked_and_what_it_has(port: int, asked: int) -> None:
    granted = poe.granted_class(port, asked)
    if granted is None:
        assert CLASSES[port].pse_w < CLASSES[3].pse_w  # only ports below class 3 have no step left
        return
    assert CLASSES[granted].pd_w <= min(CLASSES[port].pd_w, CLASSES[asked].pd_w)
    if CLASSES[asked].pd_w <= CLASSES[port].pd_w:
        assert granted == asked


@pytest.mark.parametrize(
    ("port", "asked", "granted"),
    [
        (8, 3, 3),
        (3, 4, 3),
        (4, 8, 4),
        (5, 6, 4),
        (6, 8, 6),
        (7, 8, 6),
        (0, 4, 3),
        (3, 0, 0),
        (2, 4, None),
        (1, 0, None),
    ],
)
def test_grants(port: int, asked: int, granted: int | None) -> None:
    assert poe.granted_class(port, asked) == granted


@given(st.floats(0, 100), st.floats(0, 100))
def test_granted_power_is_the_minimum(port_w: float, asked_w: float) -> None:
    assert poe.granted_power_w(port_w, asked_w) == min(port_w, asked_w)


def test_channel_resistance_counts_pairs_in_parallel() -> None:
    one = poe.channel_ohm(100, 0.0842, 1)
    assert one == pytest.approx(8.42)
    assert poe.channel_ohm(100, 0.0842, 2) == pytest.approx(one / 2)
    assert poe.channel_ohm(100, 0.0842, 1, 60.0) == pytest.approx(one * (1 + 0.00393 * 40))
    assert poe.channel_ohm(0, 0.0842, 2, extra_ohm=0.4) == pytest.approx(0.2)
    with pytest.raises(ValueError, match="pairsets"):
        poe.channel_ohm(100, 0.0842, 4)


@pytest.mark.parametrize(
    ("peak_w", "duration_s", "duty", "verdict"),
    [
        (12.95, 3600.0, 1.0, Peak.STEADY),
        (12.96, 0.050, 0.05, Peak.WITHIN),
        (14.4, 0.050, 0.05, Peak.WITHIN),
        (14.4, 0.010, 0.06, Peak.MAY_CUT),
        (14.41, 0.049, 0.0, Peak.UNDEFINED),
        (14.4, 0.051, 0.0, Peak.MAY_CUT),
        (14.4, 0.075, 0.0, Peak.MAY_CUT),
        (14.4, 0.076, 0.0, Peak.CUT),
        (25.9, 0.100, 0.0, Peak.CUT),
    ],
)
def test_peaks_below_at_and_above_each_limit(peak_w: float, duration_s: float, duty: float, verdict: Peak) -> None:
    assert poe.judge_peak(CLASSES[3], peak_w, duration_s, duty) is verdict


@given(st.floats(0.1, 60), st.floats(0.001, 2), st.floats(8, 30), st.floats(0.1, 0.99))
@settings(max_examples=60, deadline=None)
def test_hold_up_capacitor_holds_exactly_the_energy(watts: float, seconds: float, start: float, share: float) -> None:
    farads = poe.hold_up_capacitance_f(watts, seconds, start, start * share)
    assert 0.5 * farads * (start**2 - (start * share) ** 2) == pytest.approx(watts * seconds)


def test_idle_power_and_inrush_limits() -> None:
    assert poe.keeps_power(CLASSES[3], 0.57) is True
    assert poe.keeps_power(CLASSES[3], 0.569) is False
    assert poe.keeps_power(CLASSES[6], 0.57) is False
    assert poe.starts_up(180e-6) is True
    assert poe.starts_up(181e-6) is None
    assert poe.starts_up(220e-6, 0.3) is True
    assert poe.starts_up(220e-6, 0.4) is False
    assert poe.starts_up(1000e-6, 0.3) is False


def test_budget_by_class_and_by_use() -> None:
    ports = [PortUse(CLASSES[3], 6.0), PortUse(CLASSES[4], 12.0), PortUse(CLASSES[0], 20.0)]
    assert poe.budget_demand_w(ports, "class") == pytest.approx(15.4 + 30.0 + 15.4)
    assert poe.budget_demand_w(ports, "use") == pytest.approx(6.0 + 12.0 + 15.4)  # never above the class
    assert poe.budget_demand_w([*ports, PortUse(CLASSES[3])], "use") is None
    assert poe.budget_demand_w([], "use") == 0
    with pytest.raises(ValueError, match="allocation"):
        poe.budget_demand_w(ports, "guess")  # type: ignore[arg-type]


@given(st.integers(1, 96), st.floats(1, 95))
@settings(max_examples=60, deadline=None)
def test_an_exact_budget_fits_exactly(count: int, per_port_w: float) -> None:
    assert poe.ports_that_fit(count * per_port_w, per_port_w) == count


def test_a_budget_that_is_a_hair_short_in_binary_still_fits() -> None:
    assert 0.3 / 0.1 < 3
    assert poe.ports_that_fit(0.3, 0.1) == 3
    assert poe.ports_that_fit(0.29, 0.1) == 2


def test_pass_through_against_a_two_stage_root_finder() -> None:
    pse_v, pse_w, near, own, far = 50.0, 30.0, 6.0, 3.0, 4.0
    left = poe.pass_through(pse_w, pse_v, near, own, far)
    assert left is not None
    # Nodal check: draw exactly that power at the far end and find what the port must give.
    middle_v = brentq(
        lambda v: (pse_v - v) / near - own / v - left.power_w / (poe.pd_voltage_v(v, far, left.power_w) or math.nan),
        40.0,
        pse_v - 1e-9,
        xtol=1e-13,
    )
    assert pse_v * (pse_v - middle_v) / near == pytest.approx(pse_w, rel=1e-9)
    assert left.voltage_v == pytest.approx(poe.pd_voltage_v(middle_v, far, left.power_w))
    assert poe.pass_through(30.0, 50.0, 6.0, 40.0, 6.0) is None
    assert poe.pass_through(0.0, 50.0, 6.0, 0.0, 6.0) is None


@pytest.mark.parametrize(
    ("watts", "number"), [(0.0, 1), (3.84, 1), (3.85, 2), (12.95, 3), (12.96, 4), (71.3, 8), (71.4, None)]
)
def test_next_class(watts: float, number: int | None) -> None:
    found = poe.next_class(watts)
    assert (found.number if found else None) == number


links = st.dictionaries(st.text(min_size=1, max_size=3), st.none() | st.floats(0, 1e6), max_size=5)


@given(links, st.floats(0, 1e6))
@settings(max_examples=150, deadline=None)
def test_chain_is_as_long_as_its_weakest_link_and_open_where_unknown(
    chain: dict[str, float | None], required_s: float
) -> None:
    answer = poe.chain_autonomy(chain).reaches(required_s)
    known = [value for value in chain.values() if value is not None]
    if any(value < required_s for value in known):
        assert answer is False
    elif not chain or None in chain.values():
        assert answer is None
    else:
        assert answer is True


def test_chain_names_its_weakest_links() -> None:
    chain = poe.chain_autonomy([("switch", 7200.0), ("splitter", math.inf), ("controller", 1800.0), ("lock", 1800.0)])
    assert chain.weakest == ("controller", "lock")
    assert chain.total_s == 1800.0
    assert chain.reaches(1800.0) is True  # at the limit
    assert chain.reaches(1800.1) is False
    part = poe.chain_autonomy({"switch": 0.0, "lock": None})
    assert part.unknown == ("lock",) and part.total_s == 0.0
    assert poe.chain_autonomy({"switch": 60.0, "lock": None}).total_s is None


@pytest.mark.parametrize(
    "call",
    [
        lambda: poe.poe_class(9),
        lambda: poe.highest_class("802.3"),
        lambda: poe.highest_class("802.3af", 3),
        lambda: poe.pd_voltage_v(0.0, 1.0, 1.0),
        lambda: poe.pd_voltage_v(math.nan, 1.0, 1.0),
        lambda: poe.pd_voltage_v(48.0, -1.0, 1.0),
        lambda: poe.power_after_channel_w(-1.0, 48.0, 1.0),
        lambda: poe.available_pd_power_w(CLASSES[3], math.nan),
        lambda: poe.available_pd_power_w(CLASSES[3], -1.0),
        lambda: poe.converter_input_w(5.0, 0.0),
        lambda: poe.converter_output_w(5.0, 1.01),
        lambda: poe.chain_efficiency(0.9, math.nan),
        lambda: poe.splitter_current_a(25.5, 0.85, 0.0),
        lambda: poe.judge_peak(CLASSES[3], math.nan, 0.1),
        lambda: poe.judge_peak(CLASSES[3], 10.0, 0.1, 2.0),
        lambda: poe.hold_up_capacitance_f(10.0, 0.1, 10.0, 12.0),
        lambda: poe.mps_minimum_w(CLASSES[3], 0.0),
        lambda: poe.ports_that_fit(370.0, 0.0),
        lambda: poe.ports_that_fit(370.0, 30.0, 0.0),
        lambda: poe.channel_ohm(-1.0, 0.1, 1),
        lambda: poe.channel_ohm(1.0, 0.1, 1, -400.0),
        lambda: poe.chain_autonomy({"ups": -1.0}),
        lambda: poe.chain_autonomy({"ups": math.nan}),
    ],
)
def test_bad_numbers_raise_value_error(call: object) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=r"must|class|fits|range"):
        call()


def test_the_current_that_keeps_a_device_on() -> None:
    """IEEE 802.3 (from memory): 10 mA up to class 4, 16 mA from class 5, where all four pairs carry power."""
    assert {number: found.mps_a for number, found in CLASSES.items()} == {
        **dict.fromkeys(range(5), 0.010),
        **dict.fromkeys(range(5, 9), 0.016),
    }
    assert {found.mps_a for number, found in poe.CLASSES_OF_CLAUSE_145.items() if number < 5} == {0.010}


def test_an_extender_that_takes_all_leaves_nothing() -> None:
    near_w = poe.power_after_channel_w(15.4, 48.0, 0.0)
    assert near_w == 15.4
    assert poe.pass_through(15.4, 48.0, 0.0, 15.4, 0.0) is None
    left = poe.pass_through(15.4, 48.0, 0.0, 15.3, 0.0)
    assert left is not None and left.power_w == pytest.approx(0.1)


def test_a_device_that_asks_for_less_than_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="pd_w"):
        poe.next_class(-0.1)
    found = poe.next_class(0.0)
    assert found is not None and found.number == 1


@pytest.mark.parametrize(("farad", "starts"), [(350e-6 * 0.999 * 50 / 57, True), (350e-6 * 1.001 * 50 / 57, False)])
def test_an_input_above_180_microfarad_is_charged_within_50_milliseconds(farad: float, starts: bool) -> None:
    """C V / I at 57 V and the 350 mA that the device keeps to (IEEE 802.3, from memory): 50 ms fill 307 uF."""
    assert poe.starts_up(farad, 0.350) is starts
    assert poe.starts_up(farad, 0.351) is False
