"""PoE links of a spec: class, channel, what is left and what is drawn, against hand calculation, published figures
and independent solvers.

IEEE 802.3 figures (power by class, 12.5 ohm and 20 ohm channels, 50 ms, 10 mA) are from memory where the tests of the
class table do not name a printed source. Trade figures are marked "common practice, no source".
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from doorlint.circuit.poe_cures import channel_that_leaves, quoted
from doorlint.circuit.poe_links import PeakDemand, PoeLink, PoeLinks, Rise, exact
from doorlint.context import Context
from doorlint.outcome import Kind, Outcome
from doorlint.report.budget import poe_lines
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook, collect
from doorlint.spec import Undecided

BOOK = Rulebook(tuple(module for module in collect().modules if module.RULE.id.startswith("poe/")))

BASE = """
doorlint: 1
project: {name: Case}
products:
  lock:
    kind: electric_strike
    fail: secure
    coil: {voltage: 12 V, current: 600 mA, peak: 620 mA, peak_duration: 100 ms}
  reader: {kind: reader, inputs: {dc: {voltage: 12 V, current: 100 mA, idle_power: 0.8 W}}}
  rc:
    kind: reader_controller
    efficiency: 85 %
    inputs: {poe: {poe_class: 3, power: 2.5 W, idle_power: 2 W, capacitance: 100 uF, hold_up: 10 ms}}
    outputs: {lock: {supply: dc, voltage: 12 V}, aux: {supply: dc, voltage: 12 V}}
    isolated: true
power:
  ups: {kind: ups, backup: 4 h}
  sw:
    kind: poe_switch
    standard: 802.3at
    port_class: 4
    ports: 8
    budget: 120 W
    allocation: by_class
    keeps_power_on_restart: true
    fed_from: ups
    required_backup: 4 h
    listings: [UL 294]
cables: {cat6: {kind: category, category: 6, conductor: 23 AWG}}
openings:
  D1:
    egress: {side: from, by: lever}
    items:
      rc: {product: rc, fed_from: sw, cable: cat6, length: 60 m, splices: 2}
      lock: {product: lock, fed_from: rc.lock}
      reader: {product: reader, fed_from: rc.aux}
