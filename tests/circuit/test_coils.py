"""Coils against independent solvers (scipy's ODE integrator and quadrature, ngspice) and against their own
laws.
"""

from __future__ import annotations

import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from doorlint.circuit import coils
from doorlint.circuit.coils import SUPPRESSOR_KINDS, Decay, ReleaseTime

inductances = st.floats(0.02, 5.0)
resistances = st.floats(5.0, 400.0)
currents = st.floats(0.05, 2.0)
clamps = st.floats(0.3, 80.0)

CASES = [
    pytest.param(0.7, 0.0, id="diode"),
    pytest.param(1.0, 0.0, id="hot diode"),
    pytest.param(1.4, 0.0, id="bridge"),
    pytest.param(24.7, 0.0, id="zener and diode"),
    pytest.param(36.7, 0.0, id="TVS and diode"),
    pytest.param(0.7, 100.0, id="diode and resistor"),
    pytest.param(0.0, 60.0, id="parallel load"),
]


@pytest.mark.parametrize(("clamp_v", "external_ohm"), CASES)
def test_decay_agrees_with_an_ode_solver(clamp_v: float, external_ohm: float) -> None:
    inductance, winding, initial = 2.0, 48.0, 0.5
    decay = Decay(inductance, winding, initial, clamp_v, external_ohm)
    loop = winding + external_ohm

    # Without a terminal event the ODE would go on and drive the current negative after the clamp has stopped.
    def stopped(_t: float, y: np.ndarray) -> float:
        return float(y[0])

    stopped.terminal = True  # type: ignore[attr-defined]
    stopped.direction = -1  # type: ignore[attr-defined]
    end = 6 * inductance / loop
    solution = solve_ivp(
        lambda _t, y: [-(loop * y[0] + clamp_v) / inductance],
        (0, end),
        [initial],
        method="DOP853",
        rtol=1e-12,
        atol=1e-14,
        events=stopped,
        max_step=end / 400,
    )
    assert solution.success
    worst = max(abs(decay.current_at_a(t) - i) for t, i in zip(solution.t, solution.y[0], strict=True))
    assert worst < 1e-9
    if clamp_v > 0:
        assert solution.t_events[0][0] == pytest.approx(decay.off_time_s, abs=1e-9)
    else:
        assert solution.t_events[0].size == 0
        assert math.isinf(decay.off_time_s)


@given(inductances, resistances, currents, clamps, st.floats(0.0, 500.0))
@settings(max_examples=60, deadline=None)
def test_energy_balance_by_quadrature(
    inductance: float, winding: float, initial: float, clamp_v: float, external: float
) -> None:
    decay = Decay(inductance, winding, initial, clamp_v, external)
    end = decay.off_time_s
    charge, _ = quad(decay.current_at_a, 0, end, epsrel=1e-11, limit=200)
    square, _ = quad(lambda t: decay.current_at_a(t) ** 2, 0, end, epsrel=1e-11, limit=200)
    stored = 0.5 * inductance * initial**2
    assert clamp_v * charge == pytest.approx(decay.clamp_energy_j, rel=1e-7, abs=1e-9 * stored)
    assert winding * square == pytest.approx(decay.winding_energy_j, rel=1e-6, abs=1e-8 * stored)
    assert external * square == pytest.approx(decay.external_energy_j, rel=1e-6, abs=1e-8 * stored)


@given(inductances, resistances, currents, clamps, st.floats(0.01, 1.0))
@settings(max_examples=100, deadline=None)
def test_time_to_fraction_is_the_inverse_of_the_current(
    inductance: float, winding: float, initial: float, clamp_v: float, fraction: float
) -> None:
    decay = Decay(inductance, winding, initial, clamp_v)
    assert decay.current_at_a(decay.time_to_fraction_s(fraction)) == pytest.approx(fraction * initial, rel=1e-9)


