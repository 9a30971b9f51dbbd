"""Voltage drop against published worked examples and closed forms worked by hand. Each row names its
source.
"""

from __future__ import annotations

import pytest

from doorlint.circuit.conductors import (
    Conductor,
    longest_run_m,
    loop_resistance_ohm,
    pairset_loop_ohm,
    permitted_loop_ohm,
    resistance_ohm_per_m,
)
from doorlint.circuit.network import (
    Branch,
    ConstantCurrentLoad,
    ConstantPowerLoad,
    Network,
    NoOperatingPoint,
    ResistiveLoad,
    Solution,
    Source,
    coil_voltage_v,
    constant_current_voltage_v,
    constant_power_voltage_v,
    solve,
)

FOOT = 0.3048
HAND = "closed-form hand calculation"
FAA = "FAA Advisory Circular AC 43.13-1B CHG 1 (2001), "


# Aircraft wiring returns through the structure, so these runs count one way: length in ft, current in A,
# ohm per ft.
@pytest.mark.parametrize(
    ("length_ft", "current_a", "ohm_per_ft", "printed_v", "tolerance", "source"),
    [
        # Printed loosely rounded: the product is 3.555.
        (88.0, 20.0, 0.00202, 3.6, 0.015, FAA + "Table 11-7, No. 12"),
        (100.0, 20.0, 0.00306, 6.12, 1e-6, FAA + "Table 11-7, No. 14"),
        (156.0, 20.0, 0.00126, 3.93, 5e-4, FAA + "Table 11-8, No. 10"),
        (273.0, 20.0, 0.00126, 6.88, 5e-4, FAA + "Table 11-8, No. 10"),
    ],
)
def test_one_way_drop(
    length_ft: float, current_a: float, ohm_per_ft: float, printed_v: float, tolerance: float, source: str
) -> None:
    wire = Conductor(given_ohm_per_m=ohm_per_ft / FOOT)
    one_way_ohm = resistance_ohm_per_m(wire) * length_ft * FOOT
    left = constant_current_voltage_v(28.0, one_way_ohm, current_a)
    assert left is not None
    assert 28.0 - left == pytest.approx(printed_v, rel=tolerance), source


def test_two_wire_24_v_run() -> None:
    # Low-voltage wiring course note: 100 ft one way of 16 AWG at 4.99 ohm per 1000 ft, 4 A, 24 V: 4.0 V,
    # 16.7 %.
    wire = Conductor(given_ohm_per_m=4.99 / (1000 * FOOT))
    left = constant_current_voltage_v(24.0, loop_resistance_ohm(wire, 100 * FOOT), 4.0)
    assert left is not None
    assert 24.0 - left == pytest.approx(4.0, rel=0.005)
    assert (24.0 - left) / 24.0 * 100 == pytest.approx(16.7, rel=0.005)


def test_permitted_wire_resistance() -> None:
    # Lessons In Electric Circuits, volume I (Kuphaldt), Specific resistance: 230 V source, 220 V wanted, 25
    # A: 0.2 ohm in each of the two wires.
    permitted = permitted_loop_ohm(source_v=230.0, minimum_v=220.0, current_a=25.0)
    assert permitted == pytest.approx(2 * 0.2)


@pytest.mark.parametrize(("cord_ohm", "printed_v"), [(0.06, 0.3), (0.3, 1.5)])
def test_cord_drop(cord_ohm: float, printed_v: float) -> None:
    # College Physics (open textbook, CC BY), Ohm's Law: drop in an extension cord at 5.00 A.
    left = constant_current_voltage_v(120.0, cord_ohm, 5.0)
    assert left is not None
    assert 120.0 - left == pytest.approx(printed_v, rel=1e-9)


def test_category_cable_two_pair_loss() -> None:
    # Networking notes blog (2014), maximum power loss: 7 ohm per wire over 100 m, 0.175 A in each of four
    # wires: 0.858 W in all, 2.5 V (2.45 exactly) dropped.
    loop = pairset_loop_ohm(0.07, 100.0)
    current = 2 * 0.175
    assert loop == pytest.approx(7.0)
    assert current * current * loop == pytest.approx(0.858, abs=5e-4)
    assert current * loop == pytest.approx(2.45)