"""


def spec(**changed: Any) -> dict[str, Any]:
    """The base spec with values changed by path: `products__rc__efficiency="80 %"`; None takes a key away."""
    tree: dict[str, Any] = yaml.safe_load(BASE)
    for path, value in changed.items():
        *way, last = path.split("__")
        here = tree
        for key in way:
            here = here.setdefault(key, {})
        if value is None:
            here.pop(last, None)
        else:
            here[last] = value
    return tree


def reviewed(tree: Mapping[str, Any], book: Rulebook = BOOK) -> Result:
    return review_text(yaml.safe_dump(tree, sort_keys=False), "case.yaml", rulebook=book)


def solved(tree: Mapping[str, Any], item: str = "D1/rc") -> tuple[PoeLinks, PoeLink]:
    context = reviewed(tree, Rulebook()).context
    assert isinstance(context, Context)
    return context.poe, context.poe.by_item[item]


def outcome(result: Result, rule: str) -> Outcome:
    found = [o for o in result.outcomes if o.rule == rule]
    assert len(found) == 1, [o.message for o in found]
    return found[0]


# -- demand ----------------------------------------------------------------------------------------


def test_the_draw_is_the_device_itself_and_its_loads_through_the_converter() -> None:
    """By hand: 2.5 W + (0.6 A + 0.1 A) x 12 V / 0.85 = 2.5 + 8.4 / 0.85 = 12.382 W, exactly."""
    poe, link = solved(spec())
    assert poe.demand(link).total_w == Fraction(5, 2) + Fraction(84, 10) / Fraction(85, 100)


def test_a_controller_on_standard_poe_passes_on_600_ma_and_draws_about_11_w() -> None:
    """Common practice, no source: on 802.3af about 11 W at most, of which 12 V 600 mA for lock and accessories."""
    together = {"products__reader__inputs__dc__current": "150 mA", "products__lock__coil__current": "450 mA"}
    poe, link = solved(spec(**together))
    drawn = poe.demand(link).total_w
    assert drawn is not None
    assert 10.5 < drawn < 11.5
    assert outcome(reviewed(spec(**together)), "poe/draw-above-available-power").kind is Kind.PASS
    hungry = spec(**(together | {"products__lock__coil__current": "750 mA"}))
    assert outcome(reviewed(hungry), "poe/draw-above-available-power").kind is Kind.FAIL


@pytest.mark.parametrize(("standard", "port"), [("802.3af", 3), ("802.3at", 4), ("802.3bt", 6), ("802.3bt", 8)])
def test_a_higher_port_gives_a_class_3_device_nothing_more(standard: str, port: int) -> None:
    """Common practice, no source: a device gets the class that it asks for, whatever the port has."""
    poe, link = solved(spec(power__sw__standard=standard, power__sw__port_class=port))
    grant = poe.grant(link)
    assert (grant.port, grant.asked) == (port, 3)
    assert grant.granted is not None
    assert grant.granted.number == 3
    assert poe.available(link).power_w == Fraction("12.95")


@pytest.mark.parametrize(("current", "kind"), [("1.8 A", Kind.PASS), ("1.9 A", Kind.FAIL)])
def test_a_class_4_splitter_gives_about_12_v_1_8_a(current: str, kind: Kind) -> None:
    """Common practice, no source: 25.5 W x 0.85 / 12 V = 1.806 A."""
    tree = spec(
        products__rc__inputs__poe={"poe_class": 4, "power": "0 W"},
        products__lock__coil__current=current,
        openings__D1__items__reader=None,
    )
    assert outcome(reviewed(tree), "poe/draw-above-available-power").kind is kind


def test_a_nested_converter_counts_twice() -> None:
    """A 24 V lock behind a 12-to-24 V converter of 90 % behind the controller's 85 %: 4.8 W / (0.9 x 0.85)."""
    tree = spec(
        products__boost={
            "kind": "converter",
            "efficiency": "90 %",
            "inputs": {"dc": {"voltage": "9..15 V", "current": "0 A"}},
            "outputs": {"out": {"supply": "dc", "voltage": "24 V"}},
        },
        products__lock__coil={"voltage": "24 V", "current": "200 mA", "peak": "400 mA", "peak_duration": "80 ms"},
        openings__D1__items__boost={"product": "boost", "fed_from": "rc.lock"},
        openings__D1__items__lock={"product": "lock", "fed_from": "boost"},
        openings__D1__items__reader=None,
    )
    poe, link = solved(tree)
    through = Fraction(9, 10) * Fraction(85, 100)
    assert poe.demand(link).total_w == Fraction(5, 2) + Fraction(48, 10) / through
    assert poe.peak(link).top_w == Fraction(5, 2) + Fraction(96, 10) / through


def test_what_hangs_on_the_dc_input_is_not_counted() -> None:
    """An output that passes the DC input's voltage on draws nothing over PoE."""
    tree = spec(
        products__rc__inputs__dc={"voltage": "12 V", "current": "180 mA"},
        products__rc__outputs__lock={"through": "dc"},
        power__psu={"kind": "power_supply", "supply": "dc", "voltage": "12 V"},
        openings__D1__items__rc__fed_from=["sw", "psu"],
    )
    poe, link = solved(tree)
    assert [c.feed.item.name for c in poe.demand(link).carried] == ["reader"]


def test_unknown_parts_leave_a_lower_bound_and_name_what_is_missing() -> None:
    poe, link = solved(spec(products__rc__inputs__poe__power=None, products__rc__efficiency=None))
    demand = poe.demand(link)
    assert demand.total_w is None
    assert demand.least_w == Fraction(84, 10)
    assert [gap.name for gap in demand.gaps] == ["power", "efficiency"]


# -- channel and what is left ----------------------------------------------------------------------