@given(inductances, resistances, currents, clamps, st.floats(1.01, 10.0), st.floats(0.02, 0.9))
@settings(max_examples=100, deadline=None)
def test_a_higher_clamp_releases_sooner_and_stresses_the_switch_more(
    inductance: float, winding: float, initial: float, clamp_v: float, more: float, fraction: float
) -> None:
    slow, fast = Decay(inductance, winding, initial, clamp_v), Decay(inductance, winding, initial, clamp_v * more)
    assert fast.time_to_fraction_s(fraction) < slow.time_to_fraction_s(fraction)
    assert fast.peak_switch_v(24.0) > slow.peak_switch_v(24.0)


@given(inductances, st.floats(0.0, 1e-9), currents, clamps)
@settings(max_examples=60, deadline=None)
def test_without_resistance_the_current_falls_in_a_straight_line(
    inductance: float, winding: float, initial: float, clamp_v: float
) -> None:
    decay = Decay(inductance, winding, initial, clamp_v)
    assert decay.off_time_s == pytest.approx(inductance * initial / clamp_v, rel=1e-6)
    half = decay.off_time_s / 2
    assert decay.current_at_a(half) == pytest.approx(initial / 2, rel=1e-6)
    assert decay.clamp_energy_j == pytest.approx(decay.stored_energy_j, rel=1e-6)


@given(inductances, st.one_of(st.just(0.0), st.floats(1e-300, 1e6)), currents, clamps, st.floats(0, 100))
@settings(max_examples=150, deadline=None)
def test_no_figure_is_ever_nan(
    inductance: float, winding: float, initial: float, clamp_v: float, time_s: float
) -> None:
    decay = Decay(inductance, winding, initial, clamp_v)
    figures = (
        decay.current_at_a(time_s),
        decay.off_time_s,
        decay.clamp_energy_j,
        decay.winding_energy_j,
        decay.time_to_fraction_s(0.2),
        decay.time_constant_s,
    )
    assert not any(math.isnan(figure) for figure in figures)
    assert 0 <= decay.current_at_a(time_s) <= initial
    assert -1e-12 <= decay.clamp_energy_j <= decay.stored_energy_j * (1 + 1e-12)


def test_clamp_energy_series_joins_the_closed_form() -> None:
    # The share changes formula at I0 R / Vc = 1e-4; both sides must agree with 1/2 - a/3 there.
    below, above = (Decay(1.0, ratio, 1.0, 1.0).clamp_energy_j for ratio in (0.99999e-4, 1.00001e-4))
    assert below == pytest.approx(0.5 - 0.99999e-4 / 3, abs=3e-9)
    assert above == pytest.approx(0.5 - 1.00001e-4 / 3, abs=3e-9)
    assert abs(below - above) < 1e-9


def _spice_decay(folder: Path, clamp_v: float) -> tuple[np.ndarray, np.ndarray]:
    """Current of the reference coil (2 H, 48 ohm, 0.5 A) into a constant-drop clamp, solved by ngspice."""
    # A source and a near-ideal diode make the constant drop; the shunt keeps the matrix regular when the
    # diode blocks. Exit status tells nothing in batch mode, so stderr and the data are judged instead.
    deck = folder / "decay.cir"
    deck.write_text(
        "* coil into a constant clamp\n"
        "L1 a b 2 ic=0.5\n"
        "R1 b c 48\n"
        "D1 c d near\n"
        f"V1 d 0 dc {clamp_v}\n"
        "Rs c d 1g\n"
        "R0 a 0 1u\n"
        ".model near d is=1e-12 n=0.001 rs=1m\n"
        ".options reltol=1e-5 abstol=1e-10 vntol=1e-7\n"
        ".tran 10u 250m 0 10u uic\n"
        ".control\nrun\nwrdata decay.txt i(L1)\nquit 0\n.endc\n.end\n",
        encoding="utf-8",
    )
    done = subprocess.run(
        ["ngspice", "-b", "decay.cir"], cwd=folder, capture_output=True, text=True, timeout=60, check=False
    )
    said = done.stdout + done.stderr
    assert "too small" not in said and "aborted" not in said, said[-2000:]
    data = np.loadtxt(folder / "decay.txt")
    return data[:, 0], data[:, 1]


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs ngspice (package ngspice)")
@pytest.mark.parametrize("clamp_v", [0.7, 1.4, 24.7, 36.7])
def test_decay_agrees_with_a_circuit_simulator(tmp_path: Path, clamp_v: float) -> None:
    time_s, current_a = _spice_decay(tmp_path, clamp_v)
    assert time_s[-1] == pytest.approx(0.25, abs=1e-6)  # an aborted run leaves a shorter file
    # The clamp's sign: a source the wrong way round would make the current rise.
    assert current_a[0] == pytest.approx(0.5, rel=1e-3)
    assert np.all(np.diff(current_a) < 1e-6)
    decay = Decay(2.0, 48.0, 0.5, clamp_v)
    worst = max(abs(decay.current_at_a(float(t)) - i) for t, i in zip(time_s, current_a, strict=True))
    assert worst < 1e-4 * 0.5