# IEEE 802.3: power at the powered device is what the port gives less the loss in the channel (port W, port
# V, channel ohm, device W): 802.3af Type 1, 802.3at Type 2.
@pytest.mark.parametrize(
    ("port_w", "port_v", "channel_ohm", "device_w"), [(15.4, 44.0, 20.0, 12.95), (30.0, 50.0, 12.5, 25.5)]
)
def test_powered_device(port_w: float, port_v: float, channel_ohm: float, device_w: float) -> None:
    voltage = constant_power_voltage_v(port_v, channel_ohm, device_w)
    assert voltage is not None
    current = device_w / voltage
    assert current * port_v == pytest.approx(port_w, rel=0.002)


# A coil at the end of a two-wire run, closed-form hand calculation: source V, nominal V and A of the coil,
# gauge, one-way m, degC, then loop ohm, volts at the coil, percent of nominal.
@pytest.mark.parametrize(
    ("source_v", "nominal_v", "nominal_a", "gauge", "length_m", "degc", "loop_ohm", "coil_v", "percent"),
    [
        (12.0, 12.0, 0.5, 22, 50.0, 20.0, 5.30, 9.83, 81.9),
        (12.0, 12.0, 0.5, 18, 50.0, 20.0, 2.10, 11.04, 92.0),
        (12.0, 12.0, 0.5, 18, 50.0, 50.0, 2.34, 10.93, 91.1),
        (20.5, 24.0, 0.25, 22, 50.0, 20.0, 5.30, 19.43, 81.0),
        (24.0, 24.0, 0.25, 16, 70.0, 20.0, 1.84, 23.55, 98.1),
        (24.0, 24.0, 16.0, 12, 30.0, 20.0, 0.31, 19.86, 82.8),
    ],
)
def test_coil_at_the_end_of_a_run(
    source_v: float,
    nominal_v: float,
    nominal_a: float,
    gauge: int,
    length_m: float,
    degc: float,
    loop_ohm: float,
    coil_v: float,
    percent: float,
) -> None:
    loop = loop_resistance_ohm(Conductor(awg=gauge), length_m, degc)
    # The hand calculation took the gauge at four figures (20.95 ohm per km for 18 AWG).
    assert loop == pytest.approx(loop_ohm, abs=0.006), HAND
    voltage = coil_voltage_v(source_v, loop, nominal_v / nominal_a)
    assert voltage == pytest.approx(coil_v, abs=0.0051), HAND
    assert voltage / nominal_v * 100 == pytest.approx(percent, abs=0.051), HAND
    net = Network(
        (Branch("+", "a", loop / 2), Branch("b", "-", loop / 2)),
        (Source("+", "-", source_v),),
        (ResistiveLoad("coil", "a", "b", nominal_v / nominal_a),),
    )
    solution = solve(net)
    assert isinstance(solution, Solution)
    assert solution.load_voltages_v["coil"] == pytest.approx(voltage, rel=1e-12)


# A constant-power load at the end of a two-wire run, closed-form hand calculation (the quadratic): source
# V, W, gauge, one-way m, loop ohm, volts at the load or None.
@pytest.mark.parametrize(
    ("source_v", "power_w", "gauge", "length_m", "loop_ohm", "load_v"),
    [
        (12.0, 3.0, 22, 150.0, 15.89, None),
        (12.0, 3.0, 18, 150.0, 6.29, 10.14),
        # 100 m of 24 AWG: 144 V2 against 4 * 2.4 W * 16.84 ohm = 161.7 V2.
        (12.0, 2.4, 24, 100.0, 16.84, None),
        (12.0, 1.2, 22, 60.0, 6.36, 11.33),
        (24.0, 6.0, 22, 150.0, 15.89, 18.98),
    ],
)
def test_constant_power_at_the_end_of_a_run(
    source_v: float, power_w: float, gauge: int, length_m: float, loop_ohm: float, load_v: float | None
) -> None:
    loop = loop_resistance_ohm(Conductor(awg=gauge), length_m, 20.0)
    # The hand calculation took the gauge at four figures (20.95 ohm per km for 18 AWG).
    assert loop == pytest.approx(loop_ohm, abs=0.006), HAND
    voltage = constant_power_voltage_v(source_v, loop, power_w)
    net = Network(
        (Branch("+", "a", 0.25 * loop), Branch("b", "-", 0.75 * loop)),
        (Source("+", "-", source_v),),
        (ConstantPowerLoad("reader", "a", "b", power_w),),
    )
    outcome = solve(net)
    if load_v is None:
        assert voltage is None
        assert isinstance(outcome, NoOperatingPoint)
        assert outcome.proved
        assert outcome.where == ("reader",)
    else:
        assert voltage == pytest.approx(load_v, abs=0.0051), HAND
        assert isinstance(outcome, Solution)
        assert outcome.load_voltages_v["reader"] == pytest.approx(voltage, rel=1e-10)


