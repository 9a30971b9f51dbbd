"""Coil formulas against figures printed in textbooks, standards and notes. Each row names where the figure
comes from.
"""

from __future__ import annotations

import math

import pytest

from doorlint.circuit import coils
from doorlint.circuit.coils import Decay

COLLEGE = "College Physics (open textbook), RL Circuits, worked example"
UNIVERSITY = "University Physics vol. 2 (open textbook), RL Circuits"
LESSONS_RISE = "Lessons In Electric Circuits vol. I (T. R. Kuphaldt), Voltage and current calculations"
LESSONS_STEP = "Lessons In Electric Circuits vol. I (T. R. Kuphaldt), Complex voltage and current calculations"
LESSONS_CLAMP = "Lessons In Electric Circuits vol. III (T. R. Kuphaldt), Inductor commutating circuits"
KVL = "Kirchhoff's voltage law, L di/dt + R i + Vc = 0, evaluated by hand for an invented coil"
IACS = "IEC 60028 / FAA AC 43.13-1B par. 11-66: copper, zero resistance at -234.5 degC"
NEC = "NFPA 70 (NEC) Chapter 9 Table 8, temperature note"
PRACTICE = "common practice, no source"


@pytest.mark.parametrize(
    ("source", "time_s", "printed_a", "tolerance_a"),
    [
        (COLLEGE, 0.0025, 10.0 * 0.368, 0.005),
        (COLLEGE, 0.005, 1.35, 0.005),
        (COLLEGE, 0.010, 0.183, 0.0005),
    ],
)
def test_decay_without_clamp(source: str, time_s: float, printed_a: float, tolerance_a: float) -> None:
    decay = Decay(0.0075, 3.0, 10.0, 0.0)
    assert decay.time_constant_s == pytest.approx(0.0025), source
    assert decay.current_at_a(time_s) == pytest.approx(printed_a, abs=tolerance_a), source


@pytest.mark.parametrize(
    ("source", "time_s", "inductance_h", "resistance_ohm", "voltage_v", "initial_a", "printed_a"),
    [
        (LESSONS_RISE, 3.5, 1.0, 1.0, 15.0, 0.0, 14.547),
        (LESSONS_STEP, 0.0, 1.0, 2.0, 15.0, 5.0, 5.0),
        (LESSONS_STEP, 0.1, 1.0, 2.0, 15.0, 5.0, 5.453),
        (LESSONS_STEP, 0.25, 1.0, 2.0, 15.0, 5.0, 5.984),
        (LESSONS_STEP, 0.5, 1.0, 2.0, 15.0, 5.0, 6.580),
        (LESSONS_STEP, 1.0, 1.0, 2.0, 15.0, 5.0, 7.162),
        (LESSONS_STEP, 2.0, 1.0, 2.0, 15.0, 5.0, 7.454),
        (LESSONS_STEP, 3.0, 1.0, 2.0, 15.0, 5.0, 7.494),
    ],
)
def test_rise_and_step(
    source: str,
    time_s: float,
    inductance_h: float,
    resistance_ohm: float,
    voltage_v: float,
    initial_a: float,
    printed_a: float,
) -> None:
    found = coils.rise_current_a(time_s, inductance_h, resistance_ohm, voltage_v, initial_a)
    assert found == pytest.approx(printed_a, abs=5e-4), source


@pytest.mark.parametrize(
    ("source", "share_of_final", "time_s", "printed_tau_s", "relative"),
    [
        (UNIVERSITY + ", check your understanding (printed rounded)", 0.9, 5.0, 2.2, 0.015),
        (UNIVERSITY + ", problems", 0.5, 1.75e-3, 2.52e-3, 0.003),
    ],
)
def test_time_constant_from_a_rise(
    source: str, share_of_final: float, time_s: float, printed_tau_s: float, relative: float
) -> None:
    # A coil with the printed time constant must reach the share at the given time.
    reached = coils.rise_current_a(time_s, printed_tau_s, 1.0, 1.0)
    assert reached == pytest.approx(share_of_final, rel=relative), source
    # A rise to a share takes as long as a free decay to the rest.
    exact = Decay(printed_tau_s, 1.0, 1.0, 0.0).time_to_fraction_s(1 - share_of_final)
    assert exact == pytest.approx(time_s, rel=relative), source