def test_rise_agrees_with_an_ode_solver() -> None:
    solution = solve_ivp(
        lambda _t, y: [(12.0 - 24.0 * y[0]) / 0.8], (0, 0.2), [0.1], method="DOP853", rtol=1e-11, atol=1e-13
    )
    for t, i in zip(solution.t, solution.y[0], strict=True):
        assert coils.rise_current_a(float(t), 0.8, 24.0, 12.0, 0.1) == pytest.approx(i, abs=1e-9)


def test_parallel_load_is_slower_than_no_load_and_shorter_through_more_ohms() -> None:
    lamp = coils.parallel_load_decay(0.5, 24.0, 0.5, 24.0)
    sounder = coils.parallel_load_decay(0.5, 24.0, 0.5, 480.0)
    assert lamp.peak_coil_v == pytest.approx(12.0)  # I0 times the load's resistance
    assert lamp.time_to_fraction_s(0.2) == pytest.approx(0.5 / 48 * math.log(5))
    assert sounder.time_to_fraction_s(0.2) < lamp.time_to_fraction_s(0.2)
    assert lamp.winding_energy_j == pytest.approx(lamp.external_energy_j) == pytest.approx(0.5 * 0.5 * 0.25 / 2)


def test_parallel_resistance() -> None:
    assert coils.parallel_resistance_ohm(60.0) == pytest.approx(60.0)
    assert coils.parallel_resistance_ohm(60.0, 30.0) == pytest.approx(20.0)
    with pytest.raises(ValueError, match="at least one"):
        coils.parallel_resistance_ohm()


def test_a_clamp_across_the_switch_must_exceed_the_supply() -> None:
    assert coils.clamp_across_switch_v(36.0, 24.0) == pytest.approx(12.0)
    assert coils.clamp_across_switch_v(24.0, 24.0) is None
    assert coils.clamp_across_switch_v(15.0, 24.0) is None


@given(st.floats(-40, 120), st.floats(-40, 120), st.floats(1, 500))
@settings(max_examples=60, deadline=None)
def test_resistance_there_and_back(hot_c: float, cold_c: float, resistance: float) -> None:
    there = coils.resistance_at_ohm(resistance, hot_c, cold_c)
    assert coils.resistance_at_ohm(there, cold_c, hot_c) == pytest.approx(resistance)
    assert coils.temperature_rise_k(resistance, there, cold_c) == pytest.approx(hot_c - cold_c, abs=1e-6)


@given(st.floats(0, 1))
def test_force_and_current_are_inverse(share: float) -> None:
    fraction = coils.current_fraction_for_force(share * 2700.0, 2700.0)
    assert coils.force_fraction(fraction) == pytest.approx(share, abs=1e-12)


def test_peak_bound_is_the_lossless_ringing() -> None:
    # All of L I^2 / 2 in the capacitor: C V^2 / 2.
    peak = coils.unsuppressed_peak_v(0.5, 2.0, 1e-9)
    assert 0.5 * 1e-9 * peak**2 == pytest.approx(coils.stored_energy_j(2.0, 0.5))
    assert coils.unsuppressed_peak_v(0.0, 2.0, 1e-9, 24.0) == pytest.approx(24.0)


