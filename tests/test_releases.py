"""The release of a coil, from the text of a spec to a time: against closed forms, an ODE solver and its own laws."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from doorlint.circuit.coils import SUPPRESSOR_KINDS
from doorlint.circuit.releases import (
    MAGNET_RELEASE_FRACTION,
    Release,
    SwitchedCoil,
    decay_time_s,
    drop_out,
    highest_source,
    holding_current_a,
    letting_go,
    paths,
    release,
    slowest_path,
    slowest_release,
)
from doorlint.outcome import Kind
from doorlint.repair import with_cures
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook, collect
from doorlint.spec import Undecided

inductances = st.floats(0.02, 5.0)
resistances = st.floats(5.0, 400.0)
currents = st.floats(0.05, 2.0)
clamps = st.floats(0.3, 80.0)
loads = st.floats(1.0, 2000.0)
fractions = st.floats(0.02, 0.9)


def switched(
    coil: str,
    *,
    item: str = "",
    more: str = "",
    products: str = "",
    kind: str = "electromagnetic_lock",
    power: str = "{kind: power_supply, supply: dc, voltage: 12 V}",
    contact: str = "{form: spdt, current: 5 A}",
) -> SwitchedCoil:
    """The coil of one lock on one contact, read from the text of a spec."""
    text = f"""
doorlint: 1
project: {{name: test}}
products:
  lock: {{kind: {kind}, coil: {coil}}}
  rc: {{kind: door_controller, contacts: {{relay: {contact}}}}}
{products}
power:
  psu: {power}
