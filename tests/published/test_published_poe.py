"""PoE against the class tables of IEEE 802.3 and published worked examples. Each row names its source."""

from __future__ import annotations

import pytest

from doorlint.circuit import poe
from doorlint.circuit.poe import CLASSES, CLASSES_OF_CLAUSE_145, TYPES, Peak

AF = "IEEE 802.3af-2003, clause 33 class table"
AT = "IEEE 802.3at-2009, clause 33 class table"
BT = "IEEE 802.3bt-2018, clause 145 class tables"
BT_MEMORY = "IEEE 802.3bt-2018, clause 145 class tables (from memory)"
PEAK_MEMORY = "IEEE 802.3-2022, peak operating power of the PD (from memory)"
PRACTICE = "common practice, no source"


@pytest.mark.parametrize(
    ("source", "number", "pse_w", "pd_w", "pairs", "loss_w"),
    [
        (AF, 0, 15.4, 12.95, 2, 2.45),
        (AF, 1, 4.0, 3.84, 2, 0.16),
        (AF, 2, 7.0, 6.49, 2, 0.51),
        (AF, 3, 15.4, 12.95, 2, 2.45),
        (AT, 4, 30.0, 25.5, 2, 4.5),
        (BT, 5, 45.0, 40.0, 4, 5.0),
        (BT, 6, 60.0, 51.0, 4, 9.0),
        (BT, 7, 75.0, 62.0, 4, 13.0),
        (BT, 8, 90.0, 71.3, 4, 18.7),
    ],
)
def test_class_powers(source: str, number: int, pse_w: float, pd_w: float, pairs: int, loss_w: float) -> None:
    found = poe.poe_class(number)
    assert (found.pse_w, found.pd_w, 2 * found.pairsets) == (pse_w, pd_w, pairs), source
    assert found.pse_w - found.pd_w == pytest.approx(loss_w), source
    assert found.standard in source, source


@pytest.mark.parametrize(
    ("source", "number", "pse_w", "pd_w"),
    [(BT_MEMORY, 1, 4.0, 3.84), (BT_MEMORY, 2, 6.7, 6.49), (BT_MEMORY, 3, 14.0, 13.0)],
)
def test_low_classes_of_clause_145(source: str, number: int, pse_w: float, pd_w: float) -> None:
    found = CLASSES_OF_CLAUSE_145[number]
    assert (found.pse_w, found.pd_w) == (pse_w, pd_w), source
    # 50 V over 12.5 ohm bears the figures out to 2.1 % (class 1 is rounded up).
    assert poe.pse_power_w(50.0, 12.5, pd_w) == pytest.approx(pse_w, rel=0.021), source


@pytest.mark.parametrize(
    ("source", "number", "peak_w"),
    [
        (PEAK_MEMORY, 0, 14.4),
        (PEAK_MEMORY, 1, 5.0),
        (PEAK_MEMORY, 2, 8.36),
        (PEAK_MEMORY, 3, 14.4),
        (PEAK_MEMORY, 4, 28.3),
        (PEAK_MEMORY, 5, 42.0),
        (PEAK_MEMORY, 6, 53.5),
        (PEAK_MEMORY, 7, 65.1),
        (PEAK_MEMORY, 8, 74.9),
    ],
)
def test_peak_powers(source: str, number: int, peak_w: float) -> None:
    found = CLASSES[number]
    assert found.pd_peak_w == peak_w, source
    # Clause 33 gives class 4 about 1.11 times, clause 145 classes 5 to 8 about 1.05 times the class power.
    if number >= 4:
        assert peak_w / found.pd_w == pytest.approx(1.11 if number == 4 else 1.05, abs=0.002), source


# PD power derived from the lowest PSE voltage, the class power and the worst channel must meet the printed
# figure.
@pytest.mark.parametrize(
    ("source", "number", "pse_v", "channel_ohm", "printed_pd_w"),
    [
        (AF, 1, 44.0, 20.0, 3.84),
        (AF, 2, 44.0, 20.0, 6.49),
        (AF, 3, 44.0, 20.0, 12.95),
        (AT, 4, 50.0, 12.5, 25.5),
        (BT, 5, 50.0, 6.25, 40.0),
        (BT, 6, 50.0, 6.25, 51.0),
        (BT, 7, 52.0, 6.25, 62.0),
        (BT, 8, 52.0, 6.25, 71.3),
    ],
)
def test_pd_power_follows_from_the_channel(
    source: str, number: int, pse_v: float, channel_ohm: float, printed_pd_w: float
) -> None:
    found = CLASSES[number]
    assert (found.pse_min_v, found.channel_ohm) == (pse_v, channel_ohm), source
    assert poe.power_after_channel_w(found.pse_w, pse_v, channel_ohm) == pytest.approx(printed_pd_w, rel=0.002), source
    assert poe.pse_power_w(pse_v, channel_ohm, printed_pd_w) == pytest.approx(found.pse_w, rel=0.002), source