def test_the_channel_is_one_conductor_long_and_warm() -> None:
    """60 m of 24 AWG copper at 84.2 ohm/km (ASTM B258 diameter, IACS copper) and 40 degC, two splices of 0.2 ohm.

    A pair set has two wires out and two back: its loop is the resistance of one wire. IEEE 802.3, from memory.
    """
    poe, link = solved(spec(cables__cat6__conductor="24 AWG"))
    by_hand = 60 * 0.0842 * (1 + 0.00393 * 20) + 2 * 0.2
    assert poe.channel(link).ohm == pytest.approx(by_hand, rel=1e-3)
    assert poe.channel(link, 2).ohm == pytest.approx(by_hand / 2, rel=1e-3)


@settings(max_examples=30, deadline=None)
@given(
    length=st.integers(0, 400),
    gauge=st.sampled_from([22, 23, 24, 26]),
    power=st.integers(1, 129),
    volts=st.integers(44, 57),
)
def test_the_power_at_the_port_is_that_of_the_circuit(length: int, gauge: int, power: int, volts: int) -> None:
    """Independent oracle: the voltage at the device by root finding on V (Vs - V) / R = P (scipy brentq)."""
    poe, link = solved(
        spec(
            products__rc__inputs__poe__power=f"{power / 10} W",
            cables__cat6__conductor=f"{gauge} AWG",
            power__sw__voltage=f"{volts} V",
            openings__D1__items__rc__length=f"{length} m",
            openings__D1__items__lock=None,
            openings__D1__items__reader=None,
        )
    )
    ohm = poe.channel(link).ohm
    watt = power / 10
    if ohm == 0:
        assert poe.port_power(link) == pytest.approx(watt)
        return
    if watt > volts**2 / (4 * ohm):  # more than the channel can carry: at the collapse half is lost in it
        assert poe.port_power(link) == pytest.approx(2 * watt)
        return
    at_device = brentq(lambda v: v * (volts - v) / ohm - watt, volts / 2, volts, xtol=1e-12)
    assert poe.port_power(link) == pytest.approx(volts * (volts - at_device) / ohm, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(length=st.integers(1, 600), material=st.sampled_from(["copper", "copper_clad_aluminium", "aluminium"]))
def test_a_longer_channel_never_leaves_more(length: int, material: str) -> None:
    found = []
    for metres in (length, length + 10):
        poe, link = solved(spec(openings__D1__items__rc__length=f"{metres} m", cables__cat6__material=material))
        found.append(poe.available(link).power_w)
        assert 0 <= found[-1] <= Fraction("12.95")
    assert found[1] <= found[0]


def test_within_the_worst_channel_of_the_class_its_power_is_promised() -> None:
    """IEEE 802.3: 12.95 W at the end of 20 ohm from 44 V and 15.4 W: 15.4 - (15.4 / 44)^2 x 20 = 12.95."""
    assert pytest.approx(12.95) == 15.4 - (15.4 / 44) ** 2 * 20
    poe, link = solved(spec(cables__cat6__resistance="0.2 ohm/m", openings__D1__items__rc__splices=None))
    # 0.2 ohm/m x 60 m x 1.0786 = 12.9 ohm: inside; doubled it is 25.9 ohm: outside
    assert poe.available(link).power_w == exact(12.95)
    poe, link = solved(spec(cables__cat6__resistance="0.4 ohm/m", openings__D1__items__rc__splices=None))
    ohm = 0.4 * 60 * (1 + 0.00393 * 20)
    assert float(poe.available(link).power_w) == pytest.approx(15.4 - (15.4 / 44) ** 2 * ohm)


def test_the_longest_channel_for_a_power_leaves_that_power() -> None:
    poe, link = solved(spec())
    granted = poe.grant(link).granted
    assert granted is not None
    ohm = channel_that_leaves(granted, 44.0, 11.0)
    assert ohm is not None
    assert granted.pse_w - (granted.pse_w / 44) ** 2 * ohm == pytest.approx(11.0)
    assert channel_that_leaves(granted, 44.0, 13.0) is None


# -- extenders -------------------------------------------------------------------------------------


def chain(own: str, far: str, near_m: int, far_m: int, port: int = 4) -> dict[str, Any]:
    return spec(
        products__extender={
            "kind": "poe_extender",
            "inputs": {"poe": {"poe_class": port, "power": own}},
            "outputs": {"port": {"through": "poe"}},
        },
        products__rc__inputs__poe={"poe_class": port, "power": far},
        openings__D1__items={
            "extender": {"product": "extender", "fed_from": "sw", "cable": "cat6", "length": f"{near_m} m"},
            "rc": {"product": "rc", "fed_from": "extender.port", "cable": "cat6", "length": f"{far_m} m"},
        },
    )


@settings(max_examples=30, deadline=None)
@given(
    own=st.integers(0, 80),
    far=st.integers(10, 260),
    near_m=st.integers(1, 100),
    far_m=st.integers(1, 100),
    port=st.sampled_from([3, 4]),
)
def test_the_far_device_has_enough_just_when_the_port_does(
    own: int, far: int, near_m: int, far_m: int, port: int
) -> None:
    """Two ways to the same answer: what the extender leaves for the far device against what it needs, and all that
    hangs on the first port against what reaches the extender."""
    poe, link = solved(chain(f"{own / 10} W", f"{far / 10} W", near_m, far_m, port))
    assert link.upstream is not None
    assert link.source is not None
    assert link.source.id == "sw"
    need, have = poe.demand(link).total_w, poe.available(link).power_w
    total, all_of_it = poe.demand(link.upstream).total_w, poe.available(link.upstream).power_w
    assert need is not None
    assert total is not None
    if abs(float(need) - float(have)) > 1e-6 and need <= exact(12.95 if port == 3 else 25.5):
        assert (need <= have) == (total <= all_of_it)


def test_an_extender_takes_its_share() -> None:
    """Over no length at all the far device is left with what the extender does not draw: 25.5 - 3 W."""
    poe, link = solved(chain("3 W", "5 W", 0, 0))
    assert poe.available(link).power_w == Fraction("22.5")


# -- peaks -----------------------------------------------------------------------------------------

_, LINK = solved(spec())
RISES = st.lists(st.tuples(st.integers(1, 200), st.integers(1, 400)), min_size=1, max_size=5)


@settings(max_examples=30, deadline=None)
@given(steady=st.integers(0, 129), rises=RISES, above=st.integers(0, 100))
def test_energy_and_lasting_power_of_a_peak_are_those_of_its_course_in_time(
    steady: int, rises: list[tuple[int, int]], above: int
) -> None:
    """Independent oracle: the course sampled in the middle of every millisecond and summed with numpy."""
    limit = steady + above  # a steady draw above the limit is judged by itself
    parts = tuple(Rise(LINK.feed, Fraction(watt, 10), Fraction(ms, 1000)) for watt, ms in rises)
    peak = PeakDemand(Fraction(steady, 10), parts, ())
    times = np.arange(400) + 0.5
    power = np.full(400, steady / 10)
    for watt, ms in rises:
        power += np.where(times < ms, watt / 10, 0.0)
    assert float(peak.top_w) == pytest.approx(float(power.max()))
    assert float(peak.shortfall_j(Fraction(limit, 10))) == pytest.approx(
        float(np.clip(power - limit / 10, 0, None).sum() / 1000)
    )
    assert float(peak.beyond(Fraction(50, 1000))) == pytest.approx(float(power[50:].max(initial=steady / 10)))


def test_a_peak_without_duration_is_not_guessed() -> None:
    poe, link = solved(spec(products__lock__coil__peak_duration=None))
    with pytest.raises(Undecided, match="peak_duration"):
        poe.peak(link).beyond(Fraction(50, 1000))


def test_the_capacitor_that_would_hold_up_a_lock_is_computed() -> None:
    """By hand: 2.5 W and (1.5 A + 0.1 A) x 12 V / 0.85 for 100 ms on 12.95 W lack (25.09 - 12.95) x 0.1 = 1.214 J;
    behind 85 % from 12 V down to 10.2 V: C = 2 x 1.214 x 0.85 / (144 - 104.04) = 51.6 mF."""
    tree = spec(products__lock__coil__current="400 mA", products__lock__coil__peak="1.5 A")
    found = outcome(reviewed(tree), "poe/peak-above-port-limit")
    assert found.kind is Kind.FAIL
    step = next(step for step in found.working if "capacitor" in step.name)
    lacking = (2.5 + 1.6 * 12 / 0.85 - 12.95) * 0.1
    assert float(step.result.value) == pytest.approx(2 * lacking * 0.85 / (144 - 10.2**2), rel=1e-6)  # type: ignore[union-attr]


# -- sources ---------------------------------------------------------------------------------------


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.sampled_from([1, 2, 3, 4]), st.integers(1, 38)), min_size=1, max_size=6))
def test_by_use_is_never_more_than_by_class_and_both_add_up(devices: list[tuple[int, int]]) -> None:
    tree = spec(openings__D1__items={})
    for number, (asked, tenths) in enumerate(devices):
        power = {"poe_class": asked, "power": f"{tenths / 10} W"}
        tree["products"][f"p{number}"] = {"kind": "camera", "inputs": {"poe": power}}
        item = {"product": f"p{number}", "fed_from": "sw", "cable": "cat6", "length": "30 m"}
        tree["openings"]["D1"]["items"][f"i{number}"] = item
    context = reviewed(tree, Rulebook()).context
    assert context is not None
    (source,) = context.poe.sources
    by_class = context.poe.allotted(source, "by_class").total_w
    by_use = context.poe.allotted(source, "by_use").total_w
    assert by_class == sum(Fraction(str({1: 4, 2: 7, 3: 15.4, 4: 30}[asked])) for asked, _ in devices)
    assert by_use is not None
    assert sum(Fraction(tenths, 10) for _, tenths in devices) <= by_use <= by_class