def test_release_time_is_open_while_a_part_is_unknown() -> None:
    assert ReleaseTime(0.1).within(0.25) is None
    assert ReleaseTime(0.3).within(0.25) is False  # the unknown parts can only add
    assert ReleaseTime(0.1, 0.05, 0.02).within(0.25) is True
    assert ReleaseTime(0.1, 0.05, 0.12).within(0.25) is False
    assert ReleaseTime(0.1, 0.05).total_s is None
    assert ReleaseTime(0.1, 0.05).at_least_s == pytest.approx(0.15)
    assert ReleaseTime(0.1, 0.05, 0.1).total_s == pytest.approx(0.25)
    assert ReleaseTime(0.25, 0.0, 0.0).within(0.25) is True  # at the limit
    assert ReleaseTime(math.inf, 0.0, 0.0).within(0.25) is False


@pytest.mark.parametrize("bad", [math.nan, -0.1])
def test_release_time_refuses_bad_parts(bad: float) -> None:
    with pytest.raises(ValueError, match="remanence_s"):
        ReleaseTime(0.1, bad)


def test_suppressor_kinds_are_frozen_and_say_what_the_parts_say() -> None:
    with pytest.raises(TypeError):
        SUPPRESSOR_KINDS["other"] = SUPPRESSOR_KINDS["diode"]  # type: ignore[index]
    assert {name for name, kind in SUPPRESSOR_KINDS.items() if kind.polarised} == {
        "diode",
        "tvs_unidirectional",
        "zener_diode",
    }
    for kind in SUPPRESSOR_KINDS.values():
        assert kind.suits_ac is not kind.polarised
        assert SUPPRESSOR_KINDS[kind.name] is kind
        assert kind.why


def test_clamp_estimates() -> None:
    diode = SUPPRESSOR_KINDS["diode"].clamp()
    bidirectional = SUPPRESSOR_KINDS["tvs_bidirectional"].clamp(15.0)
    assert diode is not None and bidirectional is not None
    assert bidirectional.low_v > 15.0 > diode.high_v
    # Across the coil a unidirectional part is met in its forward direction: no faster than a diode, whatever
    # its stand-off.
    forward = SUPPRESSOR_KINDS["tvs_unidirectional"].clamp(15.0)
    assert forward == SUPPRESSOR_KINDS["tvs_unidirectional"].clamp() and forward is not None
    assert forward.high_v < 2.0
    assert SUPPRESSOR_KINDS["tvs_bidirectional"].clamp() is None  # stand-off missing: open, not a guess
    for name in ("none", "rc_snubber", "resistor"):
        assert SUPPRESSOR_KINDS[name].clamp(24.0, 40.0) is None
    for kind in SUPPRESSOR_KINDS.values():
        estimate = kind.clamp(30.0)
        assert estimate is None or 0 < estimate.low_v <= estimate.high_v


def test_a_stated_clamp_voltage_is_the_high_end() -> None:
    kind = SUPPRESSOR_KINDS["tvs_bidirectional"]
    both = kind.clamp(15.0, 24.4)
    assert both is not None and both.low_v == pytest.approx(16.5) and both.high_v == pytest.approx(24.4)
    alone = kind.clamp(None, 24.4)
    assert alone is not None and alone.low_v == pytest.approx(24.4 / 1.5) and alone.high_v == pytest.approx(24.4)
    with pytest.raises(ValueError, match="stand-off"):
        kind.clamp(30.0, 24.4)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize("field", ["inductance_h", "initial_a"])