@pytest.mark.parametrize(
    ("source", "number", "standard", "pse_range_v", "pd_min_v", "current_a", "channel_ohm"),
    [
        ("IEEE 802.3af-2003, 33-11/33-18 (table numbers from memory)", 1, "802.3af", (44.0, 57.0), 37.0, 0.350, 20.0),
        ("IEEE 802.3at-2009, 33-11/33-18 (table numbers from memory)", 2, "802.3at", (50.0, 57.0), 42.5, 0.600, 12.5),
        ("IEEE 802.3bt-2018, 145-1/145-16 (table numbers from memory)", 3, "802.3bt", (50.0, 57.0), 42.5, 0.600, 12.5),
        ("IEEE 802.3bt-2018, 145-1/145-16 (table numbers from memory)", 4, "802.3bt", (52.0, 57.0), 41.1, 0.960, 12.5),
    ],
)
def test_types(
    source: str,
    number: int,
    standard: str,
    pse_range_v: tuple[float, float],
    pd_min_v: float,
    current_a: float,
    channel_ohm: float,
) -> None:
    found = TYPES[number]
    assert found.standard == standard, source
    assert (found.pse_min_v, found.pse_max_v) == pse_range_v, source
    assert (found.pd_min_v, found.current_per_pairset_a) == (pd_min_v, current_a), source
    assert found.channel_ohm_per_pairset == channel_ohm, source
    # The lowest PD voltage is the lowest PSE voltage less the drop of the type's highest class.
    top = CLASSES[found.highest_class]
    drop = top.pse_w / found.pse_min_v * top.channel_ohm
    assert found.pse_min_v - drop == pytest.approx(pd_min_v, abs=0.1), source


@pytest.mark.parametrize(
    ("source", "standard", "type_number", "highest"),
    [
        (AF, "802.3af", None, 3),
        (AT, "IEEE 802.3at", None, 4),
        (BT, "802.3bt", 3, 6),
        (BT, "802.3bt", 4, 8),
        (BT + ": the lower where the type is not said", "802.3bt", None, 6),
    ],
)
def test_highest_class_of_a_standard(source: str, standard: str, type_number: int | None, highest: int) -> None:
    assert poe.highest_class(standard, type_number) == highest, source


def test_class_8_current() -> None:
    # IEEE 802.3-2022: class 8 at 52 V is 1.731 A over two pair sets; Table 145-1 allows 0.96 A on one for
    # imbalance.
    current = CLASSES[8].pse_w / 52.0
    assert current == pytest.approx(1.731, abs=5e-4)
    assert current / 2 < TYPES[4].current_per_pairset_a


@pytest.mark.parametrize(
    ("source", "conductor_ohm_per_m", "length_m", "pairsets", "ohm"),
    [
        ("ISO/IEC 11801 class D channel, 25 ohm pair loop (from memory); IEEE 802.3at 12.5 ohm", 0.125, 100, 1, 12.5),
        ("IEEE 802.3bt: both pair sets of that channel in parallel", 0.125, 100, 2, 6.25),
        ("ASTM B258 / IEC 60028: 24 AWG solid, 8.421 ohm per 100 m conductor", 0.08421, 100, 1, 8.421),
        ("networking note of 2014-10-15, PoE loss in 100 m of Cat 6 with 7 ohm per wire", 0.07, 100, 1, 7.0),
        ("worked example, 250 ft of 24 AWG at 25.6 ohm/kft, corrected to two wires in parallel", 0.0256, 250, 1, 6.4),
    ],
)
def test_channel_resistance(
    source: str, conductor_ohm_per_m: float, length_m: float, pairsets: int, ohm: float
) -> None:
    assert poe.channel_ohm(length_m, conductor_ohm_per_m, pairsets) == pytest.approx(ohm), source


def test_published_cable_loss() -> None:
    # Networking note of 2014-10-15: 0.35 A through 100 m of Cat 6 (7 ohm per wire) loses 0.858 W and drops
    # 2.5 V.
    ohm = poe.channel_ohm(100, 0.07, 1)
    assert 0.35**2 * ohm == pytest.approx(0.858, abs=1e-3)
    # The same through the link formula: the port gives 15.4 W at 44 V, that is 0.35 A.
    after = poe.power_after_channel_w(15.4, 44.0, ohm)
    assert after is not None
    assert 15.4 - after == pytest.approx(0.858, abs=1e-3)
    assert 0.35 * ohm == pytest.approx(2.5, abs=0.06)


def test_constant_power_example() -> None:
    # Quadratic worked by hand and by a circuit simulator: 24 V, 12 W behind 2.513724 ohm gives 22.66936324 V.
    assert poe.pd_voltage_v(24.0, 2.513724, 12.0) == pytest.approx(22.66936324248, abs=1e-9)