def test_a_370_w_switch_sets_aside_for_twelve_class_4_devices() -> None:
    """Arithmetic on the 30 W of class 4 (IEEE 802.3): 12 x 30 = 360 W fit 370 W, 13 do not."""
    for count, kind in ((12, Kind.PASS), (13, Kind.FAIL)):
        tree = spec(power__sw__budget="370 W", power__sw__ports=24, products__rc__inputs__poe__poe_class=4)
        item = tree["openings"]["D1"]["items"]["rc"]
        tree["openings"]["D1"]["items"] = {f"rc{n}": item for n in range(count)}
        assert outcome(reviewed(tree), "poe/budget-exceeded").kind is kind


# -- repairs ---------------------------------------------------------------------------------------


def test_ids_read_back_as_text() -> None:
    for name in ("cat6", "sw-1", "18/2", "6", "psu-24.1", "on-1"):
        assert yaml.safe_load(quoted(name)) == name


CURES: list[tuple[str, dict[str, Any]]] = [
    (
        "poe/class-below-request",
        {"products__rc__inputs__poe__poe_class": 4, "power__sw__standard": "802.3af", "power__sw__port_class": 3},
    ),
    ("poe/budget-exceeded", {"power__sw__budget": "15 W"}),
    ("poe/channel-too-long", {"openings__D1__items__rc__length": "130 m"}),
    (
        "poe/draw-above-available-power",
        {
            "products__rc__inputs__poe__power": "2.9 W",
            "cables__cat6__material": "copper_clad_aluminium",
            "cables__cat6__conductor": "28 AWG",
            "openings__D1__items__rc__length": "95 m",
        },
    ),
    (
        "poe/draw-above-available-power",
        {
            "products__lock__coil__current": "1 A",
            "power__psu": {"kind": "power_supply", "supply": "dc", "voltage": "12 V +-2 %"},
        },
    ),
    ("poe/power-lost-on-restart", {"power__sw__keeps_power_on_restart": False}),
    ("poe/standby-below-requirement", {"power__ups__backup": "2 h"}),
    (
        "poe/cable-not-for-network",
        {
            "cables__cca": {"kind": "category", "material": "copper_clad_aluminium"},
            "openings__D1__items__rc__cable": "cca",
        },
    ),
    (
        "poe/fire-release-through-software",
        {
            "products__lock__kind": "electromagnetic_lock",
            "products__fa": {"kind": "fire_alarm_relay", "contacts": {"relay": {"form": "spdt"}}},
            "openings__D1__items__alarm": {"product": "fa"},
        },
    ),
]