def test_decay_refuses_bad_numbers(field: str, bad: float) -> None:
    given_values = {"inductance_h": 1.0, "resistance_ohm": 24.0, "initial_a": 0.5, "clamp_v": 0.7} | {field: bad}
    with pytest.raises(ValueError, match=field):
        Decay(**given_values)


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
@pytest.mark.parametrize("field", ["resistance_ohm", "clamp_v", "external_ohm"])
def test_decay_refuses_bad_loops(field: str, bad: float) -> None:
    given_values = {"inductance_h": 1.0, "resistance_ohm": 24.0, "initial_a": 0.5, "clamp_v": 0.7} | {field: bad}
    with pytest.raises(ValueError, match=field):
        Decay(**given_values)


def test_a_loop_that_nothing_opposes_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing opposes"):
        Decay(1.0, 0.0, 0.5, 0.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: coils.coil_resistance_ohm(12.0, 0.0),
        lambda: coils.coil_resistance_ohm(-12.0, 0.5),
        lambda: coils.coil_resistance_ohm(math.nan, 0.5),
        lambda: coils.resistance_at_ohm(24.0, -300.0),
        lambda: coils.resistance_at_ohm(24.0, math.nan),
        lambda: coils.hot_current_fraction(-5.0),
        lambda: coils.stored_energy_j(-1.0, 0.5),
        lambda: coils.time_constant_s(1.0, 0.0),
        lambda: coils.parallel_load_decay(1.0, 24.0, 0.5, 0.0),
        lambda: coils.unsuppressed_peak_v(0.5, 1.0, 0.0),
        lambda: coils.current_fraction_for_force(3000.0, 2700.0),
        lambda: coils.current_fraction_for_force(10.0, 0.0),
        lambda: Decay(1.0, 24.0, 0.5, 0.7).time_to_fraction_s(1.5),
        lambda: Decay(1.0, 24.0, 0.5, 0.7).time_to_fraction_s(math.nan),
        lambda: Decay(1.0, 24.0, 0.5, 0.7).current_at_a(-1.0),
        lambda: SUPPRESSOR_KINDS["mov"].clamp(0.0),
    ],
)
def test_bad_numbers_raise_value_error(call: object) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=r"must|range"):
        call()


# -- edges, and the kinds in full --------------------------------------------------------------------


def test_where_the_linear_law_leaves_no_resistance_there_is_none() -> None:
    # 1 + 0.01 (-80 - 20) = 0
    for temperatures in ((-80.0, 20.0), (20.0, -80.0)):
        with pytest.raises(ValueError, match="below the range"):
            coils.resistance_at_ohm(10.0, *temperatures, alpha_20_per_k=0.01)
    assert coils.resistance_at_ohm(10.0, -79.0, alpha_20_per_k=0.01) == pytest.approx(0.1)


def test_what_each_kind_needs_and_suits() -> None:
    """By what the parts are: a diode, and whatever clamps by one, conducts one way; a zener, a TVS and a varistor are
    chosen by their stand-off voltage (common practice, no source)."""
    kinds = SUPPRESSOR_KINDS.values()
    assert {kind.name for kind in kinds if not kind.suits_ac} == {"diode", "tvs_unidirectional", "zener_diode"}
    assert {kind.name for kind in kinds if kind.needs_stand_off} == {"tvs_bidirectional", "zener_diode", "mov"}
    bridge = SUPPRESSOR_KINDS["bridge"].clamp(15.0)
    assert bridge is not None and (bridge.low_v, bridge.high_v) == (1.4, 2.0)


@pytest.mark.parametrize(
    ("name", "low_v", "high_v"),
    [
        ("diode", 0.7, 1.0),
        ("tvs_bidirectional", 1.1 * 30, 1.65 * 30),
        ("tvs_unidirectional", 0.7, 1.2),
        ("zener_diode", 0.95 * 30 + 0.6, 1.1 * 30 + 1.0),
        ("mov", 1.2 * 30, 2.5 * 30),
    ],
)
def test_the_clamp_of_each_kind_at_a_stand_off_of_30_volts(name: str, low_v: float, high_v: float) -> None:
    """Common practice, no source."""
    found = SUPPRESSOR_KINDS[name].clamp(30.0)
    assert found is not None
    assert [found.low_v, found.high_v] == pytest.approx([low_v, high_v])