def test_constant_power_reference() -> None:
    # Closed form evaluated to 14 digits: 24 V, 12 W, 2.513724 ohm gives 22.66936324248 V; 57.2855 W is the
    # most there is.
    assert constant_power_voltage_v(24.0, 2.513724, 12.0) == pytest.approx(22.66936324248, abs=1e-10)
    assert constant_power_voltage_v(24.0, 2.513724, 57.2854) is not None
    assert constant_power_voltage_v(24.0, 2.513724, 57.2856) is None


def test_shared_return_shift() -> None:
    # Closed-form hand calculation: 0.5 A through 30 m of one 22 AWG conductor lifts the common by 0.79 V.
    common = resistance_ohm_per_m(Conductor(awg=22)) * 30.0
    net = Network(
        (Branch("joint", "-", common),),
        (Source("+", "-", 12.0),),
        (ConstantCurrentLoad("lock", "+", "joint", 0.5),),
    )
    solution = solve(net)
    assert isinstance(solution, Solution)
    assert solution.node_voltages_v["joint"] == pytest.approx(0.79, abs=0.0051)


# Ten per cent drop at 40 degC, closed-form hand calculation L = 0.1 V / (2 I r): longest one-way run in m.
@pytest.mark.parametrize(
    ("nominal_v", "current_a", "gauge", "metres"),
    [
        (12.0, 0.5, 22, 21.0),
        (12.0, 0.5, 18, 53.0),
        (24.0, 0.25, 22, 84.0),
        (24.0, 1.0, 18, 53.0),
        (24.0, 0.25, 18, 212.0),
    ],
)
def test_longest_run_for_ten_per_cent(nominal_v: float, current_a: float, gauge: int, metres: float) -> None:
    longest = longest_run_m(
        source_v=nominal_v,
        minimum_v=0.9 * nominal_v,
        conductor=Conductor(awg=gauge),
        temperature_c=40.0,
        current_a=current_a,
    )
    assert longest == pytest.approx(metres, abs=0.6), HAND


def test_daisy_chain() -> None:
    # Closed form, ladder summed by hand: 24 V, five 0.25 A loads, 20 m of 18 AWG pair between each, 20 degC.
    segment = loop_resistance_ohm(Conductor(awg=18), 20.0)
    assert segment == pytest.approx(0.837912, abs=1e-6)
    expected = (22.95261, 22.114698, 21.486264, 21.067308, 20.85783)
    branches: list[Branch] = []
    for index in range(5):
        branches.append(Branch(f"+{index}", f"+{index + 1}", segment / 2))
        branches.append(Branch(f"-{index}", f"-{index + 1}", segment / 2))
    loads = tuple(ConstantCurrentLoad(str(each), f"+{each}", f"-{each}", 0.25) for each in range(1, 6))
    solution = solve(Network(tuple(branches), (Source("+0", "-0", 24.0),), loads))
    assert isinstance(solution, Solution)
    assert [solution.load_voltages_v[str(each)] for each in range(1, 6)] == pytest.approx(expected, abs=1e-5)
    # Putting all the load at the far end would give 18.763 V: a ladder is not a lump.
    lumped = constant_current_voltage_v(24.0, 5 * segment, 1.25)
    assert lumped == pytest.approx(18.7630, abs=1e-4)