def test_resistance_from_the_time_constant() -> None:
    # University Physics vol. 2, RL Circuits, problems: 0.25 H and 2.52 ms give 99.2 ohm.
    assert coils.time_constant_s(0.25, 99.2) == pytest.approx(2.52e-3, rel=1e-3)


# Invented coil of 2 H and 48 ohm released from 0.5 A; the times follow from the law, worked by hand to 0.1
# us.
@pytest.mark.parametrize(
    ("source", "clamp_v", "off_ms", "half_ms", "tenth_ms", "switch_v"),
    [
        (KVL, 0.7, 148.4783, 27.7167, 86.4750, 24.7),
        (KVL, 1.0, 134.1198, 27.2469, 83.1292, 25.0),
        (KVL, 24.7, 28.2865, 11.7876, 24.4227, 48.7),
        (KVL, 36.7, 20.9653, 9.1777, 18.3259, 60.7),
    ],
)
def test_decay_into_a_constant_clamp(
    source: str, clamp_v: float, off_ms: float, half_ms: float, tenth_ms: float, switch_v: float
) -> None:
    decay = Decay(2.0, 48.0, 0.5, clamp_v)
    assert decay.off_time_s * 1e3 == pytest.approx(off_ms, abs=1e-4), source
    assert decay.time_to_fraction_s(0.5) * 1e3 == pytest.approx(half_ms, abs=1e-4), source
    assert decay.time_to_fraction_s(0.1) * 1e3 == pytest.approx(tenth_ms, abs=1e-4), source
    assert decay.peak_switch_v(24.0) == pytest.approx(switch_v), source


def test_clamp_and_winding_share_the_stored_energy() -> None:
    # Same coil into 24.7 V, by quadrature of the law: 0.15506 J clamp, 0.09494 J winding, 0.25000 J in all.
    decay = Decay(2.0, 48.0, 0.5, 24.7)
    assert decay.clamp_energy_j == pytest.approx(0.15506, abs=5e-6)
    assert decay.winding_energy_j == pytest.approx(0.09494, abs=5e-6)
    assert decay.stored_energy_j == pytest.approx(0.25)


def test_closed_form_of_a_symbolic_circuit_solver() -> None:
    # A general symbolic circuit library gives i = 247/480 exp(-24 t) - 7/480 for this coil into 0.7 V.
    assert Decay(2.0, 48.0, 0.5, 0.7).current_at_a(0.060) == pytest.approx(0.10733574248850848, rel=1e-12)


@pytest.mark.parametrize(
    ("source", "supply_v", "clamp_v", "switch_v"),
    [(LESSONS_CLAMP, 12.0, 0.7, 12.7), (LESSONS_CLAMP, 24.0, 0.7, 24.7)],
)
def test_switch_sees_supply_plus_diode(source: str, supply_v: float, clamp_v: float, switch_v: float) -> None:
    assert Decay(1.0, 24.0, 0.5, clamp_v).peak_switch_v(supply_v) == pytest.approx(switch_v), source
    assert clamp_v == coils.DIODE_DROP_V, source