openings:
  D1:
    items:
      rc: {{product: rc}}
      lock: {{product: lock, fed_from: psu, switched_by: rc.relay.nc{item}}}
{more}
"""
    result = review_text(text, rulebook=Rulebook())
    assert not [o.message for o in result.outcomes], [o.message for o in result.outcomes]
    assert result.context is not None
    found = [one for one in result.context.subjects[SwitchedCoil] if one.item.name == "lock"]
    assert len(found) == 1
    only: SwitchedCoil = found[0]
    return only


def released(one: SwitchedCoil) -> Release:
    found = slowest_release(one)
    assert found is not None
    return found


# -- closed forms ----------------------------------------------------------------------------------


def test_after_one_time_constant_a_short_circuited_coil_has_36_8_percent() -> None:
    """Natural response of an RL circuit: i(L/R) = I0 / e, in every textbook on electric circuits (from memory:
    Alexander and Sadiku, Fundamentals of Electric Circuits, chapter on first-order circuits). Into a parallel
    resistance the whole loop counts."""
    assert decay_time_s(2.0, 30.0, 0.5, 0.5 / math.e, None, 10.0) == pytest.approx(2.0 / 40.0, rel=1e-12)
    assert decay_time_s(2.0, 30.0, 0.5, 0.5 * 0.36788, None, 10.0) == pytest.approx(0.05, rel=1e-4)


@pytest.mark.parametrize(
    ("inductance", "current", "fraction", "milliseconds"),
    [
        pytest.param("3 H", "500 mA", "15 %", 203, id="large magnet with a diode"),
        pytest.param("1 H", "500 mA", "5 %", 95, id="magnet with a diode"),
        pytest.param("60 mH", "300 mA", "40 %", 1, id="strike with a diode"),
    ],
)
def test_hand_worked_release_times_with_a_diode(
    inductance: str, current: str, fraction: str, milliseconds: int
) -> None:
    """Worked by hand from (L/R) ln((1 + Vc/V0) / (f + Vc/V0)) with 12 V and 0.7 V; typical magnitudes, common practice,
    no source."""
    data = f"current: {current}, inductance: {inductance}, release_fraction: {fraction}"
    coil = f"{{voltage: 12 V, {data}, built_in_suppression: diode}}"
    assert round(released(switched(coil)).electrical_s * 1000) == milliseconds


def test_the_energy_of_three_henries_at_half_an_ampere() -> None:
    """L I^2 / 2 = 0.375 J, worked by hand."""
    coil = "{voltage: 12 V, current: 0.5 A, inductance: 3 H, built_in_suppression: diode}"
    assert released(switched(coil)).energy_j == pytest.approx(0.375)


def test_a_magnet_without_a_stated_fraction_lets_go_at_five_percent_of_its_force() -> None:
    """Force as the square of the current (unsaturated iron, textbook): sqrt(0.05) = 0.2236."""
    assert pytest.approx(0.2236, abs=5e-5) == MAGNET_RELEASE_FRACTION
    one = switched("{voltage: 12 V, current: 0.5 A, built_in_suppression: none}", item=", suppression: none")
    assert letting_go(one)[0] == pytest.approx(0.5 * math.sqrt(0.05))
    assert drop_out(one)[0] == pytest.approx(0.05)


# -- an ODE solver through the whole analysis ------------------------------------------------------

RESISTOR = "  part: {kind: suppressor, suppressor: {type: resistor, resistance: 30 ohm}}"
ZENER = "  part: {kind: suppressor, suppressor: {type: zener_diode, stand_off: 20 V}}"
LAMP = "  lamp: {kind: sounder, inputs: {dc: {voltage: 12 V, current: 400 mA}}}"
LAMP_BEHIND = "      lamp: {product: lamp, fed_from: psu, switched_by: rc.relay.nc}"
COIL = "{{voltage: 12 V, current: 0.5 A, inductance: 1.3 H, release_fraction: 8 %, built_in_suppression: {}}}"

SPECS = [
    pytest.param(COIL.format("diode"), "", "", "", 0.7, None, id="diode"),
    pytest.param(COIL.format("none"), ", suppression: part", "", ZENER, 0.95 * 20 + 0.6, None, id="zener and diode"),
    pytest.param(COIL.format("mov"), "", "", "", 1.2 * 12, None, id="varistor that just stands off the supply"),
    pytest.param(COIL.format("tvs_unidirectional"), "", "", "", 0.7, None, id="TVS that conducts one way"),
    pytest.param(COIL.format("none"), ", suppression: part", "", RESISTOR, None, 30.0, id="resistor"),
    pytest.param(COIL.format("none"), ", suppression: none", LAMP_BEHIND, LAMP, None, 30.0, id="lamp in parallel"),
    pytest.param(COIL.format("mov"), "", LAMP_BEHIND, LAMP, 14.4, 30.0, id="varistor, then the lamp"),
    pytest.param(
        COIL.format("mov, rectifier: true"), "", "", "", 1.4, None, id="rectifier inside",
    ),
]  # fmt: skip


def by_solver(
    inductance: float, winding: float, initial: float, threshold: float, clamp: float | None, load: float | None
) -> float:
    """Time to the threshold by numerical integration of L di/dt = -(R i + min(Vc, i Rp)), no closed form."""

    def opposing(i: float) -> float:
        return min(clamp if clamp is not None else math.inf, i * load if load is not None else math.inf)

    def reached(_t: float, y: list[float]) -> float:
        return y[0] - threshold

    reached.terminal = True  # type: ignore[attr-defined]
    solution = solve_ivp(
        lambda _t, y: [-(winding * y[0] + opposing(y[0])) / inductance],
        (0, 50 * inductance / winding),
        [initial],
        method="DOP853",
        rtol=1e-10,
        atol=1e-13,
        events=reached,
        max_step=inductance / winding / 50,
    )
    assert solution.t_events[0].size == 1
    return float(solution.t_events[0][0])


@pytest.mark.parametrize(("coil", "item", "more", "products", "clamp", "load"), SPECS)
def test_the_analysis_of_a_spec_agrees_with_an_ode_solver(
    coil: str, item: str, more: str, products: str, clamp: float | None, load: float | None
) -> None:
    found = released(switched(coil, item=item, more=more, products=products))
    assert found.initial_a == pytest.approx(0.5)
    assert found.threshold_a == pytest.approx(0.04)
    assert found.electrical_s == pytest.approx(by_solver(1.3, 24.0, 0.5, 0.04, clamp, load), rel=1e-6)


@given(inductances, resistances, currents, fractions, clamps, loads)
@settings(max_examples=20, deadline=None)
def test_clamp_and_load_together_agree_with_an_ode_solver(
    inductance: float, winding: float, initial: float, fraction: float, clamp: float, load: float
) -> None:
    threshold = fraction * initial
    time = decay_time_s(inductance, winding, initial, threshold, clamp, load)
    # the corner of min(Vc, i Rp) costs the solver some digits
    assert time == pytest.approx(by_solver(inductance, winding, initial, threshold, clamp, load), rel=1e-4)


# -- laws ------------------------------------------------------------------------------------------


@given(inductances, resistances, currents, fractions, clamps, st.one_of(st.none(), loads), st.floats(0.0, 100.0))
@settings(max_examples=150, deadline=None)
def test_adding_clamp_voltage_never_slows_the_release(
    inductance: float, winding: float, initial: float, fraction: float, clamp: float, load: float | None, more: float
) -> None:
    threshold = fraction * initial
    slow = decay_time_s(inductance, winding, initial, threshold, clamp, load)
    fast = decay_time_s(inductance, winding, initial, threshold, clamp + more, load)
    assert fast <= slow * (1 + 1e-12)


@given(inductances, resistances, currents, fractions, st.one_of(st.none(), clamps), loads, loads)
@settings(max_examples=150, deadline=None)
def test_adding_a_load_in_parallel_never_speeds_the_release_up(
    inductance: float, winding: float, initial: float, fraction: float, clamp: float | None, load: float, second: float
) -> None:
    threshold = fraction * initial
    both = 1 / (1 / load + 1 / second)
    alone = decay_time_s(inductance, winding, initial, threshold, clamp, load)
    assert decay_time_s(inductance, winding, initial, threshold, clamp, both) >= alone * (1 - 1e-9)


@given(inductances, resistances, currents, fractions, st.one_of(st.none(), clamps), st.one_of(st.none(), loads))
@settings(max_examples=150, deadline=None)
def test_a_release_time_is_a_finite_number_and_bounded_by_the_free_decay(
    inductance: float, winding: float, initial: float, fraction: float, clamp: float | None, load: float | None
) -> None:
    threshold = fraction * initial
    if clamp is None and load is None:
        with pytest.raises(ValueError, match="nothing carries"):
            decay_time_s(inductance, winding, initial, threshold, clamp, load)
        return
    time = decay_time_s(inductance, winding, initial, threshold, clamp, load)
    # a coil shorted without any voltage is the slowest of all: (L/R) ln(1/f)
    assert 0 < time <= inductance / winding * math.log(1 / fraction) * (1 + 1e-12)


def test_a_current_already_below_the_threshold_takes_no_time() -> None:
    assert decay_time_s(1.0, 24.0, 0.1, 0.2, 0.7, None) == 0.0


# -- what counts as a way for the current ----------------------------------------------------------


def test_every_word_of_the_format_for_a_suppressor_is_a_kind() -> None:
    schema = json.loads((Path(__file__).parent.parent / "schemas" / "spec.schema.json").read_text("utf-8"))["$defs"]
    words = {*schema["suppressor"]["properties"]["type"]["enum"]}
    words |= {*schema["coil"]["properties"]["built_in_suppression"]["enum"]}
    for word in words - {"unknown", "yes"}:
        assert word in SUPPRESSOR_KINDS


def labels(one: SwitchedCoil) -> set[str]:
    return {path.kind for path in paths(one, one.openers[0]).found}


def test_a_load_before_the_contact_and_an_equal_coil_do_not_count() -> None:
    before = "      lamp: {product: lamp, fed_from: psu}"
    twin = "      twin: {product: lock, fed_from: psu, switched_by: rc.relay.nc}"
    one = switched(COIL.format("none"), item=", suppression: none", more=f"{before}\n{twin}", products=LAMP)
    assert labels(one) == set()
    assert slowest_release(one) is None
    behind = switched(COIL.format("none"), item=", suppression: none", more=LAMP_BEHIND, products=LAMP)
    assert labels(behind) == {"load"}


def test_the_diode_of_another_lock_on_the_same_contact_counts() -> None:
    other = "  strike: {kind: electric_strike, coil: {voltage: 12 V, current: 200 mA, built_in_suppression: diode}}"
    use = "      strike: {product: strike, fed_from: psu, switched_by: rc.relay.nc}"
    one = switched(COIL.format("mov"), more=use, products=other)
    way = slowest_path(one)
    assert way is not None
    assert way[0].kind == "diode"
    assert way[1] == pytest.approx(0.7)


def test_equal_loads_are_counted_together() -> None:
    one_lamp, two_lamps = LAMP_BEHIND, LAMP_BEHIND + "\n" + LAMP_BEHIND.replace("lamp:", "second:")
    for more, ohm in ((one_lamp, 30.0), (two_lamps, 15.0)):
        one = switched(COIL.format("none"), item=", suppression: none", more=more, products=LAMP)
        (way,) = paths(one, one.openers[0]).found
        assert way.ohm == pytest.approx(ohm)


def test_loads_that_differ_add_up() -> None:
    """30 ohm and 60 ohm in parallel are 20 ohm, so 0.5 A meets 10 V at first."""
    second = LAMP.replace("lamp:", "small:").replace("400 mA", "200 mA")
    more = LAMP_BEHIND + "\n" + LAMP_BEHIND.replace("lamp:", "small:").replace("product: lamp", "product: small")
    one = switched(COIL.format("mov"), more=more, products=f"{LAMP}\n{second}")
    way = slowest_path(one)
    assert way is not None
    assert way[1] == pytest.approx(10.0)
    assert way[0].label == "lamp in parallel"
    assert released(one).electrical_s == pytest.approx(by_solver(1.3, 24.0, 0.5, 0.04, None, 20.0), rel=1e-6)


def test_a_rectifier_in_another_lock_is_no_freewheel_for_this_one() -> None:
    other = "  strike: {kind: electric_strike, coil: {voltage: 12 V, current: 200 mA, built_in_suppression: bridge}}"
    use = "      strike: {product: strike, fed_from: psu, switched_by: rc.relay.nc}"
    assert labels(switched(COIL.format("mov"), more=use, products=other)) == {"mov", "load"}


def test_a_part_built_into_the_contact_counts() -> None:
    one = switched(COIL.format("mov"), contact="{form: spdt, built_in_suppression: diode}")
    assert labels(one) == {"mov", "diode"}


@pytest.mark.parametrize(("said", "waits"), [("", False), (", built_in_suppression: unknown", True)])
def test_a_part_that_may_be_built_into_the_contact_is_waited_for_where_the_sheet_names_it(
    said: str, waits: bool
) -> None:
    """A sheet that says nothing of it is one of a bare contact (common practice, no source); one that gives it as
    unknown, or says that there is one and not which, leaves open what the current flows through."""
    one = switched(COIL.format("mov"), contact=f"{{form: spdt{said}}}")
    gaps = paths(one, one.openers[0]).gaps
    assert [(gap.name, gap.stated) for gap in gaps] == [("built_in_suppression", True)] * waits


def test_what_is_not_known_only_stops_where_it_could_be_slower() -> None:
    diode = "  diode: {kind: suppressor, suppressor: {type: diode}}"
    coil = "{voltage: 12 V, current: 0.5 A, inductance: 1 H}"
    known = switched(coil, item=", suppression: diode", products=diode)
    assert released(known).path.kind == "diode"  # nothing built in can be slower than a diode
    tvs = "  tvs: {kind: suppressor, suppressor: {type: tvs_bidirectional, stand_off: 18 V}}"
    with pytest.raises(Undecided) as gap:
        slowest_release(switched(coil, item=", suppression: tvs", products=tvs))
    assert gap.value.name == "built_in_suppression"


def test_a_missing_inductance_is_named() -> None:
    with pytest.raises(Undecided) as gap:
        slowest_release(switched("{voltage: 12 V, current: 0.5 A, built_in_suppression: diode}"))
    assert gap.value.name == "inductance"


@pytest.mark.parametrize(
    "figure", ["current: 0 A", "current: 0.5 A, resistance: 0 ohm", "current: 0.5 A, inductance: 0 H"]
)
def test_a_figure_of_zero_is_open_and_no_division(figure: str) -> None:
    more = "" if "inductance" in figure else ", inductance: 1 H"
    with pytest.raises(Undecided):
        slowest_release(switched(f"{{voltage: 12 V, {figure}{more}, built_in_suppression: diode}}"))


# -- the current at the moment of opening ----------------------------------------------------------


@pytest.mark.parametrize(
    ("power", "highest"),
    [
        ("{kind: power_supply, voltage: 12 V +-5 %}", 12.6),
        ("{kind: power_supply, voltage: 12 V, battery: {float_voltage: 13.8 V}}", 13.8),
        ("{kind: power_supply, voltage: 12 V, battery: {float_voltage: 13.8 V, regulated: true}}", 12.0),
        ("{kind: power_supply, voltage: 14 V, battery: {float_voltage: 13.8 V}}", 14.0),
        ("{kind: power_supply, voltage: 12 V, battery: {capacity: 7 Ah}}", 12.0),
    ],
)
def test_the_highest_source_voltage_counts_with_the_battery_float(power: str, highest: float) -> None:
    one = switched(COIL.format("diode"), power=power)
    assert highest_source(one.feed)[0] == pytest.approx(highest)
    assert holding_current_a(one) == pytest.approx(highest / 24)


def test_on_alternating_current_the_rated_current_flows_and_not_that_of_the_winding_alone() -> None:
    coil = "{supply: ac, voltage: 24 V, current: 0.4 A, resistance: 20 ohm}"
    one = switched(coil, power="{kind: power_supply, supply: ac, voltage: 24 V +-10 %}")
    assert holding_current_a(one) == pytest.approx(0.4)


@pytest.mark.parametrize(
    ("kind", "more", "current_a", "field"),
    [
        ("electromagnetic_lock", "", 0.5 * MAGNET_RELEASE_FRACTION, "current"),
        ("electromagnetic_lock", ", drop_out_current: 40 mA", 0.04, "drop_out_current"),
        ("electromagnetic_lock", ", drop_out_current: 40 mA, release_fraction: 8 %", 0.04, "release_fraction"),
        ("electric_strike", "", 0.05, "current"),
        ("electric_strike", ", drop_out_current: 40 mA", 0.04, "drop_out_current"),
    ],
)
def test_a_lock_lets_go_by_what_its_sheet_says_best(kind: str, more: str, current_a: float, field: str) -> None:
    """A stated fraction of the holding current, else the drop-out current; a magnet without either at 5 percent of its
    force, any other coil at a tenth of its current (common practice, no source)."""
    found, _, place = letting_go(switched(f"{{voltage: 12 V, current: 0.5 A{more}}}", kind=kind))
    assert found == pytest.approx(current_a)
    assert place.pointer.endswith(f"/coil/{field}")


def test_a_higher_source_voltage_releases_later() -> None:
    """The lock lets go at the same absolute current, from a higher one."""
    low = released(switched(COIL.format("diode"))).electrical_s
    high = released(switched(COIL.format("diode"), power="{kind: power_supply, voltage: 13.8 V}")).electrical_s
    assert high > low


def test_the_slowest_of_several_switches_counts() -> None:
    """A lamp behind the button, but before the relay, freewheels the coil only when the button opens."""
    more = """      button: {product: button}
      lamp: {product: lamp, fed_from: psu, released_by: button.press}"""
    products = f"  button: {{kind: exit_button, contacts: {{press: {{form: nc}}}}}}\n{LAMP}"
    one = switched(COIL.format("mov"), item=", released_by: button.press", more=more, products=products)
    times = {opener.label: release(one, opener) for opener in one.openers}
    button, relay = times["button.press"], times["rc.relay"]
    assert button is not None
    assert relay is not None
    assert button.electrical_s > relay.electrical_s
    assert released(one).opener is not None
    assert released(one).electrical_s == button.electrical_s


# -- repairs ---------------------------------------------------------------------------------------


def test_a_diode_across_a_magnet_is_cured_by_a_part_of_the_spec_that_stands_off_the_supply() -> None:
    text = """
doorlint: 1
project: {name: test}
products:
  lock: {kind: electromagnetic_lock, coil: {voltage: 12 V, current: 0.5 A, inductance: L, built_in_suppression: none}}
  diode: {kind: suppressor, suppressor: {type: diode}}
  too-low: {kind: suppressor, suppressor: {type: tvs_bidirectional, stand_off: 12 V}}
  fits: {kind: suppressor, suppressor: {type: tvs_bidirectional, stand_off: 15 V}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V}
openings:
  D1: {items: {lock: {product: lock, fed_from: psu, suppression: diode}}}
"""
    known_l, unknown_l = text.replace("L,", "12 H,"), text.replace(" inductance: L,", "")
    rules = {module.RULE.id: module for module in collect().modules}
    cases = (("release/slower-than-limit", known_l), ("suppression/freewheel-across-magnet", unknown_l))
    for rule, spec in cases:
        result = with_cures(review_text(spec, rulebook=Rulebook((rules[rule],))))
        (failure,) = [o for o in result.outcomes if o.kind is Kind.FAIL]
        (repair,) = failure.repairs
        assert repair.changes[0].text == "fits"
        assert repair.life_safety and repair.verified