@pytest.mark.parametrize(("rule", "changed"), CURES, ids=[rule for rule, _ in CURES])
def test_each_finding_has_a_repair_that_takes_it_away(rule: str, changed: dict[str, Any]) -> None:
    """The change is made in the text itself, and the text reviewed anew: the finding is gone, no error has come."""
    result = reviewed(spec(**changed))
    found = next(o for o in result.outcomes if o.rule == rule and o.kind is Kind.FAIL)
    assert found.repairs
    cured = 0
    for repair in found.repairs:
        text = result.documents["case.yaml"].text
        for change in sorted(repair.changes, key=lambda c: -result.region(c.place).start):
            region = result.region(change.place)
            if change.key:
                line = text.rfind("\n", 0, region.start) + 1
                indent = " " * (region.start - line)
                text = f"{text[: region.start]}{change.key}: {change.text}\n{indent}{text[region.start :]}"
            else:
                text = f"{text[: region.start]}{change.text}{text[region.end :]}"
        again = review_text(text, "case.yaml", rulebook=BOOK)
        errors = {o.rule for o in again.outcomes if o.kind is Kind.FAIL}
        before = {o.rule for o in result.outcomes if o.kind is Kind.FAIL}
        cured += not any(o.rule == rule and o.kind is Kind.FAIL for o in again.outcomes) and errors <= before
    assert cured