@pytest.mark.parametrize(
    ("source", "voltage_v", "watts", "ohm", "at_load_v"),
    [
        ("constant-power reader, quadratic by hand: 150 m of 22 AWG", 12.0, 3.0, 15.89, None),
        ("constant-power reader, quadratic by hand: 150 m of 18 AWG", 12.0, 3.0, 6.285, 10.14),
        ("constant-power reader, quadratic by hand: 100 m of 24 AWG", 12.0, 2.4, 16.84, None),
        ("constant-power reader, quadratic by hand: 60 m of 22 AWG", 12.0, 1.2, 6.355, 11.33),
        ("constant-power reader, quadratic by hand: 150 m of 22 AWG", 24.0, 6.0, 15.89, 18.98),
    ],
)
def test_operating_points(source: str, voltage_v: float, watts: float, ohm: float, at_load_v: float | None) -> None:
    found = poe.pd_voltage_v(voltage_v, ohm, watts)
    if at_load_v is None:
        assert found is None, source
    else:
        assert found == pytest.approx(at_load_v, abs=0.006), source


def test_maintain_power_minimum() -> None:
    # IEEE 802.3, DC maintain power signature (from memory): 10 mA at up to 57 V is 0.57 W; 16 mA for classes
    # 5 to 8.
    assert poe.mps_minimum_w(CLASSES[3]) == pytest.approx(0.57)
    assert poe.mps_minimum_w(CLASSES[6]) == pytest.approx(0.912)


def test_inrush_of_the_largest_capacitor_fits_the_window() -> None:
    # IEEE 802.3 (from memory): 180 uF, 400 to 450 mA, 50 ms. C V / I at 57 V is 25.65 ms, half the window.
    assert poe.inrush_time_s(180e-6) == pytest.approx(0.02565, abs=1e-5)
    assert poe.inrush_time_s(180e-6) < poe.INRUSH_TIME_S


@pytest.mark.parametrize(
    ("source", "peak_w", "duration_s", "verdict"),
    [
        ("IEEE 802.3 33.3.7.4: peak for at most T_CUT min", 14.4, 0.050, Peak.WITHIN),
        ("IEEE 802.3 33.3.7.4: longer than T_CUT min is not allowed", 14.4, 0.060, Peak.MAY_CUT),
        ("IEEE 802.3 Table 33-11, T_CUT 50 to 75 ms (from memory)", 25.9, 0.100, Peak.CUT),
    ],
)
def test_cut_off_window(source: str, peak_w: float, duration_s: float, verdict: Peak) -> None:
    assert poe.judge_peak(CLASSES[3], peak_w, duration_s) is verdict, source


@pytest.mark.parametrize(
    ("source", "number", "electronics_w", "lock_w", "left_w", "enough"),
    [
        (PRACTICE, 3, 3.5, 5.4, 7.51, True),
        (PRACTICE, 3, 5.9, 5.4, 5.11, False),
        (PRACTICE, 4, 5.9, 10.8, 15.78, True),
    ],
)
def test_what_is_left_for_the_lock(
    source: str, number: int, electronics_w: float, lock_w: float, left_w: float, enough: bool
) -> None:
    left = poe.left_for_outputs_w(CLASSES[number].pd_w, 0.85, electronics_w)
    assert left == pytest.approx(left_w, abs=0.006), source
    assert (left >= lock_w) is enough, source


def test_a_lock_peak_on_a_class_3_port() -> None:
    # Common practice, no source: 4 W of electronics and 1.5 A at 12 V for 100 ms behind a converter of 0.85.
    peak = poe.converter_input_w(4.0 + 18.0, 0.85)
    assert peak == pytest.approx(25.9, abs=0.05)
    shortfall = 22.0 - poe.converter_output_w(CLASSES[3].pd_peak_w, 0.85)
    assert poe.hold_up_capacitance_f(shortfall, 0.1, 12.0, 10.5) == pytest.approx(0.058, abs=5e-4)


@pytest.mark.parametrize(
    ("source", "share", "ports"),
    [(PRACTICE + ": 370 W switch, class 4 ports", 1.0, 12), (PRACTICE + ": the same kept at 80 %", 0.8, 9)],
)
def test_ports_that_a_switch_serves(source: str, share: float, ports: int) -> None:
    assert poe.ports_that_fit(370.0, CLASSES[4].pse_w, share) == ports, source


def test_door_controller_on_standard_poe() -> None:
    # Common practice, no source: such a controller has at most about 11 W at work, and passes on about 12 V
    # 600 mA for lock and accessories together, so its own part is below 4 W.
    usable = poe.converter_output_w(CLASSES[3].pd_w, 0.85)
    assert usable == pytest.approx(11.0, abs=0.05)
    assert poe.left_for_outputs_w(CLASSES[3].pd_w, 0.85, 3.8) / 12.0 == pytest.approx(0.600, abs=0.005)


@pytest.mark.parametrize("port", [3, 4, 5, 6, 7, 8])
def test_a_higher_port_gives_a_class_3_device_nothing_more(port: int) -> None:
    # Common practice, no source; IEEE 802.3: a PD draws at most its own class power.
    granted = poe.granted_class(port, 3)
    assert granted == 3
    assert poe.available_pd_power_w(CLASSES[granted], 1.0) == 12.95


def test_splitter_on_802_3at() -> None:
    # Common practice, no source: such a splitter gives about 12 V 1.8 A.
    assert poe.splitter_current_a(CLASSES[4].pd_w, 0.85, 12.0) == pytest.approx(1.8, abs=0.02)