@pytest.mark.parametrize(
    ("source", "inductance_h", "initial_a", "resistance_ohm", "clamp_v", "fraction", "tau_ms", "release_ms"),
    [
        (PRACTICE + ": 12 V magnet with a diode", 3.0, 0.5, 24.0, 0.7, 0.15, 125.0, 203.0),
        (PRACTICE + ": 12 V magnet with a diode", 1.0, 0.5, 24.0, 0.7, 0.05, 41.7, 95.0),
        (PRACTICE + ": 12 V strike with a diode", 0.06, 0.3, 40.0, 0.7, 0.4, 1.5, 1.0),
    ],
)
def test_release_with_a_diode(
    source: str,
    inductance_h: float,
    initial_a: float,
    resistance_ohm: float,
    clamp_v: float,
    fraction: float,
    tau_ms: float,
    release_ms: float,
) -> None:
    assert coils.coil_resistance_ohm(12.0, initial_a) == pytest.approx(resistance_ohm)
    decay = Decay(inductance_h, resistance_ohm, initial_a, clamp_v)
    assert decay.time_constant_s * 1e3 == pytest.approx(tau_ms, abs=0.05), source
    assert decay.time_to_fraction_s(fraction) * 1e3 == pytest.approx(release_ms, abs=0.5), source


@pytest.mark.parametrize(
    ("source", "inductance_h", "current_a", "energy_j"),
    [
        ("University Physics vol. 2, energy in an inductor: L I^2 / 2", 3.0, 0.5, 0.375),
        ("University Physics vol. 2, energy in an inductor: L I^2 / 2", 2.0, 0.5, 0.25),
    ],
)
def test_stored_energy(source: str, inductance_h: float, current_a: float, energy_j: float) -> None:
    assert coils.stored_energy_j(inductance_h, current_a) == pytest.approx(energy_j), source


@pytest.mark.parametrize(
    ("source", "from_c", "to_c", "ratio", "relative"),
    [
        (NEC + ": 0.00323 per kelvin from 75 degC", 75.0, 20.0, 1 - 0.00323 * 55, 0.001),
        (IACS, 20.0, 75.0, (75 + 234.5) / (20 + 234.5), 0.0002),
        (IACS, 20.0, 50.0, (50 + 234.5) / (20 + 234.5), 0.0002),
        (IACS, 20.0, -25.0, (-25 + 234.5) / (20 + 234.5), 0.0002),
        (IACS, 25.0, 75.0, (75 + 234.5) / (25 + 234.5), 0.0002),
    ],
)
def test_winding_resistance_with_temperature(
    source: str, from_c: float, to_c: float, ratio: float, relative: float
) -> None:
    assert coils.resistance_at_ohm(100.0, to_c, from_c) == pytest.approx(100.0 * ratio, rel=relative), source


def test_a_coil_60_k_warmer_draws_four_fifths() -> None:
    # Common practice, no source: a magnet that has been on for hours draws about 81 % of its cold current.
    assert coils.hot_current_fraction(60.0) == pytest.approx(0.809, abs=5e-4)
    # IEC 60034-1 / IEC 60335-1 resistance method (from memory): rise = (R2/R1 - 1)(234.5 + t1).
    assert coils.temperature_rise_k(24.0, 29.66, 20.0) == pytest.approx((29.66 / 24.0 - 1) * 254.5, rel=2e-4)


def test_force_follows_the_square_of_the_current() -> None:
    # Magnetic pull B^2 A / (2 mu0), any physics text; f = 0.22 for 5 % of the force is common practice, no
    # source.
    assert coils.current_fraction_for_force(0.05, 1.0) == pytest.approx(0.22, abs=0.005)


def test_an_unsuppressed_coil_reaches_a_thousand_volts() -> None:
    # Relay application literature: 1000 to 1500 V on an unsuppressed 12 V relay coil (order of magnitude).
    # With 0.1 H, 40 mA and 0.1 nF of stray capacitance (invented) the lossless bound is of that order.
    assert 1000 < coils.unsuppressed_peak_v(0.04, 0.1, 1e-10) < 1500


def test_a_diode_is_several_times_slower_than_a_zener() -> None:
    # Relay application literature: plain diode slowest, diode with zener faster; the law gives 5.2 times to
    # zero.
    ratio = Decay(2.0, 48.0, 0.5, 0.7).off_time_s / Decay(2.0, 48.0, 0.5, 24.7).off_time_s
    assert ratio == pytest.approx(5.2, abs=0.1)
    assert math.isfinite(ratio)