def test_the_release_of_a_lock_is_marked_as_touching_life_safety() -> None:
    result = reviewed(spec(**CURES[-1][1]))
    found = next(o for o in result.outcomes if o.rule == CURES[-1][0] and o.kind is Kind.FAIL)
    assert all(repair.life_safety for repair in found.repairs)


# -- bad input -------------------------------------------------------------------------------------


def paths(tree: Any, way: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found = []
    if isinstance(tree, dict):
        for key, value in tree.items():
            found += [(*way, key), *paths(value, (*way, key))]
    return found


BAD: tuple[Any, ...] = (
    "0 W",
    "0 A",
    "0 V",
    "0 ohm",
    "0 m",
    "0 %",
    "150 %",
    "unknown",
    0,
    -1,
    "-5 W",
    "1e9 W",
    "sw",
    "rc.lock",
    [],
    {},
)
PATHS = [path for path in paths(yaml.safe_load(BASE)) if path[0] not in ("doorlint", "project")]


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(PATHS), st.sampled_from((None, *BAD))), min_size=1, max_size=3))
def test_no_bad_input_breaks_a_rule_or_a_schedule(changes: list[tuple[tuple[str, ...], Any]]) -> None:
    tree = yaml.safe_load(BASE)
    for path, value in changes:
        here = tree
        for key in path[:-1]:
            here = here.get(key) if isinstance(here, dict) else None
        if isinstance(here, dict) and path[-1] in here:
            if value is None:
                del here[path[-1]]
            else:
                here[path[-1]] = value
    result = reviewed(tree)
    broken = [o.message for o in result.outcomes if o.rule == "rulebook/rule-broke"]
    assert broken == []
    for found in result.outcomes:
        for measure in (found.measured, found.limit):
            assert measure is None or math.isfinite(measure.value)
    text = "\n".join(poe_lines(result))
    assert "nan" not in text.lower().split()


def test_extenders_that_feed_each_other_are_a_finding_and_no_crash() -> None:
    tree = chain("2 W", "5 W", 10, 10)
    tree["openings"]["D1"]["items"]["extender"]["fed_from"] = "rc2"
    tree["products"]["rc2"] = tree["products"]["extender"]
    tree["openings"]["D1"]["items"]["rc2"] = {
        "product": "rc2",
        "fed_from": "extender",
        "cable": "cat6",
        "length": "5 m",
    }
    result = reviewed(tree)
    assert "wiring/feed-loop" in {o.rule for o in result.outcomes}
    assert not [o for o in result.outcomes if o.rule == "rulebook/rule-broke"]
    assert poe_lines(result)
